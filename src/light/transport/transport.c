/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The light of surfaces on one another is solved (radiosity.h); droplets send on what haze takes of
 * it, over and over, to surfaces and droplets (air.h); what surfaces give back of that begins
 * another round. Each round carries only the light that haze took in the one before; after a few
 * the rest is summed as a geometric series. */
#include "light/transport/transport.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"
#include "veilstop/base/units.h"

/* Measured together: docs/accuracy.md. */
#define ROUNDS      3          /* between surfaces and droplets */
#define SCATTERINGS 5          /* among droplets in a round, at most */
#define THIN_ORDER  2          /* of harmonics of what comes of thin beams' light */
#define EVEN_ORDER  2          /* the same of what surfaces give back, and of what lands again */
#define RATIO_MOST  (1 - 1e-6) /* [1] of a series */

static size_t moments(const vs_transport *t) {
    return t->air->mesh->cell_count * VS_AIR_MOMENTS;
}

static size_t sides(const vs_transport *t) {
    return vs_side_count(t->air->mesh) * LANES;
}

vs_status vs_transport_init(vs_transport *t, const vs_radiosity *radiosity, const vs_air *air) {
    const vs_transport fresh = {.radiosity = radiosity, .air = air};
    size_t patches = air->mesh->patch_count * LANES;
    *t = fresh;
    const vs_array arrays[] = {
        VS_ARRAY(t->lamp, moments(t)),     VS_ARRAY(t->moment, moments(t)),
        VS_ARRAY(t->source, moments(t)),   VS_ARRAY(t->other, moments(t)),
        VS_ARRAY(t->step, moments(t)),     VS_ARRAY(t->thin, moments(t)),
        VS_ARRAY(t->sources, moments(t)),  VS_ARRAY(t->seen, moments(t)),
        VS_ARRAY(t->all_seen, moments(t)), VS_ARRAY(t->landed_lm, patches),
        VS_ARRAY(t->once_lm, patches),     VS_ARRAY(t->step_nits, patches),
        VS_ARRAY(t->nits, patches),        VS_ARRAY(t->air_lm, patches),
        VS_ARRAY(t->behind, patches),      VS_ARRAY(t->step_behind, patches),
        VS_ARRAY(t->out_lm, sides(t)),     VS_ARRAY(t->thin_out_lm, sides(t))};
    t->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    vs_status status = t->block ? VS_OK : VS_ERR_MEMORY;
    status = status == VS_OK ? vs_radiosity_work_init(&t->solving, radiosity) : status;
    status = status == VS_OK ? vs_air_work_init(&t->exchange, air) : status;
    status = status == VS_OK
                 ? vs_air_openings_init(&t->openings, air, &t->exchange, radiosity, &t->solving)
                 : status;
    if (status != VS_OK) {
        vs_transport_free(t);
    }
    return status;
}

void vs_transport_free(vs_transport *t) {
    const vs_transport blank = {0};
    vs_radiosity_work_free(&t->solving);
    vs_air_work_free(&t->exchange);
    vs_air_openings_free(&t->openings);
    free(t->block);
    *t = blank;
}

/* Scatterings among droplets in each round, and the order of the harmonics by which each is told: the
 * more often light was scattered or given back, the more even it is. */
static const struct {
    int count, order[SCATTERINGS];
} round_plan[ROUNDS] = {{5, {3, 2, 1, 0, 0}}, {4, {2, 1, 0, 0}}, {4, {0, 0, 0, 0}}};

/* Light that surfaces gave back is more even than lamps' own. */
static int even_order(int round) {
    return round_plan[round].order[0] < EVEN_ORDER ? round_plan[round].order[0] : EVEN_ORDER;
}

/* What is being solved. */
typedef struct {
    vs_transport *t;
    const vs_mesh *mesh;
    const vs_transport_lights *lights;
    vs_air_droplets lamps, air; /* how droplets treat lamps' own light, and all other */
    float wide[LANES];          /* 0: thin beams account for its light scattered once */
    bool any_narrow;
} solver;

