/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Intersections of segments with boxes and rectangles. A wall is a face of a room's box; a path may
 * leave a box only through an opening. Source: Kay & Kajiya 1986, Comput. Graph. 20, 269
 * (slabs). */
#include "veilstop/light/space.h"

#include "base/sorted.h"

/* [1] sin 1 degree: the bound for "vertical" of docs/scene.md */
#define VERTICAL_SINE 0.0174524064372835

vs_rect vs_rect_facing(vs_vec3 at_m, vs_vec3 aim_m, double width_m, double height_m) {
    vs_rect rect;
    const vs_vec3 up = {0, 0, 1}, east = {1, 0, 0};
    rect.center_m = at_m;
    rect.normal = vs_vec3_unit(vs_vec3_sub(aim_m, at_m));
    vs_vec3 level = vs_vec3_cross(up, rect.normal);
    if (vs_vec3_length(level) < VERTICAL_SINE) {
        /* east, made perpendicular to an aim that may not be exactly vertical */
        level = vs_vec3_along(east, rect.normal, -rect.normal.x);
    }
    rect.u = vs_vec3_unit(level);
    rect.v = vs_vec3_cross(rect.normal, rect.u);
    rect.half_u_m = width_m / 2;
    rect.half_v_m = height_m / 2;
    return rect;
}

vs_rect vs_rect_on_wall(vs_vec3 corner_m, vs_vec3 opposite_m) {
    const vs_vec3 x = {1, 0, 0}, y = {0, 1, 0}, z = {0, 0, 1};
    vs_vec3 span = vs_vec3_sub(opposite_m, corner_m);
    double ax = fabs(span.x), ay = fabs(span.y), az = fabs(span.z);
    vs_vec3 center_m = vs_vec3_along(corner_m, span, 0.5);
    if (ax <= ay && ax <= az) {
        vs_rect rect = {center_m, y, z, x, ay / 2, az / 2};
        return rect;
    }
    if (ay <= az) {
        vs_rect rect = {center_m, z, x, y, az / 2, ax / 2};
        return rect;
    }
    vs_rect rect = {center_m, x, y, z, ax / 2, ay / 2};
    return rect;
}

void vs_rect_corners(const vs_rect *rect, vs_vec3 corner[4]) {
    static const double sign_u[4] = {-1, 1, 1, -1}, sign_v[4] = {-1, -1, 1, 1};
    for (int i = 0; i < 4; i++) {
        vs_vec3 side = vs_vec3_along(rect->center_m, rect->u, sign_u[i] * rect->half_u_m);
        corner[i] = vs_vec3_along(side, rect->v, sign_v[i] * rect->half_v_m);
    }
}

/* Whether p, in or near the rectangle's plane, is within its sides. */
static bool within_sides(const vs_rect *rect, vs_vec3 p) {
    vs_vec3 d = vs_vec3_sub(p, rect->center_m);
    return fabs(vs_vec3_dot(d, rect->u)) <= rect->half_u_m &&
           fabs(vs_vec3_dot(d, rect->v)) <= rect->half_v_m;
}

bool vs_rect_holds(const vs_rect *rect, vs_vec3 p) {
    double off_m = vs_vec3_dot(vs_vec3_sub(p, rect->center_m), rect->normal);
    return fabs(off_m) <= VS_SPACE_SKIN_M && within_sides(rect, p);
}

double vs_rect_pierced_at(const vs_rect *rect, vs_vec3 at, vs_vec3 direction, bool *inside) {
    double slope = vs_vec3_dot(direction, rect->normal);
    *inside = false;
    if (slope == 0) {
        return NAN;
    }
    double t = vs_vec3_dot(vs_vec3_sub(rect->center_m, at), rect->normal) / slope;
    *inside = within_sides(rect, vs_vec3_along(at, direction, t));
    return t;
}

static bool in_grown_box(const vs_box *box, vs_vec3 p, double by_m) {
    return p.x >= box->low_m.x - by_m && p.x <= box->high_m.x + by_m &&
           p.y >= box->low_m.y - by_m && p.y <= box->high_m.y + by_m &&
           p.z >= box->low_m.z - by_m && p.z <= box->high_m.z + by_m;
}

size_t vs_space_room_at(const vs_space *space, vs_vec3 p) {
    for (size_t r = 0; r < space->room_count; r++) {
        if (in_grown_box(&space->room[r], p, 0)) {
            return r;
        }
    }
    for (size_t r = 0; r < space->room_count; r++) {
        if (in_grown_box(&space->room[r], p, VS_SPACE_SKIN_M)) {
            return r;
        }
    }
    return VS_SPACE_OUTSIDE;
}

/* The part of a segment inside one pair of parallel planes narrows [*enter, *leave]; false if there
 * is none. Most rooms are missed, which is found without a division. */
static bool clip_slab(double from, double step, double low, double high, double *enter,
                      double *leave) {
    double to = from + step;
    if ((from < low && to < low) || (from > high && to > high)) {
        return false;
    }
    if (step != 0) {
        double first = ((step > 0 ? low : high) - from) / step;
        double second = ((step > 0 ? high : low) - from) / step;
        *enter = first > *enter ? first : *enter;
        *leave = second < *leave ? second : *leave;
    }
    return *enter < *leave;
}

/* Fractions of the segment a + t step, 0 <= t <= 1, inside the box; false where there is none. */
static bool clip_box(const vs_box *box, vs_vec3 a, vs_vec3 step, double *enter, double *leave) {
    *enter = 0;
    *leave = 1;
    return clip_slab(a.x, step.x, box->low_m.x, box->high_m.x, enter, leave) &&
           clip_slab(a.y, step.y, box->low_m.y, box->high_m.y, enter, leave) &&
           clip_slab(a.z, step.z, box->low_m.z, box->high_m.z, enter, leave);
}

