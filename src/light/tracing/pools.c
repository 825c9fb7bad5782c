/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where much light meets one patch unevenly, its places are split again and again, across their
 * longer spread, until each part holds little light. Paths to the same surface through the same
 * rooms are then joined into one of their mean length and its spread: haze dims them alike to the
 * second order of that. */
#include "light/tracing/pools.h"

#include <math.h>
#include <stdlib.h>

#include "base/growable.h"

/* Measured together: docs/accuracy.md. */
#define MUCH       0.012 /* [1] of the light given back, on one patch: it is made pools of */
#define SOME       0.004 /* [1] the same where it falls unevenly: */
#define OFF_MIDDLE 0.1   /* [1] of a half side off its middle */
#define POOL_SHARE 0.004 /* [1] of the light given back: the most a pool holds that is not split */
/* A pool counts by itself where it is nearer than so many times its size, and so many times its
 * distance from its patch's middle. */
#define NEAR_SIZES 1.5
#define NEAR_OFFS  5.0
#define LEAST_M    0.002 /* [m] half a pool's side at least: a filament's picture; our choice */
#define ROOT_3     1.732050807568877294 /* [1] half side of even light over its deviation */

typedef struct {
    vs_tracing *tracing;
    const vs_mesh *mesh;
    vs_met *met;     /* places; their order by patches is a list of their own */
    double whole_lm; /* that surfaces give back */
    vs_status status;
} finder;

/* ---- pools ---- */

/* Light of some places on one patch: how much, its middle, its deviation along each side. */
typedef struct {
    double given_lm, u_m, v_m, u_spread_m, v_spread_m;
} spread;

static spread spread_of(const finder *f, const uint32_t *item, size_t count, size_t patch) {
    double lumens = 0, u_m = 0, v_m = 0, u_m2 = 0, v_m2 = 0;
    for (size_t i = 0; i < count; i++) {
        const vs_met *met = &f->met[item[i]];
        lumens += met->lumens;
        u_m += met->lumens * (double)met->u_m;
        v_m += met->lumens * (double)met->v_m;
    }
    double per = lumens > 0 ? 1 / lumens : 0;
    for (size_t i = 0; i < count; i++) {
        const vs_met *met = &f->met[item[i]];
        double u = (double)met->u_m - u_m * per, v = (double)met->v_m - v_m * per;
        u_m2 += met->lumens * u * u;
        v_m2 += met->lumens * v * v;
    }
    const spread s = {lumens * f->mesh->patch[patch].reflectance, u_m * per, v_m * per,
                      sqrt(u_m2 * per), sqrt(v_m2 * per)};
    return s;
}

