/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a ray to its path: the rooms, openings and nets it crosses, and whether a lamp or a card is
 * in front of its end. */
#include "picture/view/ray_paths.h"

#include <math.h>
#include <string.h>

#define CARD_SLACK_M 1e-3 /* [m] a card on a wall is in front of it */

vs_vec3 vs_ray_paths_direction(const vs_view *view, double x, double y) {
    vs_vec3 direction = vs_vec3_along(view->forward, view->right, x * view->half_width);
    return vs_vec3_along(direction, view->up, y * view->half_height);
}

static vs_ray_path_plane plane_of(vs_vec3 normal, vs_vec3 p_m) {
    vs_ray_path_plane plane = {normal, vs_vec3_dot(normal, p_m)};
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

static void cross(vs_ray_path *path, const vs_space *space, const vs_camera_ray *ray, double at_m,
                  size_t before, size_t after) {
    size_t index;
    const vs_rect *rect;
    double transmittance;
    if (path->crossing_count < VS_RAY_PATH_CROSSINGS_MAX &&
        crossing_at(space, vs_camera_ray_point(ray, at_m), before, after, &index, &rect,
                    &transmittance)) {
        path->crossing[path->crossing_count] = index;
        path->at[path->crossing_count] = plane_of(rect->normal, rect->center_m);
        path->open *= transmittance;
        path->room[++path->crossing_count] = after;
    }
}

/* Crossings up to a distance. */
static void follow(vs_ray_path *path, const vs_space *space, const vs_camera_ray *ray,
                   double to_m) {
    path->open = 1;
    path->room[0] = ray->segment_count > 0 ? ray->segment[0].room : VS_SPACE_OUTSIDE;
    for (size_t i = 1; i < ray->segment_count && ray->segment[i].from_m < to_m; i++) {
        cross(path, space, ray, ray->segment[i].from_m, ray->segment[i - 1].room,
              ray->segment[i].room);
    }
}

static void end_at_wall(const vs_ray_paths *paths, const vs_camera_ray *ray, vs_ray_path *path) {
    vs_vec3 p_m = vs_camera_ray_point(ray, ray->length_m);
    path->end = VS_RAY_PATH_WALL;
    path->index = ray->end_index;
    if (path->index == VS_SPACE_OUTSIDE) {
        path->normal = vs_vec3_scale(ray->direction, -1);
    } else {
        path->side = vs_scene_geometry_face(paths->geometry, path->index, p_m, &path->normal);
        path->reflectance =
            paths->geometry->face_reflectance[path->index * VS_FACE_COUNT + (size_t)path->side];
    }
    path->at[path->crossing_count] = plane_of(path->normal, p_m);
}

static void end_at_blocker(const vs_ray_paths *paths, const vs_camera_ray *ray, vs_ray_path *path) {
    const vs_rect *rect = &paths->geometry->blocker[ray->end_index].rect;
    bool front = vs_vec3_dot(rect->normal, ray->direction) < 0;
    path->end = VS_RAY_PATH_BLOCKER;
    path->index = ray->end_index;
    path->side = front;
    path->normal = front ? rect->normal : vs_vec3_scale(rect->normal, -1);
    path->reflectance = paths->geometry->blocker_reflectance[ray->end_index];
    path->at[path->crossing_count] = plane_of(rect->normal, rect->center_m);
}

static void end_outside(const vs_ray_paths *paths, const vs_camera_ray *ray, vs_ray_path *path) {
    const vs_rect *rect = &paths->geometry->opening[ray->end_index].rect;
    path->end = VS_RAY_PATH_OUTSIDE;
    path->far = true;
    path->index = ray->end_index;
    path->open *= paths->geometry->opening[ray->end_index].transmittance;
    path->normal = vs_vec3_scale(ray->direction, -1);
    path->at[path->crossing_count] = plane_of(rect->normal, rect->center_m);
}

static void end_at_body(const vs_ray_paths *paths, const vs_camera_ray *ray, size_t index,
                        double length_m, vs_ray_path *path) {
    const vs_body *body = &paths->bodies->item[index];
    follow(path, &paths->geometry->space, ray, length_m);
    if (length_m > ray->length_m && ray->end == VS_CAMERA_RAY_OUTSIDE) {
        size_t last = ray->segment[ray->segment_count - 1].room;
        cross(path, &paths->geometry->space, ray, ray->length_m, last, VS_SPACE_OUTSIDE);
    }
    path->end = VS_RAY_PATH_BODY;
    path->far = body->kind == VS_BODY_SUN;
    path->index = index;
    path->normal = body->normal;
    path->at[path->crossing_count] = plane_of(body->normal, body->at_m);
    /* a card seen from behind: its face sends nothing to the camera */
    path->side = vs_vec3_dot(body->normal, ray->direction) > 0;
    path->reflectance = path->side ? 0 : body->reflectance;
}

/* The nearest body before the end of a ray; bodies.count if there is none. */
static size_t nearest_body(const vs_ray_paths *paths, const vs_camera_ray *ray, double *length_m) {
    size_t best = paths->bodies->count;
    double end_m =
        ray->end == VS_CAMERA_RAY_OUTSIDE ? (double)INFINITY : ray->length_m + CARD_SLACK_M;
    for (size_t i = 0; i < paths->bodies->count; i++) {
        double at_m = vs_body_met_at(&paths->bodies->item[i], ray->at_m, ray->direction);
        if (at_m < end_m) {
            end_m = at_m;
            best = i;
        }
    }
    *length_m = end_m;
    return best;
}

static bool same_air(const vs_ray_path *a, const vs_ray_path *b) {
    return a->crossing_count == b->crossing_count && a->room[0] == b->room[0] &&
           memcmp(a->crossing, b->crossing, a->crossing_count * sizeof *a->crossing) == 0;
}

static bool same(const vs_ray_path *a, const vs_ray_path *b) {
    return a->end == b->end && a->index == b->index && a->side == b->side && same_air(a, b);
}

/* Walls of one room seen through the same openings adjoin without a step. */
static bool same_group(const vs_ray_path *a, const vs_ray_path *b) {
    bool end =
        a->end == b->end && a->index == b->index && (a->end == VS_RAY_PATH_WALL || same(a, b));
    return end && same_air(a, b);
}

static size_t keep(vs_ray_paths *paths, const vs_ray_path *path) {
    if (paths->count == VS_RAY_PATHS_MAX) {
        return VS_RAY_PATHS_MAX;
    }
    size_t place = paths->count++;
    paths->item[place] = *path;
    paths->item[place].group = paths->item[place].air = (uint16_t)place;
    for (size_t i = place; i-- > 0;) { /* numbered by the first of its group */
        if (same_group(path, &paths->item[i])) {
            paths->item[place].group = paths->item[i].group;
        }
        if (same_air(path, &paths->item[i])) {
            paths->item[place].air = paths->item[i].air;
        }
    }
    return place;
}

static vs_ray_path follow_ray(const vs_ray_paths *paths, vs_vec3 direction) {
    vs_vec3 unit = vs_vec3_unit(direction);
    vs_camera_ray ray = vs_camera_ray_along(&paths->clear, paths->view.at_m, unit, INFINITY);
    double length_m;
    size_t body = nearest_body(paths, &ray, &length_m);
    vs_ray_path path = {0};
    if (body < paths->bodies->count) {
        end_at_body(paths, &ray, body, length_m, &path);
    } else {
        follow(&path, &paths->geometry->space, &ray, INFINITY);
        if (ray.end == VS_CAMERA_RAY_AT_BLOCKER) {
            end_at_blocker(paths, &ray, &path);
        } else if (ray.end == VS_CAMERA_RAY_OUTSIDE) {
            end_outside(paths, &ray, &path);
        } else {
            end_at_wall(paths, &ray, &path);
        }
    }
    return path;
}

static size_t place_of(const vs_ray_paths *paths, const vs_ray_path *path) {
    size_t i = 0;
    while (i < paths->count && !same(path, &paths->item[i])) {
        i++;
    }
    return i;
}

size_t vs_ray_paths_find(vs_ray_paths *paths, vs_vec3 direction) {
    vs_ray_path path = follow_ray(paths, direction);
    size_t i = place_of(paths, &path);
    return i < paths->count ? i : keep(paths, &path);
}

size_t vs_ray_paths_known(const vs_ray_paths *paths, vs_vec3 direction) {
    vs_ray_path path = follow_ray(paths, direction);
    size_t i = place_of(paths, &path);
    return i < paths->count ? i : VS_RAY_PATHS_MAX;
}
