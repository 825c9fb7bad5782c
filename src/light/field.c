/* In a haze of extinction k a leg of length s passes exp(-k s) of its light on; the droplet at s
 * on it stands for k exp(-k s) p of it. What a surface stops is tallied there; light on its way from
 * a droplet leaves its harmonics in the cells it crosses: fluence = light x way / volume. */
#include "light/field.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"

vs_status vs_field_init(vs_field *f, const vs_mesh *mesh, const vs_tracing *tracing) {
    const vs_field blank = {0};
    *f = blank;
    f->nits = calloc(mesh->patch_count * VS_BAND_COUNT + 1, sizeof *f->nits);
    f->pooled_nits = calloc(mesh->patch_count * VS_BAND_COUNT + 1, sizeof *f->pooled_nits);
    f->pool_cd = calloc(tracing->pool_count * VS_BAND_COUNT + 1, sizeof *f->pool_cd);
    f->cell = calloc(mesh->cell_count * VS_BAND_COUNT * VS_SH_COUNT + 1, sizeof *f->cell);
    if (!f->nits || !f->pooled_nits || !f->pool_cd || !f->cell) {
        vs_field_free(f);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_field_free(vs_field *f) {
    const vs_field blank = {0};
    free(f->nits);
    free(f->pooled_nits);
    free(f->pool_cd);
    free(f->cell);
    *f = blank;
}

typedef struct {
    vs_field *field;
    const vs_mesh *mesh;
    const vs_tracing *tracing;
    const vs_medium *medium;
    const vs_scattering *scattering;
    double *start;       /* leg x band: what sets out on it */
    vs_bands scattered;  /* by droplets, of the generation in hand */
} filler;

/* ---- light on its way from a droplet ---- */

/* One axis of a walk through cells. Source: Amanatides & Woo 1987, Eurographics, 3. */
typedef struct {
    long cell, step, end;
    double next_m, each_m;
} axis_walk;

static axis_walk begin_axis(double at, double way, double low, double high, size_t count) {
    double size = (high - low) / (double)count, place = (at - low) / size;
    axis_walk a = {.cell = (long)fmin(fmax(floor(place), 0), (double)count - 1)};
    a.step = way > 0 ? 1 : -1;
    a.end = way > 0 ? (long)count : -1;
    a.each_m = way != 0 ? fabs(size / way) : (double)INFINITY;
    double border = low + size * (double)(a.cell + (way > 0));
    a.next_m = way != 0 ? (border - at) / way : (double)INFINITY;
    return a;
}

static void leave(const filler *f, size_t cell, const double *light, const float *y) {
    float *sum = f->field->cell + cell * VS_BAND_COUNT * VS_SH_COUNT;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float w = (float)light[band];
        for (int i = 0; i < VS_SH_COUNT; i++) {
            sum[band * VS_SH_COUNT + i] += w * y[i];
        }
    }
}

static void cross_cells(const filler *f, const vs_leg *leg, const double *start, vs_bands k) {
    const vs_cell_grid *g = &f->mesh->cells[leg->room];
    vs_vec3 at = vs_leg_from(leg), way = vs_leg_way(leg);
    const vs_box *box = &g->box;
    axis_walk a[3] = {begin_axis(at.x, way.x, box->low_m.x, box->high_m.x, g->count[0]),
                      begin_axis(at.y, way.y, box->low_m.y, box->high_m.y, g->count[1]),
                      begin_axis(at.z, way.z, box->low_m.z, box->high_m.z, g->count[2])};
    double harmonic[VS_SH_COUNT], per_m3 = 1 / vs_mesh_cell_volume_m3(g), so_far = 0;
    float y[VS_SH_COUNT];
    const double length_m = (double)leg->length_m;
    vs_sh(way, harmonic);
    for (int i = 0; i < VS_SH_COUNT; i++) {
        y[i] = (float)harmonic[i];
    }
    while (so_far < length_m) {
        int i = a[0].next_m <= a[1].next_m && a[0].next_m <= a[2].next_m ? 0
                : a[1].next_m <= a[2].next_m                             ? 1
                                                                         : 2;
        double to = fmin(a[i].next_m, length_m), light[VS_BAND_COUNT];
        size_t cell = g->first + ((size_t)a[2].cell * g->count[1] + (size_t)a[1].cell) * g->count[0] +
                      (size_t)a[0].cell;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            light[band] = start[band] * exp(-k.v[band] * 0.5 * (so_far + to)) *
                          fmax(0, to - so_far) * per_m3;
        }
        leave(f, cell, light, y);
        so_far = fmax(to, so_far);
        a[i].cell += a[i].step;
        a[i].next_m += a[i].each_m;
        if (a[i].cell == a[i].end) {
            break;
        }
    }
}

