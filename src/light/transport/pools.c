/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many straight paths from the emitter, evenly spread, tell where its light meets surfaces first.
 * Where much meets one patch unevenly, the places are parted again and again, across their longer
 * spread, until each part is little light. Paths to the same surface through the same rooms are then
 * one, of their mean length and its spread: haze dims them alike to the second order of that. */
#include "light/transport/pools.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "light/geometry/ray_casting.h"
#include "light/transport/emission.h"
#include "veilstop/base/quasi_random.h"

/* Measured together: docs/accuracy.md. */
#define PATHS      8192  /* of one emitter */
#define MUCH       0.012 /* [1] of the light given back, on one patch: it is made pools of */
#define SOME       0.004 /* [1] the same where it falls unevenly: */
#define UNEVEN     0.85  /* [1] of the spread of even light, or */
#define OFF_MIDDLE 0.1   /* [1] of a half side off its middle */
#define POOL_SHARE 0.004 /* [1] of the light given back: the most of a pool that is not parted */
/* A pool counts by itself where it is nearer than so many of its sizes, and of how far it is off
 * its patch's middle. */
#define NEAR_SIZES 1.5
#define NEAR_OFFS  5.0
#define LEAST_M    0.002 /* [m] half a pool's side at least: a filament's picture; our choice */
#define ROOT_3     1.732050807568877294 /* [1] half side of even light over its deviation */

typedef struct {
    double u_m, v_m; /* on the patch's own axes */
    vs_direct direct;
    double given_lm; /* what the surface gives back */
} met;

typedef struct {
    vs_tracing *tracing;
    const vs_mesh *mesh;
    met *item;
    size_t count, size;
    double whole_lm;
    vs_status status;
} finder;

/* ---- paths ---- */

static void note(finder *f, size_t patch, vs_vec3 at_m, const vs_direct *so_far, double lumens) {
    const vs_patch *p = &f->mesh->patch[patch];
    vs_vec3 d = vs_vec3_sub(at_m, p->rect.center_m);
    met m = {vs_vec3_dot(d, p->rect.u), vs_vec3_dot(d, p->rect.v), *so_far, 0};
    met *list = vs_growable_reserve(f->item, f->count, &f->size, sizeof *f->item);
    if (!list) {
        f->status = VS_ERR_MEMORY;
        return;
    }
    m.direct.target = (uint32_t)patch;
    m.direct.lumens = lumens;
    m.given_lm = lumens * p->reflectance;
    f->whole_lm += m.given_lm;
    f->item = list;
    f->item[f->count++] = m;
}

/* Follows one path to the first surface, through openings and nets. */
static void follow(finder *f, const vs_emission *e) {
    const vs_space *space = f->mesh->space;
    vs_direct d = {0};
    vs_vec3 at_m = e->at_m;
    double lumens = e->lumens;
    size_t room = e->room;
    while (room != VS_SPACE_OUTSIDE && lumens > 0 && f->status == VS_OK) {
        vs_ray_event end = vs_ray_next_event(space, at_m, e->direction, room);
        bool same = d.room_count > 0 && d.room[d.room_count - 1] == room;
        if (end.end == VS_RAY_MEETS_NOTHING || (!same && d.room_count == VS_DIRECT_ROOMS_MAX)) {
            return;
        }
        d.room_count += !same;
        d.room[d.room_count - 1] = room;
        d.length_m[d.room_count - 1] += end.length_m;
        at_m = vs_vec3_along(at_m, e->direction, end.length_m);
        if (end.end == VS_RAY_MEETS_WALL) {
            note(f, vs_mesh_face_patch(f->mesh, room, end.face, at_m), at_m, &d, lumens);
            return;
        }
        if (end.end == VS_RAY_MEETS_OPENING) {
            lumens *= space->opening[end.index].transmittance;
            room = vs_opening_beyond(&space->opening[end.index], room);
            continue;
        }
        const vs_blocker *screen = &space->blocker[end.index];
        bool front = vs_vec3_dot(e->direction, screen->rect.normal) < 0;
        size_t patch = vs_mesh_screen_patch(f->mesh, end.index, front, at_m);
        if (patch != VS_MESH_NONE) {
            note(f, patch, at_m, &d, lumens * (1 - screen->transmittance));
        }
        lumens *= screen->transmittance;
    }
}

