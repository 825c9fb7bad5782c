/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many straight paths from the emitter find where its light first meets surfaces. They follow a
 * sequence that is even from its start, so that the first of them stand for all: in the air, and as
 * thin beams. */
#include "light/tracing/tracing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "light/geometry/ray_casting.h"
#include "light/mesh/air.h"
#include "light/tracing/emission.h"
#include "light/tracing/pools.h"
#include "veilstop/base/quasi_random.h"
#include "veilstop/base/units.h"

/* Measured together: docs/accuracy.md. */
#define PATHS        8192 /* of one emitter */
#define AIR_PATHS    2048 /* of them through the air */
#define SEGMENTS_MAX 32   /* of one path: rooms and nets */
#define THIN_BEAMS   20
#define NARROW       0.9 /* [1] mean cosine to the mean direction from which a beam is narrow */

typedef struct {
    const vs_mesh *mesh;
    const vs_emitter *emitter;
    vs_tracing *tracing;
    uint32_t *first; /* cell: the first pass through it, or NONE */
    size_t path_count;
    vs_met *met;
    size_t met_count, met_size;
    vs_vec3 mean_direction; /* of all light, times it */
    double lumens;
    vs_status status;
} tracer;

/* ---- one path ---- */

static void *grown(tracer *t, void *list, size_t count, size_t *size, size_t bytes) {
    void *more = vs_growable_reserve(list, count, size, bytes);
    t->status = more ? t->status : VS_ERR_MEMORY;
    return more ? more : list;
}

/* The pass through a path's cell and rooms, found or new. */
static vs_passing *passing_of(tracer *t, const vs_direct *path) {
    vs_tracing *all = t->tracing;
    for (uint32_t i = t->first[path->target]; i != VS_TRACING_NONE; i = all->passing[i].next) {
        if (vs_direct_alike(&all->passing[i].path, path)) {
            return &all->passing[i];
        }
    }
    all->passing =
        grown(t, all->passing, all->passing_count, &all->passing_size, sizeof *all->passing);
    if (t->status != VS_OK) {
        return NULL;
    }
    vs_passing fresh = {.path = *path, .next = t->first[path->target]};
    fresh.path.lumens = 0;
    t->first[path->target] = (uint32_t)all->passing_count;
    all->passing[all->passing_count] = fresh;
    return &all->passing[all->passing_count++];
}

/* What a straight line in one room leaves in cells: of the first paths, which stand for all.
 * so_far: the path to its start, that room the last */
static void cross(tracer *t, const vs_direct *so_far, vs_vec3 at_m, vs_vec3 direction,
                  double length_m) {
    vs_air_crossing crossing[VS_AIR_CROSSINGS_MAX];
    uint32_t last = so_far->room_count - 1;
    size_t count = vs_air_cross(t->mesh, so_far->room[last], at_m, direction, length_m, crossing);
    double from_m = so_far->length_m[last], lumens = so_far->lumens * PATHS / AIR_PATHS;
    double y[VS_SH_COUNT];
    vs_sh(direction, y);
    t->tracing->lit_room[so_far->room[last]] = true;
    for (size_t i = 0; i < count; i++) {
        double part_m = (double)crossing[i].length_m;
        vs_direct one = *so_far;
        one.target = crossing[i].cell;
        one.lumens = lumens * part_m;
        one.length_m[last] = from_m + part_m / 2;
        one.spread_m2[last] = part_m * part_m / 12;
        vs_passing *passing = passing_of(t, &one);
        if (!passing) {
            return;
        }
        vs_direct_join(&passing->path, &one);
        for (int n = 0; n < VS_SH_COUNT; n++) {
            passing->moment[n] += one.lumens * y[n];
        }
        from_m += part_m;
    }
}

static void add_segment(tracer *t, size_t room, vs_vec3 at_m, vs_vec3 direction, double length_m,
                        double onward) {
    vs_tracing *all = t->tracing;
    all->segment =
        grown(t, all->segment, all->segment_count, &all->segment_size, sizeof *all->segment);
    if (t->status == VS_OK) {
        vs_beam_segment segment = {
            .from_m = {(float)at_m.x, (float)at_m.y, (float)at_m.z},
            .direction = {(float)direction.x, (float)direction.y, (float)direction.z},
            .length_m = (float)length_m,
            .onward = (float)onward,
            .room = (uint32_t)room};
        all->segment[all->segment_count++] = segment;
    }
}

