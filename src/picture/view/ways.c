/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a ray to its way: the ray's path through the rooms, the openings and nets it crosses, and
 * whether a lamp or a card is in front of its end. */
#include "picture/view/ways.h"

#include <math.h>
#include <string.h>

#define CARD_SLACK_M 1e-3 /* [m] a card on a wall is in front of it */

vs_vec3 vs_ways_direction(const vs_view *view, double x, double y) {
    vs_vec3 way = vs_vec3_along(view->forward, view->right, x * view->half_width);
    return vs_vec3_along(way, view->up, y * view->half_height);
}

static vs_way_plane plane_of(vs_vec3 normal, vs_vec3 p_m) {
    vs_way_plane plane = {normal, vs_vec3_dot(normal, p_m)};
    return plane;
}

/* The opening or net at a place on a ray; false if there is none. */
static bool crossing_at(const vs_space *space, vs_vec3 p_m, size_t before, size_t after,
                        size_t *index, const vs_rect **rect, double *transmittance) {
    for (size_t i = 0; i < space->opening_count && before != after; i++) {
        const vs_opening *p = &space->opening[i];
        if (vs_rect_holds(&p->rect, p_m) && vs_opening_joins(p, before)) {
            *index = i;
            *rect = &p->rect;
            *transmittance = p->transmittance;
            return true;
        }
    }
    for (size_t i = 0; i < space->blocker_count; i++) {
        const vs_blocker *s = &space->blocker[i];
        if (s->transmittance > 0 && vs_rect_holds(&s->rect, p_m)) {
            *index = space->opening_count + i;
            *rect = &s->rect;
            *transmittance = s->transmittance;
            return true;
        }
    }
    return false;
}

static void cross(vs_way *way, const vs_space *space, const vs_camera_ray *ray, double at_m,
                  size_t before, size_t after) {
    size_t index;
    const vs_rect *rect;
    double transmittance;
    if (way->crossing_count < VS_WAY_CROSSINGS_MAX &&
        crossing_at(space, vs_camera_ray_point(ray, at_m), before, after, &index, &rect,
                    &transmittance)) {
        way->crossing[way->crossing_count] = index;
        way->at[way->crossing_count] = plane_of(rect->normal, rect->center_m);
        way->open *= transmittance;
        way->room[++way->crossing_count] = after;
    }
}

/* Crossings up to a distance. */
static void follow(vs_way *way, const vs_space *space, const vs_camera_ray *ray, double to_m) {
    way->open = 1;
    way->room[0] = ray->segment_count > 0 ? ray->segment[0].room : VS_SPACE_OUTSIDE;
    for (size_t i = 1; i < ray->segment_count && ray->segment[i].from_m < to_m; i++) {
        cross(way, space, ray, ray->segment[i].from_m, ray->segment[i - 1].room,
              ray->segment[i].room);
    }
}

static void end_at_wall(const vs_ways *ways, const vs_camera_ray *ray, vs_way *way) {
    vs_vec3 p_m = vs_camera_ray_point(ray, ray->length_m);
    way->end = VS_WAY_WALL;
    way->index = ray->end_index;
    if (way->index == VS_SPACE_OUTSIDE) {
        way->normal = vs_vec3_scale(ray->direction, -1);
    } else {
        way->side = vs_scene_geometry_face(ways->geometry, way->index, p_m, &way->normal);
        way->reflectance =
            ways->geometry->face_reflectance[way->index * VS_FACE_COUNT + (size_t)way->side];
    }
    way->at[way->crossing_count] = plane_of(way->normal, p_m);
}

static void end_at_blocker(const vs_ways *ways, const vs_camera_ray *ray, vs_way *way) {
    const vs_rect *rect = &ways->geometry->blocker[ray->end_index].rect;
    bool front = vs_vec3_dot(rect->normal, ray->direction) < 0;
    way->end = VS_WAY_BLOCKER;
    way->index = ray->end_index;
    way->side = front;
    way->normal = front ? rect->normal : vs_vec3_scale(rect->normal, -1);
    way->reflectance = ways->geometry->blocker_reflectance[ray->end_index];
    way->at[way->crossing_count] = plane_of(rect->normal, rect->center_m);
}

static void end_outside(const vs_ways *ways, const vs_camera_ray *ray, vs_way *way) {
    const vs_rect *rect = &ways->geometry->opening[ray->end_index].rect;
    way->end = VS_WAY_OUTSIDE;
    way->far = true;
    way->index = ray->end_index;
    way->open *= ways->geometry->opening[ray->end_index].transmittance;
    way->normal = vs_vec3_scale(ray->direction, -1);
    way->at[way->crossing_count] = plane_of(rect->normal, rect->center_m);
}

