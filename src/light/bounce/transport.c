/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Surfaces' light on one another is solved for (radiosity.h); what haze takes of it, droplets send
 * on, over and over, to surfaces and droplets (air.h); what surfaces give back of that begins
 * another round. Each round carries just the light that haze took in the one before; after a few
 * the rest is summed as a geometric series. */
#include "light/bounce/transport.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"

/* Measured together: docs/accuracy.md. */
#define ROUNDS      3    /* between surfaces and droplets */
#define SCATTERINGS 3    /* among droplets, in the first round; half as many in later ones */
#define RATIO_MOST  0.97 /* [1] of a series */

static size_t moments(const vs_transport *t) {
    return t->air->mesh->cell_count * VS_AIR_MOMENTS;
}

vs_status vs_transport_init(vs_transport *t, const vs_radiosity *radiosity, const vs_air *air) {
    const vs_transport fresh = {.radiosity = radiosity, .air = air};
    size_t patches = air->mesh->patch_count * LANES + LANES;
    *t = fresh;
    vs_status status = vs_radiosity_work_init(&t->solving, radiosity);
    float **list[] = {&t->lamp, &t->sent, &t->next, &t->behind, &t->seen, &t->all_seen};
    double **lists[] = {&t->landed_lm, &t->step_nits, &t->nits};
    for (size_t i = 0; i < sizeof list / sizeof *list && status == VS_OK; i++) {
        *list[i] = calloc(moments(t) + LANES, sizeof **list[i]);
        status = *list[i] ? VS_OK : VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < sizeof lists / sizeof *lists && status == VS_OK; i++) {
        *lists[i] = calloc(patches, sizeof **lists[i]);
        status = *lists[i] ? VS_OK : VS_ERR_MEMORY;
    }
    if (status != VS_OK) {
        vs_transport_free(t);
    }
    return status;
}

void vs_transport_free(vs_transport *t) {
    const vs_transport blank = {0};
    vs_radiosity_work_free(&t->solving);
    free(t->lamp);
    free(t->sent);
    free(t->next);
    free(t->behind);
    free(t->seen);
    free(t->all_seen);
    free(t->landed_lm);
    free(t->step_nits);
    free(t->nits);
    *t = blank;
}

static bool same_phase(const vs_phase *a, const vs_phase *b) {
    return a->kind == b->kind && a->g == b->g && a->value == b->value && a->count == b->count;
}

bool vs_medium_is_grey(const vs_medium *medium) {
    const vs_haze *haze = medium->haze;
    bool grey = true, clear = true;
    for (int band = 1; band < VS_BAND_COUNT; band++) {
        grey = grey && medium->ratio.v[band] == medium->ratio.v[0] &&
               haze->albedo.v[band] == haze->albedo.v[0] &&
               same_phase(&haze->phase[band], &haze->phase[0]);
    }
    for (size_t r = 0; r < medium->space->room_count; r++) {
        clear = clear && medium->room_extinction_per_m[r] == 0;
    }
    return grey || clear;
}

/* What is being solved. */
typedef struct {
    vs_transport *t;
    const vs_mesh *mesh;
    const vs_medium *medium;
    const vs_scattering *scattering;
    size_t band, count;
    const vs_tracing *const *walks;
    vs_field *const *field;
    vs_air_band lamps, air; /* how droplets take lamps' own light, and all other */
    double share[LANES];    /* of lamps' light that haze takes, what it scatters */
    double air_share;       /* of other light */
    bool seen[LANES];       /* no thin beams tell its light scattered once */
} solver;

/* Of the light that haze takes, what is scattered off its way; droplets keep the rest. */
static double scattered_share(const vs_split_phase *split, const vs_haze *haze, size_t band) {
    double albedo = haze->albedo.v[band], off = albedo * (1 - split->straight[band]);
    return off / (off + 1 - albedo);
}

static void take_split(vs_air_band *band, size_t lane, const vs_split_phase *split, size_t b) {
    for (int l = 0; l <= VS_SH_ORDER; l++) {
        band->rest[lane][l] = split->rest[b][l] * 4 * VS_PI / (2 * l + 1);
    }
}

static void make_bands(solver *s) {
    const vs_haze *haze = s->medium->haze;
    const vs_split_phase *wide = &s->scattering->wide;
    s->air.room_extinction_per_m = s->medium->room_extinction_per_m;
    s->air.rate = s->medium->ratio.v[s->band];
    s->air.dimming = wide->dimming.v[s->band];
    s->air.albedo = haze->albedo.v[s->band];
    s->air_share = scattered_share(wide, haze, s->band);
    s->lamps = s->air;
    for (size_t l = 0; l < LANES; l++) {
        bool narrow = l < s->count && s->walks[l]->narrow;
        const vs_split_phase *split = vs_split_of(s->scattering, narrow);
        take_split(&s->air, l, wide, s->band);
        take_split(&s->lamps, l, split, s->band);
        s->share[l] = scattered_share(split, haze, s->band);
        s->seen[l] = !narrow;
    }
}