static void follow_all(finder *f, const vs_emitter *emitter) {
    enum { DIMENSIONS = 4 };
    double *even = malloc((size_t)PATHS * DIMENSIONS * sizeof *even);
    f->status = even ? vs_sobol_points(DIMENSIONS, PATHS, even) : VS_ERR_MEMORY;
    vs_emission_source source = vs_emission_source_make(f->mesh->space, emitter);
    for (size_t n = 0; n < PATHS && f->status == VS_OK; n++) {
        vs_emission emission[VS_EMISSIONS_MAX];
        size_t count = vs_emission_draw(&source, even + n * DIMENSIONS, PATHS, emission);
        for (size_t i = 0; i < count; i++) {
            follow(f, &emission[i]);
        }
    }
    free(even);
}

/* ---- pools ---- */

/* Light of some places on one patch: how much, its middle, its deviation along each side. */
typedef struct {
    double given_lm, u_m, v_m, u_spread_m, v_spread_m;
} spread;

static spread spread_of(const met *item, size_t count) {
    spread s = {0};
    for (size_t i = 0; i < count; i++) {
        s.given_lm += item[i].given_lm;
        s.u_m += item[i].given_lm * item[i].u_m;
        s.v_m += item[i].given_lm * item[i].v_m;
    }
    if (!(s.given_lm > 0)) {
        return s;
    }
    s.u_m /= s.given_lm;
    s.v_m /= s.given_lm;
    for (size_t i = 0; i < count; i++) {
        double u = item[i].u_m - s.u_m, v = item[i].v_m - s.v_m;
        s.u_spread_m += item[i].given_lm * u * u;
        s.v_spread_m += item[i].given_lm * v * v;
    }
    s.u_spread_m = sqrt(s.u_spread_m / s.given_lm);
    s.v_spread_m = sqrt(s.v_spread_m / s.given_lm);
    return s;
}

static bool is_uneven(const vs_patch *patch, const spread *s) {
    double u = ROOT_3 * s->u_spread_m / patch->rect.half_u_m;
    double v = ROOT_3 * s->v_spread_m / patch->rect.half_v_m;
    return u < UNEVEN || v < UNEVEN || fabs(s->u_m) > OFF_MIDDLE * patch->rect.half_u_m ||
           fabs(s->v_m) > OFF_MIDDLE * patch->rect.half_v_m;
}

static bool add_pool(finder *f, size_t patch, uint32_t parent, const spread *s) {
    vs_tracing *all = f->tracing;
    vs_pool pool = {f->mesh->patch[patch].rect, 0, (uint32_t)patch, parent, 0};
    vs_pool *list =
        vs_growable_reserve(all->pool, all->pool_count, &all->pool_size, sizeof *all->pool);
    if (!list) {
        f->status = VS_ERR_MEMORY;
        return false;
    }
    pool.rect.center_m = vs_vec3_along(pool.rect.center_m, pool.rect.u, s->u_m);
    pool.rect.center_m = vs_vec3_along(pool.rect.center_m, pool.rect.v, s->v_m);
    pool.rect.half_u_m = fmax(LEAST_M, ROOT_3 * s->u_spread_m);
    pool.rect.half_v_m = fmax(LEAST_M, ROOT_3 * s->v_spread_m);
    pool.size_m = hypot(pool.rect.half_u_m, pool.rect.half_v_m);
    all->pool = list;
    all->pool[all->pool_count++] = pool;
    return true;
}

/* Brings the places before the middle of a side to the front; at least one on each side of it.
 * Returns how many. */
static size_t part_at_middle(met *item, size_t count, const spread *s, bool along_u) {
    size_t low = 0;
    for (size_t i = 0; i < count; i++) {
        if (along_u ? item[i].u_m < s->u_m : item[i].v_m < s->v_m) {
            met swap = item[low];
            item[low++] = item[i];
            item[i] = swap;
        }
    }
    return low == 0 ? 1 : low == count ? count - 1 : low;
}

static void part(finder *f, met *item, size_t count, size_t patch, uint32_t parent) {
    spread s = spread_of(item, count);
    uint32_t me = (uint32_t)f->tracing->pool_count;
    if (!add_pool(f, patch, parent, &s)) {
        return;
    }
    if (count < 2 || s.given_lm <= POOL_SHARE * f->whole_lm ||
        s.u_spread_m + s.v_spread_m < LEAST_M) {
        for (size_t i = 0; i < count; i++) {
            item[i].direct.target = (uint32_t)f->mesh->patch_count + me;
        }
    } else {
        bool along_u = s.u_spread_m >= s.v_spread_m;
        size_t low = part_at_middle(item, count, &s, along_u);
        part(f, item, low, patch, me);
        if (f->status == VS_OK) {
            part(f, item + low, count - low, patch, me);
        }
    }
    f->tracing->pool[me].end = (uint32_t)f->tracing->pool_count;
}