static bool is_uneven(const vs_patch *patch, const spread *s) {
    return fabs(s->u_m) > OFF_MIDDLE * patch->rect.half_u_m ||
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

/* Moves the places before the middle of a side to the front; at least one on each side of it.
 * Returns how many. */
static size_t part_at_middle(const finder *f, uint32_t *item, size_t count, const spread *s,
                             bool along_u) {
    size_t low = 0;
    for (size_t i = 0; i < count; i++) {
        const vs_met *met = &f->met[item[i]];
        if (along_u ? (double)met->u_m < s->u_m : (double)met->v_m < s->v_m) {
            uint32_t swap = item[low];
            item[low++] = item[i];
            item[i] = swap;
        }
    }
    return low == 0 ? 1 : low == count ? count - 1 : low;
}

static void part(finder *f, uint32_t *item, size_t count, size_t patch, uint32_t parent) {
    spread s = spread_of(f, item, count, patch);
    uint32_t me = (uint32_t)f->tracing->pool_count;
    if (!add_pool(f, patch, parent, &s)) {
        return;
    }
    if (count < 2 || s.given_lm <= POOL_SHARE * f->whole_lm ||
        s.u_spread_m + s.v_spread_m < LEAST_M) {
        for (size_t i = 0; i < count; i++) {
            f->met[item[i]].target = (uint32_t)f->mesh->patch_count + me;
        }
    } else {
        bool along_u = s.u_spread_m >= s.v_spread_m;
        size_t low = part_at_middle(f, item, count, &s, along_u);
        part(f, item, low, patch, me);
        if (f->status == VS_OK) {
            part(f, item + low, count - low, patch, me);
        }
    }
    f->tracing->pool[me].end = (uint32_t)f->tracing->pool_count;
}

/* For the search of those nearby. */
static void add_to_wholes(finder *f, size_t first) {
    vs_tracing *all = f->tracing;
    const vs_pool *pool = &all->pool[first];
    size_t eight = all->whole_count / LANES, l = all->whole_count % LANES;
    vs_vec3 m = pool->rect.center_m;
    double off_m = vs_vec3_length(vs_vec3_sub(m, f->mesh->patch[pool->patch].rect.center_m));
    double near_m = NEAR_SIZES * pool->size_m + NEAR_OFFS * off_m;
    vs_pool_wholes *list =
        vs_growable_reserve(all->wholes, eight, &all->wholes_size, sizeof *all->wholes);
    if (!list) {
        f->status = VS_ERR_MEMORY;
        return;
    }
    all->wholes = list;
    if (l == 0) {
        const vs_pool_wholes none = {{0}, {0}, {0}, {0}, {0}, {0}};
        list[eight] = none;
    }
    list[eight].x_m[l] = (float)m.x;
    list[eight].y_m[l] = (float)m.y;
    list[eight].z_m[l] = (float)m.z;
    list[eight].near_m2[l] = (float)(near_m * near_m);
    list[eight].room[l] = (uint32_t)f->mesh->patch[pool->patch].room;
    list[eight].first[l] = (uint32_t)first;
    all->whole_count++;
}

/* All of a patch's light as one pool and its parts. */
static void add_whole(finder *f, uint32_t *item, size_t count, size_t patch) {
    size_t first = f->tracing->pool_count;
    part(f, item, count, patch, VS_TRACING_NONE);
    if (f->status == VS_OK) {
        add_to_wholes(f, first);
    }
}

static void part_patches(finder *f, uint32_t *item, size_t count) {
    for (size_t first = 0, end; first < count && f->status == VS_OK; first = end) {
        size_t patch = f->met[item[first]].target;
        const vs_patch *on = &f->mesh->patch[patch];
        for (end = first; end < count && f->met[item[end]].target == patch; end++) {
        }
        spread s = spread_of(f, item + first, end - first, patch);
        double share = s.given_lm > 0 ? s.given_lm / f->whole_lm : 0;
        if (share > MUCH || (share > SOME && is_uneven(on, &s))) {
            add_whole(f, item + first, end - first, patch);
        }
    }
}

/* ---- joining paths ---- */

/* The path of a place's light, among those to the same target found last; NULL: the first such. */
static vs_direct *known_path(vs_tracing *all, const vs_direct *one) {
    for (size_t i = all->direct_count; i-- > 0 && all->direct[i].target == one->target;) {
        if (vs_direct_alike(&all->direct[i], one)) {
            return &all->direct[i];
        }
    }
    return NULL;
}

static void add_path(finder *f, size_t *size, const vs_direct *one) {
    vs_tracing *all = f->tracing;
    vs_direct *list =
        vs_growable_reserve(all->direct, all->direct_count, size, sizeof *all->direct);
    if (!list) {
        f->status = VS_ERR_MEMORY;
        return;
    }
    all->direct = list;
    all->direct[all->direct_count++] = *one;
}

/* Places are in order of their targets. */
static void join_paths(finder *f, const uint32_t *item, size_t count) {
    size_t size = 0;
    for (size_t i = 0; i < count && f->status == VS_OK; i++) {
        const vs_met *met = &f->met[item[i]];
        vs_direct one = {
            .target = met->target, .room_count = met->room_count, .lumens = met->lumens};
        for (uint32_t n = 0; n < one.room_count; n++) {
            one.room[n] = met->room[n];
            one.length_m[n] = (double)met->length_m[n];
        }
        vs_direct *known = known_path(f->tracing, &one);
        if (known) {
            vs_direct_join(known, &one);
        } else {
            add_path(f, &size, &one);
        }
    }
}

/* The order of places by their patches, those on one patch as they were met.  NULL: no memory. */
static uint32_t *sort_by_patch(const finder *f, size_t count) {
    size_t patches = f->mesh->patch_count;
    size_t *next = calloc(patches + 1, sizeof *next);
    uint32_t *order = calloc(count + 1, sizeof *order);
    if (!next || !order) {
        free(next);
        free(order);
        return NULL;
    }
    for (size_t i = 0; i < count; i++) {
        next[f->met[i].target + 1]++;
    }
    for (size_t p = 0; p < patches; p++) {
        next[p + 1] += next[p];
    }
    for (size_t i = 0; i < count; i++) {
        order[next[f->met[i].target]++] = (uint32_t)i;
    }
    free(next);
    return order;
}

vs_status vs_pools_find(vs_tracing *tracing, const vs_mesh *mesh, vs_met *met, size_t count) {
    finder f = {.tracing = tracing, .mesh = mesh, .met = met};
    for (size_t i = 0; i < count; i++) {
        f.whole_lm += met[i].lumens * mesh->patch[met[i].target].reflectance;
    }
    uint32_t *order = sort_by_patch(&f, count);
    f.status = order ? VS_OK : VS_ERR_MEMORY;
    if (f.status == VS_OK) {
        part_patches(&f, order, count);
    }
    if (f.status == VS_OK) {
        join_paths(&f, order, count);
    }
    free(order);
    return f.status;
}