/* A path ends on a patch, or part of its light does. */
static void note(tracer *t, size_t patch, vs_vec3 at_m, const vs_direct *path, double lumens) {
    const vs_rect *on = &t->mesh->patch[patch].rect;
    vs_vec3 d = vs_vec3_sub(at_m, on->center_m);
    vs_met met = {.target = (uint32_t)patch,
                  .u_m = (float)vs_vec3_dot(d, on->u),
                  .v_m = (float)vs_vec3_dot(d, on->v),
                  .room_count = path->room_count,
                  .lumens = lumens};
    for (uint32_t i = 0; i < path->room_count; i++) {
        met.room[i] = path->room[i];
        met.length_m[i] = (float)path->length_m[i];
    }
    t->met = grown(t, t->met, t->met_count, &t->met_size, sizeof *t->met);
    if (t->status == VS_OK) {
        t->met[t->met_count++] = met;
    }
}

/* What happens to light at the end of a straight line in a room; returns its room from there on.
 *     open  out: the share that goes on [1] */
static size_t meet(tracer *t, const vs_ray_event *end, vs_vec3 at_m, vs_vec3 direction,
                   const vs_direct *path, size_t room, double *open) {
    const vs_space *space = t->mesh->space;
    *open = 0;
    if (end->end == VS_RAY_MEETS_WALL) {
        note(t, vs_mesh_face_patch(t->mesh, room, end->face, at_m), at_m, path, path->lumens);
    } else if (end->end == VS_RAY_MEETS_OPENING) {
        *open = space->opening[end->index].transmittance;
        return vs_opening_beyond(&space->opening[end->index], room);
    } else if (end->end == VS_RAY_MEETS_BLOCKER) {
        const vs_blocker *blocker = &space->blocker[end->index];
        bool front = vs_vec3_dot(direction, blocker->rect.normal) < 0;
        size_t patch = vs_mesh_blocker_patch(t->mesh, end->index, front, at_m);
        *open = blocker->transmittance;
        if (patch != VS_MESH_NONE) {
            note(t, patch, at_m, path, path->lumens * (1 - *open));
        }
    }
    return room;
}

/* Straight on from the emitter, through openings and nets, to the first surface.
 *     airy  what it leaves in cells of air counts */
static void follow(tracer *t, const vs_emission *e, bool airy) {
    vs_tracing *all = t->tracing;
    bool thin = t->path_count < THIN_BEAMS;
    vs_direct d = {.lumens = e->lumens};
    vs_vec3 at_m = e->at_m;
    size_t room = e->room, first = all->segment_count;
    double open = 1;
    for (int n = 0; n < SEGMENTS_MAX && room != VS_SPACE_OUTSIDE && open > 0; n++) {
        vs_ray_event end = vs_ray_next_event(t->mesh->space, at_m, e->direction, room);
        vs_vec3 from_m = at_m;
        size_t here = room;
        if (t->status != VS_OK || !vs_direct_enter(&d, room)) {
            break;
        }
        if (airy) {
            cross(t, &d, from_m, e->direction, end.length_m);
        }
        d.length_m[d.room_count - 1] += end.length_m;
        at_m = vs_vec3_along(from_m, e->direction, end.length_m);
        room = meet(t, &end, at_m, e->direction, &d, room, &open);
        d.lumens *= open;
        if (thin) {
            add_segment(t, here, from_m, e->direction, end.length_m, open);
        }
    }
    if (thin) {
        const vs_thin_beam beam = {(uint32_t)first, (uint32_t)(all->segment_count - first),
                                   e->lumens};
        all->thin[all->thin_count++] = beam;
    }
    t->mean_direction = vs_vec3_along(t->mean_direction, e->direction, e->lumens);
    t->lumens += e->lumens;
    t->path_count++;
}

/* ---- beams ---- */

/* Whether the emitter is a narrow beam; the first paths are evenly spread over it: a few of them
 * stand for all of it. */
static void judge_beam(tracer *t) {
    vs_tracing *all = t->tracing;
    const vs_emitter *e = t->emitter;
    bool small = e->kind == VS_EMITTER_POINT || e->kind == VS_EMITTER_PARALLEL;
    double narrowness = t->lumens > 0 ? vs_vec3_length(t->mean_direction) / t->lumens : 0, some = 0;
    all->narrow = small && t->path_count >= THIN_BEAMS && narrowness > NARROW;
    if (!all->narrow) {
        all->thin_count = all->segment_count = 0;
        return;
    }
    for (size_t i = 0; i < all->thin_count; i++) {
        some += all->thin[i].lumens;
    }
    for (size_t i = 0; i < all->thin_count; i++) {
        all->thin[i].lumens *= t->lumens / some;
    }
    if (e->kind == VS_EMITTER_PARALLEL) {
        const vs_rect *rect = &t->mesh->space->opening[e->opening].rect;
        double cosine = fabs(vs_vec3_dot(e->axis, rect->normal));
        all->beam_start_m2 = 4 * rect->half_u_m * rect->half_v_m * cosine / THIN_BEAMS;
    } else {
        all->beam_spread_sr = 4 * VS_PI * (1 - narrowness) / THIN_BEAMS;
    }
}