/* Extinction of a lamp's own light over that at 549 nm, as its split dims it. */
static double lamp_rate(const solver *s, size_t lane) {
    const vs_split_phase *split = vs_split_of(s->scattering, s->walks[lane]->narrow);
    return s->air.rate * split->dimming.v[s->band];
}

/* ---- light straight from the emitter ---- */

/* On patches and pools; in step_nits: what patches give back of it, pools evenly spread. */
static void light_surfaces(const solver *s, size_t lane) {
    size_t patches = s->mesh->patch_count;
    const vs_tracing *walks = s->walks[lane];
    vs_field *f = s->field[lane];
    double rate = lamp_rate(s, lane), *pool_cd = f->pool_cd + s->band;
    for (size_t i = 0; i < walks->pool_count; i++) {
        pool_cd[i * VS_BAND_COUNT] = 0;
    }
    for (size_t i = 0; i < walks->direct_count; i++) {
        const vs_direct *d = &walks->direct[i];
        double depth = 0;
        for (uint32_t r = 0; r < d->room_count; r++) {
            depth += d->length_m[r] * s->medium->room_extinction_per_m[d->room[r]];
        }
        double lumens = d->lumens * exp(-rate * depth);
        if (d->target < patches) {
            const vs_patch *patch = &s->mesh->patch[d->target];
            s->t->step_nits[d->target * LANES + lane] +=
                lumens * patch->reflectance / (VS_PI * patch->area_m2);
        } else {
            pool_cd[(d->target - patches) * VS_BAND_COUNT] += lumens;
        }
    }
}

/* Pools: from lumens to luminance x area, parts to their wholes, wholes to their patches. */
static void join_pools(const solver *s, size_t lane) {
    const vs_tracing *walks = s->walks[lane];
    vs_field *f = s->field[lane];
    double *pooled = f->pooled_nits + s->band * s->mesh->patch_count;
    memset(pooled, 0, s->mesh->patch_count * sizeof *pooled);
    for (size_t i = walks->pool_count; i-- > 0;) { /* parts stand behind their wholes */
        const vs_pool *pool = &walks->pool[i];
        const vs_patch *patch = &s->mesh->patch[pool->patch];
        double *cd = &f->pool_cd[i * VS_BAND_COUNT + s->band], lumens = *cd;
        *cd = lumens * patch->reflectance / VS_PI;
        if (pool->parent != VS_LEG_NONE) {
            f->pool_cd[pool->parent * VS_BAND_COUNT + s->band] += lumens;
        } else {
            pooled[pool->patch] += *cd / patch->area_m2;
            s->t->step_nits[pool->patch * LANES + lane] += *cd / patch->area_m2;
        }
    }
}

/* In the air. Returns what haze scatters of it [lm]. */
static double light_air(const solver *s, size_t lane) {
    const vs_tracing *walks = s->walks[lane];
    double rate = lamp_rate(s, lane), lost = 0;
    for (size_t c = 0; c < walks->chain_count; c++) {
        const vs_chain *chain = &walks->chain[c];
        double light = chain->lumens;
        for (uint32_t i = chain->leg_first; i < chain->leg_first + chain->leg_count; i++) {
            const vs_leg *leg = &walks->leg[i];
            double k = rate * s->medium->room_extinction_per_m[leg->room];
            vs_air_crossing crossing[VS_AIR_CROSSINGS_MAX];
            double per_m3 = 1 / vs_mesh_cell_volume_m3(&s->mesh->cells[leg->room]);
            double y[VS_SH_COUNT], passed = 1;
            vs_vec3 way = vs_leg_way(leg);
            size_t count = k > 0 ? vs_air_cross(s->mesh, leg->room, vs_leg_from(leg), way,
                                                (double)leg->length_m, crossing)
                                 : 0;
            vs_sh(way, y);
            for (size_t n = 0; n < count; n++) {
                double part_m = (double)crossing[n].length_m, next = passed * exp(-k * part_m);
                double here = light * 0.5 * (passed + next) * part_m * per_m3;
                float *cell = s->t->lamp + crossing[n].cell * VS_AIR_MOMENTS + lane;
                for (int h = 0; h < VS_SH_COUNT; h++) {
                    cell[h * LANES] += (float)(here * y[h]);
                }
                passed = next;
            }
            lost += light * (1 - passed);
            light *= passed * (double)leg->onward;
        }
    }
    return lost * s->share[lane];
}