static void take_split(vs_air_droplets *droplets, size_t lane, const vs_split_phase *split,
                       size_t band) {
    for (int l = 0; l <= VS_SH_ORDER; l++) {
        droplets->rest[lane][l] = split->rest[band][l] * 4 * VS_PI / (2 * l + 1);
    }
}

static void make_droplets(solver *s) {
    const vs_transport_lights *lights = s->lights;
    const vs_split_phase *wide = &lights->scattering->wide;
    s->air.albedo_rate =
        lights->medium->haze->albedo.v[lights->band] / wide->dimming.v[lights->band];
    s->lamps.albedo_rate = s->air.albedo_rate;
    for (size_t l = 0; l < LANES; l++) {
        bool narrow = l < lights->count && lights->walks[l]->narrow;
        take_split(&s->air, l, wide, lights->band);
        take_split(&s->lamps, l, vs_split_of(lights->scattering, narrow), lights->band);
        s->wide[l] = !narrow;
        s->any_narrow = s->any_narrow || narrow;
    }
}

/* ---- light straight from the emitter ---- */

/* Extinction of a lamp's own light over that at 549 nm, as its split dims it. */
static double lamp_rate(const vs_transport_lights *s, size_t lane) {
    const vs_split_phase *split = vs_split_of(s->scattering, s->walks[lane]->narrow);
    return s->medium->ratio.v[s->band] * split->dimming.v[s->band];
}

/* On patches and pools; in step_nits: what patches give back of it, pools evenly spread. */
static void light_surfaces(vs_transport *t, const vs_transport_lights *s, size_t lane,
                           vs_field *f) {
    const vs_mesh *mesh = t->air->mesh;
    const vs_tracing *walks = s->walks[lane];
    double rate = lamp_rate(s, lane), *pool_cd = f->pool_cd + s->band;
    for (size_t i = 0; i < walks->pool_count; i++) {
        pool_cd[i * VS_BAND_COUNT] = 0;
    }
    for (size_t i = 0; i < walks->direct_count; i++) {
        const vs_direct *d = &walks->direct[i];
        double lumens = d->lumens * vs_direct_passes(d, s->medium->room_extinction_per_m, rate);
        if (d->target < mesh->patch_count) {
            const vs_patch *patch = &mesh->patch[d->target];
            t->step_nits[(size_t)d->target * LANES + lane] +=
                lumens * patch->reflectance / (VS_PI * patch->area_m2);
        } else {
            pool_cd[(d->target - mesh->patch_count) * VS_BAND_COUNT] += lumens;
        }
    }
}

/* Pools: from lumens to luminance x area, parts to their wholes, wholes to their patches. */
static void join_pools(vs_transport *t, const vs_transport_lights *s, size_t lane, vs_field *f) {
    const vs_mesh *mesh = t->air->mesh;
    const vs_tracing *walks = s->walks[lane];
    double *pooled = f->pooled_nits + s->band * mesh->patch_count;
    memset(pooled, 0, mesh->patch_count * sizeof *pooled);
    for (size_t i = walks->pool_count; i-- > 0;) { /* parts stand behind their wholes */
        const vs_pool *pool = &walks->pool[i];
        const vs_patch *patch = &mesh->patch[pool->patch];
        double *cd = &f->pool_cd[i * VS_BAND_COUNT + s->band], lumens = *cd;
        *cd = lumens * patch->reflectance / VS_PI;
        if (pool->parent != VS_TRACING_NONE) {
            f->pool_cd[(size_t)pool->parent * VS_BAND_COUNT + s->band] += lumens;
        } else {
            pooled[pool->patch] += *cd / patch->area_m2;
            t->step_nits[(size_t)pool->patch * LANES + lane] += *cd / patch->area_m2;
        }
    }
}