/* ---- chains ---- */

static void stop(const filler *f, const vs_leg *leg, const double *arrived) {
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        f->field->nits[band * f->mesh->patch_count + leg->target] +=
            arrived[band] * (double)leg->stopped;
    }
}

/* How light of an origin is split at droplets. */
static const vs_split_phase *split_of(const filler *f, uint8_t origin) {
    return vs_split_of(f->scattering, f->tracing->narrow && origin == VS_LEG_FROM_LAMP);
}

static vs_bands dimming_per_m(const filler *f, uint8_t origin, double k) {
    return vs_bands_scale(vs_bands_mul(f->medium->ratio, split_of(f, origin)->dimming), k);
}

/* Light straight from the emitter, on patches and pools. */
static void light_directly(const filler *f) {
    size_t patches = f->mesh->patch_count;
    for (size_t i = 0; i < f->tracing->direct_count; i++) {
        const vs_direct *d = &f->tracing->direct[i];
        double depth = 0;
        for (uint32_t r = 0; r < d->room_count; r++) {
            depth += d->length_m[r] * f->medium->room_extinction_per_m[d->room[r]];
        }
        vs_bands rate = dimming_per_m(f, VS_LEG_FROM_LAMP, 1), lumens;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            lumens.v[band] = d->lumens * exp(-rate.v[band] * depth);
        }
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            double *sum = d->target < patches
                              ? &f->field->nits[band * patches + d->target]
                              : &f->field->pool_cd[(d->target - patches) * VS_BAND_COUNT + band];
            *sum += lumens.v[band];
        }
    }
}

/* Of the light that a leg loses, what is scattered off its way; droplets keep the rest. */
static double scattered_share(const filler *f, uint8_t origin, int band) {
    double albedo = f->medium->haze->albedo.v[band];
    double off = albedo * (1 - split_of(f, origin)->straight[band]);
    return off / (off + 1 - albedo);
}

static void follow(filler *f, const vs_chain *chain, const double *begin) {
    double light[VS_BAND_COUNT] = {begin[0], begin[1], begin[2]};
    for (uint32_t i = chain->leg_first; i < chain->leg_first + chain->leg_count; i++) {
        const vs_leg *leg = &f->tracing->leg[i];
        double k = f->medium->room_extinction_per_m[leg->room];
        vs_bands per_m = dimming_per_m(f, leg->origin, k);
        memcpy(f->start + (size_t)i * VS_BAND_COUNT, light, sizeof light);
        if (leg->origin == VS_LEG_FROM_AIR) {
            cross_cells(f, leg, light, per_m);
        }
        for (int band = 0; band < VS_BAND_COUNT && k > 0; band++) {
            double passed = light[band] * exp(-per_m.v[band] * (double)leg->length_m);
            f->scattered.v[band] += (light[band] - passed) * scattered_share(f, leg->origin, band);
            light[band] = passed;
        }
        if (leg->target != VS_LEG_NONE &&
            (leg->origin == VS_LEG_FROM_AIR || leg->origin == VS_LEG_FROM_BEAM_AIR)) {
            stop(f, leg, light);
        }
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            light[band] *= (double)leg->onward;
        }
    }
}

/* What a droplet scatters into a chain, of what sets out on the parent leg. */
static void scattered(const filler *f, const vs_chain *chain, double *begin) {
    const vs_leg *leg = &f->tracing->leg[chain->parent];
    const vs_haze *haze = f->medium->haze;
    double k = f->medium->room_extinction_per_m[leg->room], cosine = (double)chain->cosine;
    const vs_split_phase *split = split_of(f, leg->origin);
    vs_bands per_m = dimming_per_m(f, leg->origin, k);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double start = f->start[(size_t)chain->parent * VS_BAND_COUNT + (size_t)band];
        double phase = vs_split_phase_per_sr(split, band, cosine);
        begin[band] = k > 0 ? start * k * f->medium->ratio.v[band] * haze->albedo.v[band] * phase /
                                  (double)chain->per_sr * chain->share *
                                  exp(-per_m.v[band] * (double)chain->parent_at_m)
                            : 0;
    }
}