/* ---- all of it ---- */

static vs_status trace(tracer *t) {
    enum { DIMENSIONS = 4 };
    size_t cells = t->mesh->cell_count;
    double *even = malloc((size_t)PATHS * DIMENSIONS * sizeof *even);
    t->first = malloc((cells + 1) * sizeof *t->first);
    t->met = vs_growable_reserve_many(NULL, 0, PATHS, &t->met_size, sizeof *t->met);
    t->status =
        even && t->first && t->met ? vs_sobol_points(DIMENSIONS, PATHS, even) : VS_ERR_MEMORY;
    for (size_t i = 0; i < cells && t->first; i++) {
        t->first[i] = VS_TRACING_NONE;
    }
    vs_emission_source source = vs_emission_source_make(t->mesh->space, t->emitter);
    for (size_t n = 0; n < PATHS && t->status == VS_OK; n++) {
        vs_emission emission[VS_EMISSIONS_MAX];
        size_t count = vs_emission_draw(&source, even + n * DIMENSIONS, PATHS, emission);
        for (size_t i = 0; i < count && t->status == VS_OK; i++) {
            follow(t, &emission[i], n < AIR_PATHS);
        }
    }
    if (t->status == VS_OK) {
        judge_beam(t);
        t->status = vs_pools_find(t->tracing, t->mesh, t->met, t->met_count);
    }
    free(t->met);
    free(t->first);
    free(even);
    return t->status;
}

vs_status vs_tracing_init(vs_tracing *tracing, const vs_mesh *mesh, const vs_emitter *emitter) {
    const vs_tracing blank = {0};
    *tracing = blank;
    tracer t = {.mesh = mesh, .emitter = emitter, .tracing = tracing};
    tracing->lit_room = calloc(mesh->space->room_count + 1, sizeof *tracing->lit_room);
    tracing->thin = calloc(THIN_BEAMS, sizeof *tracing->thin);
    vs_status status = tracing->lit_room && tracing->thin ? trace(&t) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        vs_tracing_free(tracing);
    }
    return status;
}

void vs_tracing_free(vs_tracing *tracing) {
    const vs_tracing blank = {0};
    free(tracing->segment);
    free(tracing->passing);
    free(tracing->direct);
    free(tracing->pool);
    free(tracing->wholes);
    free(tracing->thin);
    free(tracing->lit_room);
    *tracing = blank;
}

/* ---- whether walks still hold ---- */

static bool same_vec3(vs_vec3 a, vs_vec3 b) {
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static bool same_rect(const vs_rect *a, const vs_rect *b) {
    return same_vec3(a->center_m, b->center_m) && same_vec3(a->u, b->u) && same_vec3(a->v, b->v) &&
           a->half_u_m == b->half_u_m && a->half_v_m == b->half_v_m;
}

static bool same_profile(const vs_emitter *a, const vs_emitter *b) {
    if (a->profile != b->profile) {
        return false;
    }
    if (a->profile == VS_PROFILE_SPOT) {
        return a->spot.half_rad == b->spot.half_rad && a->spot.exponent == b->spot.exponent &&
               a->spot.cutoff_rad == b->spot.cutoff_rad;
    }
    return a->profile != VS_PROFILE_PHOTOMETRY ||
           (a->table == b->table && same_vec3(a->frame.nadir, b->frame.nadir) &&
            same_vec3(a->frame.c0, b->frame.c0) && same_vec3(a->frame.c90, b->frame.c90));
}

bool vs_tracing_alike(const vs_emitter *a, const vs_emitter *b) {
    if (a->kind != b->kind || a->opening != b->opening || a->room != b->room ||
        !same_vec3(a->at_m, b->at_m) || !same_vec3(a->axis, b->axis)) {
        return false;
    }
    switch (a->kind) {
    case VS_EMITTER_POINT:
        return same_profile(a, b);
    case VS_EMITTER_LINE:
        return a->length_m == b->length_m;
    case VS_EMITTER_RECT:
        return same_rect(&a->rect, &b->rect);
    case VS_EMITTER_PARALLEL:
        break;
    }
    return true;
}