bool vs_space_interval_in_room(const vs_space *space, size_t r, vs_vec3 a, vs_vec3 b, double *enter,
                               double *leave) {
    return clip_box(&space->room[r], a, vs_vec3_sub(b, a), enter, leave);
}

/* A segment that only grazes a box from outside, within the skin, does not enter it. */
static bool enters_box(const vs_box *box, vs_vec3 a, vs_vec3 step) {
    const vs_vec3 skin = {VS_SPACE_SKIN_M, VS_SPACE_SKIN_M, VS_SPACE_SKIN_M};
    vs_box core = {vs_vec3_add(box->low_m, skin), vs_vec3_sub(box->high_m, skin)};
    double enter, leave;
    return clip_box(&core, a, step, &enter, &leave);
}

size_t vs_space_opening_at(const vs_space *space, size_t r, int face, vs_vec3 p) {
    for (size_t i = 0; i < space->opening_count; i++) {
        const vs_opening *opening = &space->opening[i];
        bool in_wall = face == VS_SPACE_ANY_WALL ||
                       fabs(vs_vec3_component(opening->rect.normal, face / 2)) >= 0.5;
        if (in_wall && vs_opening_joins(opening, r) && vs_rect_holds(&opening->rect, p)) {
            return i;
        }
    }
    return VS_SPACE_OUTSIDE;
}

/* Whether the wall of room r is open at p. */
static bool wall_open(const vs_space *space, size_t r, vs_vec3 p) {
    return vs_space_opening_at(space, r, VS_SPACE_ANY_WALL, p) != VS_SPACE_OUTSIDE;
}

/* Whether every wall that the segment meets is open there. */
static bool walls_open(const vs_space *space, vs_vec3 a, vs_vec3 b) {
    vs_vec3 step = vs_vec3_sub(b, a);
    for (size_t r = 0; r < space->room_count; r++) {
        const vs_box *box = &space->room[r];
        bool starts = in_grown_box(box, a, VS_SPACE_SKIN_M);
        bool ends = in_grown_box(box, b, VS_SPACE_SKIN_M);
        if ((starts && ends) || !enters_box(box, a, step)) {
            continue;
        }
        double enter, leave;
        clip_box(box, a, step, &enter, &leave);
        if (!starts && !wall_open(space, r, vs_vec3_along(a, step, enter))) {
            return false;
        }
        if (!ends && !wall_open(space, r, vs_vec3_along(a, step, leave))) {
            return false;
        }
    }
    return true;
}

/* Whether the segment crosses the rectangle away from the segment's ends; *t: fraction of its
 * length. */
static bool crosses(const vs_rect *rect, vs_vec3 a, vs_vec3 b, double *t) {
    double before_m = vs_vec3_dot(vs_vec3_sub(a, rect->center_m), rect->normal);
    double after_m = vs_vec3_dot(vs_vec3_sub(b, rect->center_m), rect->normal);
    if (before_m * after_m >= 0 || fabs(before_m) <= VS_SPACE_SKIN_M ||
        fabs(after_m) <= VS_SPACE_SKIN_M) {
        return false;
    }
    *t = before_m / (before_m - after_m);
    return within_sides(rect, vs_vec3_along(a, vs_vec3_sub(b, a), *t));
}

/* An opening crossed at a fraction of the segment. */
typedef struct {
    double at;
    size_t opening;
} crossing;

double vs_space_past_blockers(const vs_space *space, vs_vec3 a, vs_vec3 b) {
    double t, transmittance = 1;
    for (size_t i = 0; i < space->blocker_count && transmittance > 0; i++) {
        if (crosses(&space->blocker[i].rect, a, b, &t)) {
            transmittance *= space->blocker[i].transmittance;
        }
    }
    return transmittance;
}

vs_passage vs_space_passage(const vs_space *space, vs_vec3 a, vs_vec3 b) {
    vs_passage passage = {.transmittance = 0};
    crossing met[VS_SPACE_CROSSING_MAX];
    double t;
    if (!walls_open(space, a, b)) {
        return passage;
    }
    double transmittance = vs_space_past_blockers(space, a, b);
    for (size_t i = 0; i < space->opening_count && transmittance > 0; i++) {
        if (crosses(&space->opening[i].rect, a, b, &t)) {
            transmittance *= space->opening[i].transmittance;
            if (passage.opening_count == VS_SPACE_CROSSING_MAX) {
                return passage; /* more openings in a line than a building has: counts as blocked */
            }
            crossing *place = vs_sorted_place(met, passage.opening_count++, sizeof *met, t);
            *place = (crossing){t, i};
        }
    }
    for (size_t i = 0; i < passage.opening_count; i++) {
        passage.opening[i] = met[i].opening;
    }
    passage.transmittance = transmittance;
    return passage;
}

double vs_space_optical_depth(const vs_space *space, const double *room_extinction_per_m, vs_vec3 a,
                              vs_vec3 b) {
    double depth = 0, enter, leave;
    double length_m = vs_vec3_length(vs_vec3_sub(b, a));
    for (size_t r = 0; r < space->room_count; r++) {
        if (room_extinction_per_m[r] > 0 &&
            vs_space_interval_in_room(space, r, a, b, &enter, &leave)) {
            depth += room_extinction_per_m[r] * (leave - enter) * length_m;
        }
    }
    return depth;
}