/* In the air: what is on its way. */
static void light_air(vs_transport *t, const vs_transport_lights *s, size_t lane) {
    const vs_tracing *walks = s->walks[lane];
    double rate = lamp_rate(s, lane);
    for (size_t i = 0; i < walks->passing_count; i++) {
        const vs_passing *p = &walks->passing[i];
        const vs_cell_grid *g = &t->air->mesh->cells[p->path.room[p->path.room_count - 1]];
        float *cell = t->lamp + p->path.target * VS_AIR_MOMENTS + lane;
        double per_m3 = vs_direct_passes(&p->path, s->medium->room_extinction_per_m, rate) /
                        vs_mesh_cell_volume_m3(g);
        for (int n = 0; n < VS_SH_COUNT; n++) {
            cell[(size_t)n * LANES] += (float)(per_m3 * p->moment[n]);
        }
    }
}

void vs_transport_begin(vs_transport *t, const vs_transport_lights *lights,
                        vs_field *const *field) {
    memset(t->lamp, 0, moments(t) * sizeof *t->lamp);
    memset(t->step_nits, 0, t->air->mesh->patch_count * LANES * sizeof *t->step_nits);
    for (size_t l = 0; l < lights->count; l++) {
        light_surfaces(t, lights, l, field[l]);
        join_pools(t, lights, l, field[l]);
        light_air(t, lights, l);
    }
}

/* ---- rounds ---- */

static void clear_moments(const solver *s, float *moment) {
    memset(moment, 0, moments(s->t) * sizeof *moment);
}

/* Adds the moments of each light by a factor, of degrees to `order`. */
LANES_CLONES static void add_moments(const solver *s, const float *more, const float by[LANES],
                                     int order, float *sum) {
    for (size_t c = 0; c < s->mesh->cell_count; c++) {
        const size_t first = c * VS_AIR_MOMENTS;
        for (size_t i = first; i < first + vs_air_count(order) * LANES; i += LANES) {
            EACH_LANE(l) {
                sum[i + (size_t)l] += by[l] * more[i + (size_t)l];
            }
        }
    }
}

/* The same of patches' light. */
LANES_CLONES static void add_light(const solver *s, const double *more, const float by[LANES],
                                   double *sum) {
    for (size_t i = 0; i < s->mesh->patch_count * LANES; i += LANES) {
        EACH_LANE(l) {
            sum[i + (size_t)l] += (double)by[l] * more[i + (size_t)l];
        }
    }
}

static void copy_moments(const solver *s, const float *from, int order, float *to) {
    for (size_t c = 0; c < s->mesh->cell_count; c++) {
        memcpy(to + c * VS_AIR_MOMENTS, from + c * VS_AIR_MOMENTS,
               vs_air_count(order) * LANES * sizeof *to);
    }
}

/* The weight of a step: one, or for the last so much that it stands for all that would follow, each
 * the same share of the one before. Exactly the light that it began with is then accounted for. */
static void sum_series(const double began[LANES], const double next[LANES], bool last,
                       float by[LANES]) {
    for (int l = 0; l < LANES; l++) {
        double ratio = last && began[l] > 0 ? fmin(RATIO_MOST, next[l] / began[l]) : 0;
        by[l] = (float)(1 / (1 - ratio));
    }
}

static const float all_lights[LANES] = {1, 1, 1, 1, 1, 1, 1, 1};

/* Adds what droplets send of lamps' own light to t->source, and to t->once_lm what of it lands; of
 * thin beams what comes of it to cells, to t->thin. */
static void begin_with_lamps(solver *s, double began[LANES]) {
    vs_transport *t = s->t;
    vs_air_source(t->air, &t->exchange, &s->lamps, t->lamp, VS_SH_ORDER, t->other, began);
    vs_air_land(t->air, &t->exchange, t->other, VS_SH_ORDER, t->once_lm);
    add_moments(s, t->other, s->wide, VS_SH_ORDER, t->source);
    if (s->any_narrow) {
        for (size_t i = 0; i < moments(t); i++) {
            t->other[i] *= 1 - s->wide[i % LANES];
        }
        vs_air_scatter(t->air, &t->exchange, t->other, THIN_ORDER, t->thin);
        vs_air_send_out(t->air, &t->exchange, t->other, VS_SH_ORDER, t->thin_out_lm);
    }
}

