/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See through_openings.h. */
#include "light/mesh/through_openings.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "light/geometry/ray_casting.h"

#define PART_SR      0.08 /* [sr] parts of openings are about as large; measured: docs/accuracy.md */
#define PARTS_A_SIDE 6

/* ---- paths through openings ---- */

/* A path through openings: to a patch behind them, and past the cells of air at each. */
typedef struct {
    size_t patch; /* VS_MESH_NONE: it leads outside */
    double open;  /* transmittance of openings and nets on it */
    size_t room_count;
    size_t room[VS_SPACE_CROSSING_MAX]; /* behind each opening */
    vs_vec3 door_m[VS_SPACE_CROSSING_MAX];
    double door_open[VS_SPACE_CROSSING_MAX]; /* transmittance so far */
    double length_m[VS_SPACE_CROSSING_MAX];  /* of the path in each room */
} path_through;

/* Notes that the path enters a room. False: too many openings in one line. */
static bool enter(path_through *out, size_t room, vs_vec3 door_m) {
    if (room == VS_SPACE_OUTSIDE || out->room_count == VS_SPACE_CROSSING_MAX) {
        return false;
    }
    out->room[out->room_count] = room;
    out->door_m[out->room_count] = door_m;
    out->door_open[out->room_count] = out->open;
    out->length_m[out->room_count++] = 0;
    return true;
}

/* The path on through an opening of a room at p. */
static void look_on(const vs_mesh *mesh, size_t room, size_t opening, vs_vec3 p_m,
                    vs_vec3 direction, path_through *out) {
    const vs_space *space = mesh->space;
    const path_through fresh = {.patch = VS_MESH_NONE, .open = 1};
    *out = fresh;
    for (;;) {
        out->open *= space->opening[opening].transmittance;
        room = vs_opening_beyond(&space->opening[opening], room);
        if (!enter(out, room, p_m)) {
            return;
        }
        vs_ray_event next = {VS_RAY_MEETS_BLOCKER, 0, 0, 0};
        while (next.end == VS_RAY_MEETS_BLOCKER) {
            next = vs_ray_next_event(space, p_m, direction, room);
            p_m = vs_vec3_along(p_m, direction, next.length_m);
            out->length_m[out->room_count - 1] += next.length_m;
            if (next.end != VS_RAY_MEETS_BLOCKER) {
                break;
            }
            const vs_blocker *blocker = &space->blocker[next.index];
            if (blocker->transmittance == 0) {
                bool front = vs_vec3_dot(direction, blocker->rect.normal) < 0;
                out->patch = vs_mesh_blocker_patch(mesh, next.index, front, p_m);
                return;
            }
            out->open *= blocker->transmittance;
        }
        if (next.end == VS_RAY_MEETS_WALL) {
            out->patch = vs_mesh_face_patch(mesh, room, next.face, p_m);
            return;
        }
        if (next.end == VS_RAY_MEETS_NOTHING) {
            return;
        }
        opening = next.index;
    }
}

/* Parts of an opening's patch, so many that none is large as seen from a place; shares of the
 * solid angle that sum to 1. */
typedef struct {
    size_t count;
    vs_vec3 at_m[PARTS_A_SIDE * PARTS_A_SIDE];
    double share[PARTS_A_SIDE * PARTS_A_SIDE];
} opening_parts;

static void find_parts(const vs_rect *opening, vs_vec3 from_m, opening_parts *parts) {
    vs_vec3 d = vs_vec3_sub(opening->center_m, from_m);
    double area_m2 = 4 * opening->half_u_m * opening->half_v_m, sum = 0;
    if (area_m2 <= vs_vec3_dot(d, d) * PART_SR) {
        parts->count = 1;
        parts->at_m[0] = opening->center_m;
        parts->share[0] = 1;
        return;
    }
    double a_side = ceil(sqrt(area_m2 / (vs_vec3_dot(d, d) * PART_SR)));
    size_t side = (size_t)fmin(fmax(a_side, 1), PARTS_A_SIDE);
    parts->count = side * side;
    for (size_t i = 0; i < parts->count; i++) {
        double u = 2 * ((double)(i % side) + 0.5) / (double)side - 1;
        double v = 2 * ((double)(i / side) + 0.5) / (double)side - 1;
        vs_vec3 p = vs_vec3_along(opening->center_m, opening->u, u * opening->half_u_m);
        p = vs_vec3_along(p, opening->v, v * opening->half_v_m);
        vs_vec3 direction = vs_vec3_sub(p, from_m);
        double square = vs_vec3_dot(direction, direction) + area_m2 / (4 * (double)parts->count);
        parts->at_m[i] = p;
        parts->share[i] = 1 / (square * sqrt(square));
        sum += parts->share[i];
    }
    for (size_t i = 0; i < parts->count; i++) {
        parts->share[i] /= sum;
    }
}

/* ---- what a row sees ---- */

static bool sees_the_same(const vs_row_through *a, const vs_row_through *b) {
    return a->side == b->side && a->seen == b->seen && a->room_count == b->room_count &&
           memcmp(a->room, b->room, a->room_count * sizeof *a->room) == 0;
}

