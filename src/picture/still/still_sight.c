/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The line of sight of one pixel: what it ends on, and the haze before it. */
#include "picture/still/still_kept.h"

#include <math.h>

/* Walls of one room adjoin without a step and count as one thing; openings' rims and blockers do
 * not. */
static uint32_t thing_of(const vs_camera_ray *ray) {
    static const uint32_t kind[] = {[VS_CAMERA_RAY_AT_POINT] = 0,
                                    [VS_CAMERA_RAY_AT_WALL] = 1u << 28,
                                    [VS_CAMERA_RAY_AT_BLOCKER] = 2u << 28,
                                    [VS_CAMERA_RAY_OUTSIDE] = 3u << 28};
    return kind[ray->end] + (uint32_t)ray->end_index;
}

vs_still_sight vs_still_sight_along(const vs_still_kept *k, vs_vec3 direction) {
    vs_camera_ray ray =
        vs_camera_ray_along(&k->medium, k->view.at_m, vs_vec3_unit(direction), INFINITY);
    vs_still_sight s = {.thing = thing_of(&ray),
                        .length_m = (float)ray.length_m,
                        .first_m = (float)ray.length_m,
                        .first_depth = (float)ray.depth,
                        .depth = (float)ray.depth};
    for (size_t i = 1; i < ray.segment_count; i++) {
        if (ray.segment[i].room != ray.segment[0].room) {
            s.first_m = (float)ray.segment[i].from_m;
            s.first_depth = (float)ray.segment[i].depth;
            break;
        }
    }
    return s;
}