static void swap(float **a, float **b) {
    float *c = *a;
    *a = *b;
    *b = c;
}

/* Scatters the light of t->moment over and over: into t->sources what droplets send, into t->seen
 * what comes of that within rooms.
 *     round  in the first, lamps' own light too */
static void scatter_on(solver *s, int round) {
    vs_transport *t = s->t;
    const int times = round_plan[round].count, *order = round_plan[round].order;
    const bool lamps = round == 0;
    double began[LANES] = {0};
    clear_moments(s, t->source);
    vs_air_source(t->air, &t->exchange, &s->air, t->moment, even_order(round), t->source, began);
    add_moments(s, t->source, all_lights, even_order(round), t->sources);
    if (lamps) {
        begin_with_lamps(s, began);
    }
    for (int n = 0; n < times; n++) {
        double next[LANES] = {0};
        float by[LANES];
        vs_air_scatter(t->air, &t->exchange, t->source, order[n], t->step);
        const float *seen = t->step;
        memset(t->out_lm, 0, sides(t) * sizeof *t->out_lm);
        copy_moments(s, t->step, order[n], t->moment);
        if (n == 0 && lamps && s->any_narrow) {
            add_moments(s, t->thin, all_lights, THIN_ORDER, t->moment);
            copy_moments(s, t->moment, order[n], t->other);
            memcpy(t->out_lm, t->thin_out_lm, sides(t) * sizeof *t->out_lm);
            seen = t->other;
        }
        vs_air_send_out(t->air, &t->exchange, t->source, order[n], t->out_lm);
        vs_air_look_through(&t->openings, seen, order[n], t->out_lm, t->moment, t->step_behind);
        vs_air_source(t->air, &t->exchange, &s->air, t->moment, order[n + 1 < times ? n + 1 : n],
                      t->other, next);
        sum_series(began, next, n == times - 1, by);
        if (n > 0) {
            add_moments(s, t->source, by, order[n], t->sources);
        }
        add_moments(s, t->step, by, order[n], t->seen);
        add_light(s, t->step_behind, by, t->behind);
        memcpy(began, next, sizeof began);
        swap(&t->source, &t->other);
    }
}

/* What patches give back of light that came to them from droplets, of their room and behind
 * openings. Sums what came. */
LANES_CLONES static void give_back(const solver *s, int round, double lumens[LANES]) {
    const vs_transport *t = s->t;
    const double first = round == 0 ? 1 : 0;
    for (size_t i = 0; i < s->mesh->patch_count; i++) {
        const vs_patch *patch = &s->mesh->patch[i];
        double pi_area = VS_PI * patch->area_m2, ends = patch->opening == VS_MESH_NONE ? 1 : 0;
        double *source = t->solving.source + i * LANES;
        const double *landed = t->landed_lm + i * LANES, *once = t->once_lm + i * LANES;
        const double *behind = t->behind + i * LANES;
        EACH_LANE(l) {
            double came_lm = landed[l] + first * once[l] + pi_area * patch->presence * behind[l];
            source[l] = patch->reflectance * came_lm / pi_area;
            lumens[l] += ends * came_lm;
        }
    }
}

/* One round from the surfaces' step through the air onto surfaces. */
static void go_round(solver *s, int round) {
    vs_transport *t = s->t;
    clear_moments(s, t->moment);
    memset(t->behind, 0, s->mesh->patch_count * LANES * sizeof *t->behind);
    memset(t->thin_out_lm, 0, sides(t) * sizeof *t->thin_out_lm);
    clear_moments(s, t->sources);
    clear_moments(s, t->seen);
    vs_air_send(t->air, &t->exchange, t->step_nits, t->solving.scale, even_order(round), t->moment);
    scatter_on(s, round);
    vs_air_land(t->air, &t->exchange, t->sources, even_order(round), t->landed_lm);
}

