/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ray casting: the next event on a straight line. In a room only its own walls can be met, and
 * blockers before them.
 * Source: Kay & Kajiya 1986, Comput. Graph. 20, 269 (slabs). */
#include "light/geometry/ray_casting.h"

#include <math.h>

/* The face of a box nearest to a point on it. */
static int face_at(const vs_box *box, vs_vec3 p_m) {
    int nearest = 0;
    double least_m = INFINITY;
    for (int face = 0; face < VS_SURFACE_FACES; face++) {
        double wall_m = vs_vec3_component(face % 2 ? box->high_m : box->low_m, face / 2);
        double off_m = fabs(vs_vec3_component(p_m, face / 2) - wall_m);
        nearest = off_m < least_m ? face : nearest;
        least_m = fmin(off_m, least_m);
    }
    return nearest;
}

/* Outside: the nearest wall, if any; only an opening lets the ray in. */
static vs_ray_event segment_outside(const vs_space *space, vs_vec3 at_m, vs_vec3 direction) {
    vs_ray_event next = {VS_RAY_MEETS_NOTHING, 1e9, 0, 0};
    for (size_t r = 0; r < space->room_count; r++) {
        double enter, leave;
        vs_vec3 far_m = vs_vec3_along(at_m, direction, 1e6);
        if (!vs_space_interval_in_room(space, r, at_m, far_m, &enter, &leave) || enter <= 0 ||
            enter * 1e6 >= next.length_m || (leave - enter) * 1e6 < VS_SPACE_SKIN_M) {
            continue;
        }
        vs_vec3 p_m = vs_vec3_along(at_m, direction, enter * 1e6);
        size_t opening = vs_space_opening_at(space, r, face_at(&space->room[r], p_m), p_m);
        next.length_m = enter * 1e6;
        next.end = opening == VS_SPACE_OUTSIDE ? VS_RAY_MEETS_NOTHING : VS_RAY_MEETS_OPENING;
        next.index = opening;
    }
    return next;
}

/* Whether the line passes a rectangle by farther than its corners reach: with many of them most are
 * passed by, and this takes no division. */
static bool is_passed_by(const vs_rect *rect, vs_vec3 to_center_m, vs_vec3 direction) {
    double reach_m = rect->half_u_m + rect->half_v_m + VS_SPACE_SKIN_M;
    double along_m = vs_vec3_dot(to_center_m, direction);
    return vs_vec3_dot(to_center_m, to_center_m) - along_m * along_m > reach_m * reach_m ||
           along_m < -reach_m;
}

/* Whether the line meets a rectangle within a length; brings that to where. */
static bool is_pierced(const vs_rect *rect, vs_vec3 at_m, vs_vec3 direction, double *length_m) {
    vs_vec3 to_center_m = vs_vec3_sub(rect->center_m, at_m);
    if (is_passed_by(rect, to_center_m, direction)) {
        return false;
    }
    double slope = vs_vec3_dot(direction, rect->normal);
    double off_m = vs_vec3_dot(to_center_m, rect->normal);
    double t = slope != 0 ? off_m / slope : 0;
    if (!(t > VS_SPACE_SKIN_M && t < *length_m) ||
        !vs_rect_holds(rect, vs_vec3_along(at_m, direction, t))) {
        return false;
    }
    *length_m = t;
    return true;
}

vs_ray_event vs_ray_next_event(const vs_space *space, vs_vec3 at_m, vs_vec3 direction,
                               size_t room) {
    vs_ray_event next = {VS_RAY_MEETS_WALL, 0, 0, 0};
    if (room == VS_SPACE_OUTSIDE) {
        next = segment_outside(space, at_m, direction);
    } else {
        next.face = vs_surfaces_way_out(&space->room[room], at_m, direction, &next.length_m);
    }
    double wall_m = next.length_m;
    for (size_t i = 0; i < space->blocker_count; i++) {
        if (is_pierced(&space->blocker[i].rect, at_m, direction, &next.length_m)) {
            next.end = VS_RAY_MEETS_BLOCKER;
            next.index = i;
        }
    }
    if (room != VS_SPACE_OUTSIDE && next.length_m == wall_m) {
        size_t opening =
            vs_space_opening_at(space, room, next.face, vs_vec3_along(at_m, direction, wall_m));
        if (opening != VS_SPACE_OUTSIDE) {
            next.end = VS_RAY_MEETS_OPENING;
            next.index = opening;
        }
    }
    return next;
}
