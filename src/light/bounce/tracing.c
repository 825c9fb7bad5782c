/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ways are spread by a sequence that is even from its start, so that the first few stand for all.
 */
#include "light/bounce/tracing.h"

#include <math.h>
#include <stdlib.h>

#include "base/growable.h"
#include "light/bounce/emission.h"
#include "light/bounce/pools.h"
#include "light/geometry/ray_casting.h"
#include "veilstop/base/quasi_random.h"
#include "veilstop/base/units.h"

/* Measured together: docs/accuracy.md. */
#define WAYS       2048 /* of one emitter, through the air */
#define LEGS_MAX   32   /* of one way: rooms and nets */
#define THIN_BEAMS 20
#define NARROW     0.9 /* [1] mean cosine to the mean direction from which a beam is narrow */

typedef struct {
    const vs_mesh *mesh;
    const vs_emitter *emitter;
    vs_tracing *tracing;
    vs_status status;
} tracer;

/* ---- one chain ---- */

static void *grown(tracer *t, void *list, size_t count, size_t *size, size_t bytes) {
    void *more = vs_growable_reserve(list, count, size, bytes);
    t->status = more ? t->status : VS_ERR_MEMORY;
    return more ? more : list;
}

static vs_leg *add_leg(tracer *t, size_t room, vs_vec3 at_m, vs_vec3 way) {
    vs_tracing *all = t->tracing;
    all->leg = grown(t, all->leg, all->leg_count, &all->leg_size, sizeof *all->leg);
    if (t->status != VS_OK) {
        return NULL;
    }
    vs_leg leg = {.from_m = {(float)at_m.x, (float)at_m.y, (float)at_m.z},
                  .way = {(float)way.x, (float)way.y, (float)way.z},
                  .room = (uint32_t)room};
    all->leg[all->leg_count] = leg;
    return &all->leg[all->leg_count++];
}

/* Straight on from the emitter, through openings and nets, to the first surface. */
static void trace_chain(tracer *t, vs_chain *chain, const vs_emission *e) {
    const vs_space *space = t->mesh->space;
    vs_vec3 at_m = e->at_m;
    size_t room = e->room;
    chain->leg_first = (uint32_t)t->tracing->leg_count;
    while (chain->leg_count < LEGS_MAX && room != VS_SPACE_OUTSIDE) {
        vs_ray_event end = vs_ray_next_event(space, at_m, e->way, room);
        vs_leg *leg = add_leg(t, room, at_m, e->way);
        if (!leg) {
            return;
        }
        chain->leg_count++;
        leg->length_m = (float)end.length_m;
        at_m = vs_vec3_along(at_m, e->way, end.length_m);
        if (end.end == VS_RAY_MEETS_OPENING) {
            leg->onward = (float)space->opening[end.index].transmittance;
            room = vs_opening_beyond(&space->opening[end.index], room);
        } else if (end.end == VS_RAY_MEETS_BLOCKER) {
            leg->onward = (float)space->blocker[end.index].transmittance;
        }
        if (leg->onward == 0) {
            return;
        }
    }
}

static void add_chain(tracer *t, vs_chain chain) {
    vs_tracing *all = t->tracing;
    all->chain = grown(t, all->chain, all->chain_count, &all->chain_size, sizeof *all->chain);
    if (t->status == VS_OK) {
        all->chain[all->chain_count++] = chain;
    }
}

static void set_out(tracer *t, const vs_emission *e) {
    vs_chain chain = {.lumens = e->lumens};
    trace_chain(t, &chain, e);
    add_chain(t, chain);
}

/* ---- beams ---- */

/* The mean direction of light from the emitter; the narrower its beam, the longer. */
static vs_vec3 mean_way(const vs_tracing *all) {
    vs_vec3 sum = {0, 0, 0};
    double whole = 0;
    for (size_t i = 0; i < all->chain_count; i++) {
        vs_vec3 way = vs_leg_way(&all->leg[all->chain[i].leg_first]);
        sum = vs_vec3_along(sum, way, all->chain[i].lumens);
        whole += all->chain[i].lumens;
    }
    return vs_vec3_scale(sum, whole > 0 ? 1 / whole : 0);
}