/* ---- rounds ---- */

static void clear_moments(const solver *s, float *moment) {
    memset(moment, 0, moments(s->t) * sizeof *moment);
}

/* Adds the moments of all lights, or of those marked. */
static void add_moments(const solver *s, const float *more, const bool *marked, float *sum) {
    for (size_t i = 0; i < moments(s->t); i += LANES) {
        for (size_t l = 0; l < LANES; l++) {
            sum[i + l] += !marked || marked[l] ? more[i + l] : 0;
        }
    }
}

static void swap(float **a, float **b) {
    float *c = *a;
    *a = *b;
    *b = c;
}

/* Scatters what is in `sent` over and over.
 *     before  what was scattered the time before
 *     due     what of it is scattered; the last time: what is left, summed as a series */
static void scatter_on(solver *s, int times, double before[LANES], double due[LANES]) {
    vs_transport *t = s->t;
    for (int n = 0; n < times; n++) {
        double lost[LANES] = {0}, now[LANES];
        for (int l = 0; l < LANES; l++) {
            double ratio = before[l] > 0 ? fmin(RATIO_MOST, due[l] / before[l]) : 0;
            now[l] = n == times - 1 ? due[l] / (1 - ratio) : due[l];
            before[l] = due[l];
        }
        clear_moments(s, t->next);
        clear_moments(s, t->behind);
        vs_air_scatter(t->air, &s->air, t->sent, now, t->next, t->behind, t->landed_lm, lost);
        add_moments(s, t->next, NULL, t->seen);
        add_moments(s, t->behind, NULL, t->next);
        for (int l = 0; l < LANES; l++) {
            due[l] = lost[l] * s->air_share;
        }
        swap(&t->sent, &t->next);
    }
}

/* From light on surfaces to what they give back; with what droplets behind openings send. */
static void give_back(solver *s) {
    vs_transport *t = s->t;
    const vs_radiosity *r = t->radiosity;
    for (size_t i = 0; i < s->mesh->patch_count; i++) {
        const vs_patch *patch = &s->mesh->patch[i];
        double by = patch->reflectance / (VS_PI * patch->area_m2);
        for (size_t l = 0; l < LANES; l++) {
            t->solving.source[i * LANES + l] = by * t->landed_lm[i * LANES + l];
        }
    }
    for (size_t i = 0; i < r->through_count; i++) {
        const vs_row_through *row = &r->through[i];
        const vs_patch *patch = &s->mesh->patch[row->row];
        double by = patch->reflectance * patch->presence * t->solving.through[i];
        const float *cell = t->seen + row->cell * VS_AIR_MOMENTS;
        for (size_t l = 0; l < LANES && row->patch == VS_ROW_AIR; l++) {
            double light = 0;
            for (size_t n = 0; n < VS_SH_COUNT; n++) {
                light += (double)(cell[n * LANES + l] * row->harmonic[n]);
            }
            t->solving.source[row->row * LANES + l] += by * fmax(0, light);
        }
    }
}

static void add_step(solver *s) {
    vs_transport *t = s->t;
    for (size_t i = 0; i < s->mesh->patch_count * LANES; i++) {
        t->nits[i] += t->step_nits[i];
    }
}

static void sum_light(const solver *s, double lumens[LANES]) {
    for (size_t i = 0; i < s->mesh->patch_count * LANES; i++) {
        lumens[i % LANES] += VS_PI * s->mesh->patch[i / LANES].area_m2 * s->t->step_nits[i];
    }
}

/* One round from the surfaces' step through the air onto surfaces.
 *     lamp_due  what haze scatters of lamps' own light, in the first round; else NULL */
static void go_round(solver *s, int times, const double *lamp_due) {
    vs_transport *t = s->t;
    double lost[LANES] = {0}, again[LANES] = {0}, before[LANES], due[LANES];
    memset(t->landed_lm, 0, s->mesh->patch_count * LANES * sizeof *t->landed_lm);
    clear_moments(s, t->seen);
    clear_moments(s, t->sent);
    clear_moments(s, t->next);
    vs_air_send(t->air, &s->air, t->step_nits, t->sent, lost);
    for (int l = 0; l < LANES; l++) {
        due[l] = lost[l] * s->air_share;
    }
    clear_moments(s, t->behind);
    vs_air_scatter(t->air, &s->air, t->sent, due, t->next, t->behind, t->landed_lm, again);
    add_moments(s, t->next, NULL, t->seen);
    if (lamp_due) {
        clear_moments(s, t->sent);
        vs_air_scatter(t->air, &s->lamps, t->lamp, lamp_due, t->sent, t->behind, t->landed_lm,
                       again);
        add_moments(s, t->sent, s->seen, t->seen);
        add_moments(s, t->sent, NULL, t->next);
    }
    add_moments(s, t->behind, NULL, t->next);
    for (int l = 0; l < LANES; l++) {
        before[l] = due[l] + (lamp_due ? lamp_due[l] : 0);
        due[l] = again[l] * s->air_share;
    }
    swap(&t->sent, &t->next);
    scatter_on(s, times - 1, before, due);
    add_moments(s, t->seen, NULL, t->all_seen);
}