/* Joins two that see the same into one between them. */
static void join(vs_row_through *all, const vs_row_through *one) {
    float share = one->weight / (all->weight + one->weight);
    all->weight += one->weight;
    for (uint32_t i = 0; i < all->room_count; i++) {
        all->length_m[i] += share * (one->length_m[i] - all->length_m[i]);
    }
    for (int n = 0; n < VS_SH_COUNT; n++) {
        all->harmonic[n] += share * (one->harmonic[n] - all->harmonic[n]);
    }
}

/* What is closed is not seen. */
static vs_status add_through(vs_throughs *all, const vs_row_through *through) {
    if (!(through->weight > 0)) {
        return VS_OK;
    }
    for (size_t i = all->count; i-- > 0 && all->item[i].row == through->row;) {
        if (sees_the_same(&all->item[i], through)) {
            join(&all->item[i], through);
            return VS_OK;
        }
    }
    vs_row_through *list = vs_growable_reserve(all->item, all->count, &all->size, sizeof *list);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    all->item = list;
    all->item[all->count++] = *through;
    return VS_OK;
}

/* What is seen from a place through a point of an opening. */
static vs_status see_past(const vs_mesh *mesh, vs_behind *behind, vs_row_through t, size_t opening,
                          vs_vec3 at_m, vs_vec3 direction) {
    path_through seen;
    float weight = t.weight;
    vs_status status = VS_OK;
    look_on(mesh, t.room[0], opening, at_m, direction, &seen);
    for (size_t i = 0;
         i < seen.room_count && t.room_count < VS_THROUGH_ROOMS_MAX && status == VS_OK; i++) {
        t.seen = (uint32_t)vs_mesh_cell(mesh, seen.room[i], seen.door_m[i]);
        t.weight = weight * (float)seen.door_open[i];
        status = add_through(&behind->air, &t);
        t.room[t.room_count] = (uint16_t)seen.room[i];
        t.length_m[t.room_count++] = (float)seen.length_m[i];
    }
    if (status == VS_OK && seen.patch != VS_MESH_NONE) {
        t.seen = (uint32_t)seen.patch;
        t.weight = weight * (float)seen.open;
        status = add_through(&behind->patches, &t);
    }
    return status;
}

vs_status vs_see_through(const vs_mesh *mesh, vs_behind *behind, size_t row, vs_vec3 from_m,
                         size_t opening, double weight) {
    const vs_patch *patch = &mesh->patch[opening];
    opening_parts parts;
    vs_status status = VS_OK;
    find_parts(&patch->rect, from_m, &parts);
    for (size_t i = 0; i < parts.count && status == VS_OK; i++) {
        vs_vec3 direction = vs_vec3_sub(parts.at_m[i], from_m);
        double length_m = vs_vec3_length(direction), y[VS_SH_COUNT];
        vs_row_through t = {.row = (uint32_t)row, .room_count = 1, .room = {(uint16_t)patch->room}};
        t.side = (uint32_t)vs_opening_side(mesh->space, patch->opening, patch->room);
        direction = vs_vec3_scale(direction, 1 / length_m);
        t.weight = (float)(weight * parts.share[i]);
        t.length_m[0] = (float)length_m;
        vs_sh(vs_vec3_scale(direction, -1), y);
        for (int n = 0; n < VS_SH_COUNT; n++) {
            t.harmonic[n] = (float)y[n];
        }
        status = see_past(mesh, behind, t, patch->opening, parts.at_m[i], direction);
    }
    return status;
}

static vs_status list_sides(vs_throughs *all) {
    all->seen = calloc(all->count + 1, sizeof *all->seen);
    all->side = calloc(all->count + 1, sizeof *all->side);
    if (!all->seen || !all->side) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < all->count; i++) {
        const vs_row_through *t = &all->item[i];
        if (i == 0 || t->row != t[-1].row || t->side != t[-1].side) {
            all->side[all->side_count++] = (vs_row_side){t->row, t->side, (uint32_t)i, 0};
        }
        all->side[all->side_count - 1].end = (uint32_t)i + 1;
        all->seen[i] = t->seen;
    }
    return VS_OK;
}

vs_status vs_behind_end(vs_behind *behind) {
    vs_status status = list_sides(&behind->patches);
    return status == VS_OK ? list_sides(&behind->air) : status;
}

static void throughs_free(vs_throughs *all) {
    const vs_throughs blank = {0};
    free(all->item);
    free(all->seen);
    free(all->side);
    *all = blank;
}

void vs_behind_free(vs_behind *behind) {
    throughs_free(&behind->patches);
    throughs_free(&behind->air);
}

void vs_throughs_dim(const vs_throughs *all, const double *room_extinction_per_m, double rate,
                     double *weight) {
    for (size_t i = 0; i < all->count; i++) {
        const vs_row_through *t = &all->item[i];
        double depth = 0;
        for (uint32_t n = 0; n < t->room_count; n++) {
            depth += room_extinction_per_m[t->room[n]] * (double)t->length_m[n];
        }
        weight[i] = (double)t->weight * exp(-rate * depth);
    }
}