/* The first walks are evenly spread over the beam: a few of them stand for all of it. */
static void make_thin_beams(tracer *t) {
    vs_tracing *all = t->tracing;
    const vs_emitter *e = t->emitter;
    bool small = e->kind == VS_EMITTER_POINT || e->kind == VS_EMITTER_PARALLEL;
    double narrowness = vs_vec3_length(mean_way(all)), whole = 0;
    all->narrow = small && all->chain_count >= THIN_BEAMS && narrowness > NARROW;
    if (!all->narrow) {
        return;
    }
    all->thin = calloc(THIN_BEAMS, sizeof *all->thin);
    if (!all->thin) {
        t->status = VS_ERR_MEMORY;
        return;
    }
    for (size_t i = 0; i < all->chain_count; i++) {
        whole += all->chain[i].lumens;
    }
    double some = 0;
    for (size_t i = 0; i < THIN_BEAMS; i++) {
        some += all->chain[i].lumens;
    }
    for (size_t i = 0; i < THIN_BEAMS; i++) {
        const vs_chain *chain = &all->chain[i];
        vs_thin_beam thin = {chain->leg_first, chain->leg_count, chain->lumens * whole / some};
        all->thin[all->thin_count++] = thin;
    }
    all->axis_from_m = e->at_m;
    all->axis = vs_vec3_unit(mean_way(all));
    if (e->kind == VS_EMITTER_PARALLEL) {
        const vs_rect *rect = &t->mesh->space->opening[e->opening].rect;
        all->axis_from_m = rect->center_m;
        double cosine = fabs(vs_vec3_dot(e->axis, rect->normal));
        all->beam_start_m2 = 4 * rect->half_u_m * rect->half_v_m * cosine / THIN_BEAMS;
    } else {
        all->beam_spread_sr = 4 * VS_PI * (1 - narrowness) / THIN_BEAMS;
    }
}

/* ---- all of it ---- */

static void note_lit_rooms(vs_tracing *all) {
    for (size_t i = 0; i < all->leg_count; i++) {
        all->lit_room[all->leg[i].room] = true;
    }
}

static vs_status trace(tracer *t) {
    enum { DIMENSIONS = 4 };
    double *even = malloc((size_t)WAYS * DIMENSIONS * sizeof *even);
    t->status = even ? vs_sobol_points(DIMENSIONS, WAYS, even) : VS_ERR_MEMORY;
    vs_emission_source source = vs_emission_source_make(t->mesh->space, t->emitter);
    for (size_t n = 0; n < WAYS && t->status == VS_OK; n++) {
        vs_emission emission[VS_EMISSIONS_MAX];
        size_t count = vs_emission_draw(&source, even + n * DIMENSIONS, WAYS, emission);
        for (size_t i = 0; i < count && t->status == VS_OK; i++) {
            set_out(t, &emission[i]);
        }
    }
    if (t->status == VS_OK) {
        make_thin_beams(t);
    }
    free(even);
    return t->status;
}

vs_status vs_tracing_init(vs_tracing *tracing, const vs_mesh *mesh, const vs_emitter *emitter) {
    const vs_tracing blank = {0};
    *tracing = blank;
    tracer t = {.mesh = mesh, .emitter = emitter, .tracing = tracing};
    tracing->lit_room = calloc(mesh->space->room_count + 1, sizeof *tracing->lit_room);
    vs_status status = tracing->lit_room ? trace(&t) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        note_lit_rooms(tracing);
        status = vs_pools_find(tracing, mesh, emitter);
    }
    if (status != VS_OK) {
        vs_tracing_free(tracing);
    }
    return status;
}

void vs_tracing_free(vs_tracing *tracing) {
    const vs_tracing blank = {0};
    free(tracing->leg);
    free(tracing->chain);
    free(tracing->direct);
    free(tracing->pool);
    free(tracing->whole);
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