static void end_at_body(const vs_ways *ways, const vs_camera_ray *ray, size_t index,
                        double length_m, vs_way *way) {
    const vs_body *body = &ways->bodies->item[index];
    follow(way, &ways->geometry->space, ray, length_m);
    if (length_m > ray->length_m && ray->end == VS_CAMERA_RAY_OUTSIDE) {
        size_t last = ray->segment[ray->segment_count - 1].room;
        cross(way, &ways->geometry->space, ray, ray->length_m, last, VS_SPACE_OUTSIDE);
    }
    way->end = VS_WAY_BODY;
    way->far = body->kind == VS_BODY_SUN;
    way->index = index;
    way->normal = body->normal;
    way->at[way->crossing_count] = plane_of(body->normal, body->at_m);
    /* a card seen from behind: its face sends nothing to the camera */
    way->side = vs_vec3_dot(body->normal, ray->direction) > 0;
    way->reflectance = way->side ? 0 : body->reflectance;
}

/* The nearest body before the end of a ray; bodies.count if there is none. */
static size_t nearest_body(const vs_ways *ways, const vs_camera_ray *ray, double *length_m) {
    size_t best = ways->bodies->count;
    double end_m =
        ray->end == VS_CAMERA_RAY_OUTSIDE ? (double)INFINITY : ray->length_m + CARD_SLACK_M;
    for (size_t i = 0; i < ways->bodies->count; i++) {
        double at_m = vs_body_met_at(&ways->bodies->item[i], ray->at_m, ray->direction);
        if (at_m < end_m) {
            end_m = at_m;
            best = i;
        }
    }
    *length_m = end_m;
    return best;
}

static bool same_air(const vs_way *a, const vs_way *b) {
    return a->crossing_count == b->crossing_count && a->room[0] == b->room[0] &&
           memcmp(a->crossing, b->crossing, a->crossing_count * sizeof *a->crossing) == 0;
}

static bool same(const vs_way *a, const vs_way *b) {
    return a->end == b->end && a->index == b->index && a->side == b->side && same_air(a, b);
}

/* Walls of one room seen through the same openings adjoin without a step. */
static bool same_group(const vs_way *a, const vs_way *b) {
    bool end = a->end == b->end && a->index == b->index && (a->end == VS_WAY_WALL || same(a, b));
    return end && same_air(a, b);
}

static size_t keep(vs_ways *ways, const vs_way *way) {
    if (ways->count == VS_WAYS_MAX) {
        return VS_WAYS_MAX;
    }
    size_t place = ways->count++;
    ways->item[place] = *way;
    ways->item[place].group = ways->item[place].air = (uint16_t)place;
    for (size_t i = place; i-- > 0;) { /* numbered by the first of its group */
        if (same_group(way, &ways->item[i])) {
            ways->item[place].group = ways->item[i].group;
        }
        if (same_air(way, &ways->item[i])) {
            ways->item[place].air = ways->item[i].air;
        }
    }
    return place;
}

static vs_way follow_ray(const vs_ways *ways, vs_vec3 direction) {
    vs_vec3 unit = vs_vec3_unit(direction);
    vs_camera_ray ray = vs_camera_ray_along(&ways->clear, ways->view.at_m, unit, INFINITY);
    double length_m;
    size_t body = nearest_body(ways, &ray, &length_m);
    vs_way way = {0};
    if (body < ways->bodies->count) {
        end_at_body(ways, &ray, body, length_m, &way);
    } else {
        follow(&way, &ways->geometry->space, &ray, INFINITY);
        if (ray.end == VS_CAMERA_RAY_AT_BLOCKER) {
            end_at_blocker(ways, &ray, &way);
        } else if (ray.end == VS_CAMERA_RAY_OUTSIDE) {
            end_outside(ways, &ray, &way);
        } else {
            end_at_wall(ways, &ray, &way);
        }
    }
    return way;
}

static size_t place_of(const vs_ways *ways, const vs_way *way) {
    size_t i = 0;
    while (i < ways->count && !same(way, &ways->item[i])) {
        i++;
    }
    return i;
}

size_t vs_ways_find(vs_ways *ways, vs_vec3 direction) {
    vs_way way = follow_ray(ways, direction);
    size_t i = place_of(ways, &way);
    return i < ways->count ? i : keep(ways, &way);
}

size_t vs_ways_known(const vs_ways *ways, vs_vec3 direction) {
    vs_way way = follow_ray(ways, direction);
    size_t i = place_of(ways, &way);
    return i < ways->count ? i : VS_WAYS_MAX;
}