static void add_step(const solver *s, int round, const float by[LANES]) {
    vs_transport *t = s->t;
    add_light(s, t->step_nits, by, t->nits);
    add_light(s, t->landed_lm, by, t->air_lm);
    add_moments(s, t->seen, by, round_plan[round].order[0], t->all_seen);
}

static vs_status go_rounds(solver *s) {
    vs_transport *t = s->t;
    double began[LANES] = {0};
    vs_status status = VS_OK;
    for (int round = 0; round < ROUNDS && status == VS_OK; round++) {
        double next[LANES] = {0};
        float by[LANES];
        go_round(s, round);
        give_back(s, round, next);
        sum_series(began, next, round == ROUNDS - 1, by);
        add_step(s, round, by);
        memcpy(began, next, sizeof began);
        if (round < ROUNDS - 1) {
            status = vs_radiosity_solve(t->radiosity, &t->solving);
            memcpy(t->step_nits, t->solving.nits,
                   s->mesh->patch_count * LANES * sizeof *t->step_nits);
        }
    }
    return status;
}

/* ---- all of it ---- */

void vs_transport_keep(const vs_transport *t, size_t lane, size_t band, vs_field *f) {
    const vs_mesh *mesh = t->air->mesh;
    size_t patches = mesh->patch_count;
    for (size_t i = 0; i < patches; i++) {
        const vs_patch *patch = &mesh->patch[i];
        double per_m2 = patch->presence > 0 ? 1 / (patch->area_m2 * patch->presence) : 0;
        f->nits[band * patches + i] = (float)t->nits[i * LANES + lane];
        f->air_lux[band * patches + i] = (float)(per_m2 * fmax(0, t->air_lm[i * LANES + lane]));
        f->once_lux[band * patches + i] = (float)(per_m2 * fmax(0, t->once_lm[i * LANES + lane]));
    }
    for (size_t i = 0; i < mesh->cell_count; i++) {
        float *cell = f->cell + (i * VS_BAND_COUNT + band) * VS_SH_COUNT;
        for (size_t n = 0; n < VS_SH_COUNT; n++) {
            cell[n] = t->all_seen[i * VS_AIR_MOMENTS + n * LANES + lane];
        }
    }
}

void vs_transport_dim(vs_transport *t, const vs_medium *medium, const vs_scattering *scattering,
                      size_t band) {
    double rate = medium->ratio.v[band] * scattering->wide.dimming.v[band];
    vs_radiosity_dim(t->radiosity, medium->room_extinction_per_m, rate, &t->solving);
    vs_air_dim(t->air, medium->room_extinction_per_m, rate, t->solving.taken, &t->exchange);
    vs_air_openings_dim(t->air, &t->exchange, &t->solving);
}

vs_status vs_transport_solve(vs_transport *t, const vs_transport_lights *lights) {
    solver s = {.t = t, .mesh = t->air->mesh, .lights = lights};
    size_t patches = s.mesh->patch_count * LANES;
    double hazy = 0;
    make_droplets(&s);
    clear_moments(&s, t->all_seen);
    memset(t->nits, 0, patches * sizeof *t->nits);
    memset(t->air_lm, 0, patches * sizeof *t->air_lm);
    memset(t->once_lm, 0, patches * sizeof *t->once_lm);
    for (size_t r = 0; r < lights->medium->space->room_count; r++) {
        hazy += lights->medium->room_extinction_per_m[r];
    }
    memcpy(t->solving.source, t->step_nits, patches * sizeof *t->step_nits);
    vs_status status = vs_radiosity_solve(t->radiosity, &t->solving);
    memcpy(t->step_nits, t->solving.nits, patches * sizeof *t->step_nits);
    if (status == VS_OK && hazy > 0) {
        status = go_rounds(&s);
    } else {
        memcpy(t->nits, t->step_nits, patches * sizeof *t->nits);
    }
    return status;
}