/* Chains that haze begins: what they carry together is what haze scattered of those before. */
static void follow_generation(filler *f, size_t first, size_t end, double *work) {
    vs_bands found = vs_bands_grey(0), due = f->scattered, scale;
    f->scattered = vs_bands_grey(0);
    for (size_t i = first; i < end; i++) {
        double *begin = work + (i - first) * VS_BAND_COUNT;
        scattered(f, &f->tracing->chain[i], begin);
        vs_bands b = {{begin[0], begin[1], begin[2]}};
        found = vs_bands_add(found, b);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        scale.v[band] = found.v[band] > 0 ? due.v[band] / found.v[band] : 0;
    }
    for (size_t i = first; i < end; i++) {
        double *begin = work + (i - first) * VS_BAND_COUNT;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            begin[band] *= scale.v[band];
        }
        follow(f, &f->tracing->chain[i], begin);
    }
}

static void clear(vs_field *f, const vs_mesh *mesh, const vs_tracing *tracing) {
    size_t patches = mesh->patch_count * VS_BAND_COUNT;
    memset(f->nits, 0, patches * sizeof *f->nits);
    memset(f->pooled_nits, 0, patches * sizeof *f->pooled_nits);
    memset(f->pool_cd, 0, tracing->pool_count * VS_BAND_COUNT * sizeof *f->pool_cd);
    memset(f->cell, 0, mesh->cell_count * VS_BAND_COUNT * VS_SH_COUNT * sizeof *f->cell);
}

/* From lumens stopped to luminance given back: L = reflectance x lumens / (pi x area). */
static void give_back(vs_field *f, const vs_mesh *mesh, const vs_tracing *tracing) {
    size_t patches = mesh->patch_count;
    for (size_t i = tracing->pool_count; i-- > 0;) { /* parts before their wholes */
        const vs_pool *pool = &tracing->pool[i];
        const vs_patch *patch = &mesh->patch[pool->patch];
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            double lumens = f->pool_cd[i * VS_BAND_COUNT + band];
            f->pool_cd[i * VS_BAND_COUNT + band] = lumens * patch->reflectance / VS_PI;
            if (pool->parent != VS_LEG_NONE) {
                f->pool_cd[pool->parent * VS_BAND_COUNT + band] += lumens;
            } else {
                f->pooled_nits[band * patches + pool->patch] +=
                    lumens * patch->reflectance / (VS_PI * patch->area_m2);
            }
        }
    }
    for (size_t i = 0; i < patches * VS_BAND_COUNT; i++) {
        const vs_patch *patch = &mesh->patch[i % patches];
        f->nits[i] *= patch->reflectance / (VS_PI * patch->area_m2);
    }
}

void vs_field_fill(vs_field *field, const vs_mesh *mesh, const vs_tracing *tracing,
                   const vs_medium *medium, const vs_scattering *scattering, double *work) {
    filler f = {.field = field,
                .mesh = mesh,
                .tracing = tracing,
                .medium = medium,
                .scattering = scattering};
    f.start = work;
    double *begin = work + tracing->leg_count * VS_BAND_COUNT;
    clear(field, mesh, tracing);
    light_directly(&f);
    for (size_t i = 0; tracing->generation_count > 0 && i < tracing->generation_end[0]; i++) {
        double lumens = tracing->chain[i].share;
        const double all[VS_BAND_COUNT] = {lumens, lumens, lumens};
        follow(&f, &tracing->chain[i], all);
    }
    for (size_t g = 1; g < tracing->generation_count; g++) {
        if (!(f.scattered.v[0] > 0 || f.scattered.v[1] > 0 || f.scattered.v[2] > 0)) {
            break;
        }
        follow_generation(&f, tracing->generation_end[g - 1], tracing->generation_end[g], begin);
    }
    give_back(field, mesh, tracing);
}