/* All of a patch's light as one pool and its parts. */
static void add_whole(finder *f, met *item, size_t count, size_t patch) {
    vs_tracing *all = f->tracing;
    const vs_patch *on = &f->mesh->patch[patch];
    size_t first = all->pool_count;
    part(f, item, count, patch, VS_TRACING_NONE);
    vs_pool_whole *list =
        vs_growable_reserve(all->whole, all->whole_count, &all->whole_size, sizeof *all->whole);
    if (!list || f->status != VS_OK) {
        all->whole = list ? list : all->whole;
        f->status = VS_ERR_MEMORY;
        return;
    }
    const vs_pool *pool = &all->pool[first];
    vs_vec3 m = pool->rect.center_m;
    double off_m = vs_vec3_length(vs_vec3_sub(m, on->rect.center_m));
    const vs_pool_whole whole = {{(float)m.x, (float)m.y, (float)m.z},
                                 (float)(NEAR_SIZES * pool->size_m + NEAR_OFFS * off_m),
                                 (uint32_t)on->room,
                                 (uint32_t)first,
                                 pool->end};
    all->whole = list;
    all->whole[all->whole_count++] = whole;
}

static void part_patches(finder *f) {
    for (size_t first = 0, end; first < f->count && f->status == VS_OK; first = end) {
        size_t patch = f->item[first].direct.target;
        for (end = first; end < f->count && f->item[end].direct.target == patch; end++) {
        }
        spread s = spread_of(f->item + first, end - first);
        double share = s.given_lm > 0 ? s.given_lm / f->whole_lm : 0;
        if (share > MUCH || (share > SOME && is_uneven(&f->mesh->patch[patch], &s))) {
            add_whole(f, f->item + first, end - first, patch);
        }
    }
}

/* ---- paths that are one ---- */

/* The path of a place's light, among those to the same target found last; NULL: the first such. */
static vs_direct *known_path(vs_tracing *all, const vs_direct *one) {
    for (size_t i = all->direct_count; i-- > 0 && all->direct[i].target == one->target;) {
        if (vs_direct_alike(&all->direct[i], one)) {
            return &all->direct[i];
        }
    }
    return NULL;
}

/* Places are in order of their targets. */
static void join_paths(finder *f) {
    vs_tracing *all = f->tracing;
    all->direct = calloc(f->count + 1, sizeof *all->direct);
    if (!all->direct) {
        f->status = VS_ERR_MEMORY;
        return;
    }
    for (size_t i = 0; i < f->count; i++) {
        const vs_direct *one = &f->item[i].direct;
        vs_direct *known = known_path(all, one);
        if (known) {
            vs_direct_join(known, one);
        } else {
            all->direct[all->direct_count++] = *one;
        }
    }
}

/* Brings the places in order of their patches, those on one in the order in which they were met. */
static void sort_by_patch(finder *f) {
    size_t patches = f->mesh->patch_count;
    size_t *next = calloc(patches + 1, sizeof *next);
    met *sorted = malloc((f->count + 1) * sizeof *sorted);
    if (!next || !sorted) {
        f->status = VS_ERR_MEMORY;
        free(sorted);
    } else {
        for (size_t i = 0; i < f->count; i++) {
            next[f->item[i].direct.target + 1]++;
        }
        for (size_t p = 0; p < patches; p++) {
            next[p + 1] += next[p];
        }
        for (size_t i = 0; i < f->count; i++) {
            sorted[next[f->item[i].direct.target]++] = f->item[i];
        }
        free(f->item);
        f->item = sorted;
    }
    free(next);
}

vs_status vs_pools_find(vs_tracing *tracing, const vs_mesh *mesh, const vs_emitter *emitter) {
    finder f = {.tracing = tracing, .mesh = mesh};
    follow_all(&f, emitter);
    if (f.status == VS_OK) {
        sort_by_patch(&f);
    }
    if (f.status == VS_OK) {
        part_patches(&f);
    }
    if (f.status == VS_OK) {
        join_paths(&f);
    }
    free(f.item);
    return f.status;
}