/* The last round stands for itself and all that would follow. */
static void sum_series(solver *s, const double before[LANES], const double now[LANES]) {
    double scale[LANES];
    for (int l = 0; l < LANES; l++) {
        double ratio = before[l] > 0 ? fmin(RATIO_MOST, now[l] / before[l]) : 0;
        scale[l] = 1 / (1 - ratio);
    }
    for (size_t i = 0; i < s->mesh->patch_count * LANES; i++) {
        s->t->step_nits[i] *= scale[i % LANES];
    }
}

static vs_status go_rounds(solver *s, const double *lamp_due) {
    double before[LANES] = {0};
    vs_status status = VS_OK;
    for (int round = 0; round < ROUNDS && status == VS_OK; round++) {
        double now[LANES] = {0};
        sum_light(s, now);
        if (round == ROUNDS - 1) {
            sum_series(s, before, now);
        }
        add_step(s);
        go_round(s, round == 0 ? SCATTERINGS : (SCATTERINGS + 1) / 2, round == 0 ? lamp_due : NULL);
        if (round < ROUNDS - 1) {
            give_back(s);
            status = vs_radiosity_solve(s->t->radiosity, &s->t->solving);
            memcpy(s->t->step_nits, s->t->solving.nits,
                   s->mesh->patch_count * LANES * sizeof *s->t->step_nits);
        }
        memcpy(before, now, sizeof before);
    }
    return status;
}

/* ---- all of it ---- */

static void keep(const solver *s, size_t lane) {
    const vs_transport *t = s->t;
    vs_field *f = s->field[lane];
    size_t patches = s->mesh->patch_count;
    for (size_t i = 0; i < patches; i++) {
        f->nits[s->band * patches + i] = t->nits[i * LANES + lane];
    }
    for (size_t i = 0; i < s->mesh->cell_count; i++) {
        float *cell = f->cell + (i * VS_BAND_COUNT + s->band) * VS_SH_COUNT;
        for (size_t n = 0; n < VS_SH_COUNT; n++) {
            cell[n] = t->all_seen[i * VS_AIR_MOMENTS + n * LANES + lane];
        }
    }
}

vs_status vs_transport_solve(vs_transport *t, const vs_medium *medium,
                             const vs_scattering *scattering, size_t band,
                             const vs_tracing *const *walks, vs_field *const *field, size_t count) {
    solver s = {.t = t,
                .mesh = t->air->mesh,
                .medium = medium,
                .scattering = scattering,
                .band = band,
                .count = count,
                .walks = walks,
                .field = field};
    size_t patches = s.mesh->patch_count * LANES;
    double lamp_due[LANES] = {0}, hazy = 0;
    make_bands(&s);
    clear_moments(&s, t->lamp);
    clear_moments(&s, t->all_seen);
    memset(t->step_nits, 0, patches * sizeof *t->step_nits);
    memset(t->nits, 0, patches * sizeof *t->nits);
    for (size_t l = 0; l < count; l++) {
        light_surfaces(&s, l);
        join_pools(&s, l);
        lamp_due[l] = light_air(&s, l);
    }
    for (size_t r = 0; r < medium->space->room_count; r++) {
        hazy += medium->room_extinction_per_m[r];
    }
    vs_radiosity_dim(t->radiosity, medium->room_extinction_per_m, s.air.rate * s.air.dimming,
                     &t->solving);
    memcpy(t->solving.source, t->step_nits, patches * sizeof *t->step_nits);
    vs_status status = vs_radiosity_solve(t->radiosity, &t->solving);
    memcpy(t->step_nits, t->solving.nits, patches * sizeof *t->step_nits);
    if (status == VS_OK && hazy > 0) {
        status = go_rounds(&s, lamp_due);
    } else {
        memcpy(t->nits, t->step_nits, patches * sizeof *t->nits);
    }
    for (size_t l = 0; l < count && status == VS_OK; l++) {
        keep(&s, l);
    }
    return status;
}
