/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From an emitter and lines of sight to uninterrupted intervals, and from those to nodes.
 * Method: docs/physics.md, "The fast veil integral". */
#include "veilstop/light/airlight_fast.h"

#include "light/airlight/airlight_fast_hidden.h"
#include "light/airlight/airlight_fast_interval.h"
#include "light/airlight/airlight_fast_surface.h"

#define BATCH             64  /* lines integrated together */
#define FINENESS_FIRST    1.0 /* elements of a partly hidden surface: size over distance */
#define FINENESS_LAST     0.03
#define CONVERGED         5e-4 /* [1] change at which they are fine enough */
#define PARALLEL_RELATIVE 1e-4 /* [1] for a closed form: any value will do */
#define AT_MOST           1.02 /* [1] over twice the errors of both integrals */
#define BETWEEN_MAX       128  /* blockers between a line and a surface; if more, all are taken */

/* An emitter and up to BATCH lines. */
typedef struct {
    vs_airlight *work;
    const vs_medium *medium; /* one a step; all but the depths are those of the first */
    const vs_emitter *emitter;
    const vs_camera_ray *sight; /* in the first */
    size_t count;
    vs_fast_haze haze;
} batch;

/* Adds the intervals of a segment that one point source lights, apart from its profile.
 * share  of the emitter */
static void add_segment(const batch *b, vs_fast_points *points, size_t ray,
                        const vs_ray_segment *segment, const vs_point_source *source,
                        double share) {
    const vs_camera_ray *sight = &b->sight[ray];
    if (vs_shaft_open_to_point(b->medium->space, sight, segment, source)) {
        vs_shaft whole;
        whole.from_m = segment->from_m;
        whole.to_m = segment->to_m;
        whole.transmittance = 1;
        whole.crossing_count = 0;
        vs_fast_points_add(points, ray, sight, segment, source->at_m, &whole, share);
        return;
    }
    vs_shaft shaft[VS_SHAFT_MAX];
    size_t count = vs_shaft_from_point(b->medium, sight, segment, source, shaft);
    for (size_t k = 0; k < count; k++) {
        vs_fast_points_add(points, ray, sight, segment, source->at_m, &shaft[k], share);
    }
}

/* Adds what sums stand for, step by step: albedo, extinction ratio, strength. */
static void add_nits(const batch *b, const double *sum, vs_bands *nits) {
    for (int step = 0; step < b->haze.step_count; step++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            nits[step].v[band] += vs_fast_sum(&b->haze, sum, band, step) *
                                  b->medium->haze->albedo.v[band] * b->medium->ratio.v[band] *
                                  b->emitter->strength.v[band];
        }
    }
}

static void point_batch(const batch *b, vs_bands *nits) {
    const vs_emitter *e = b->emitter;
    vs_point_source source = {e->at_m, e->strength, e, e->profile, e->axis};
    double sum[BATCH][VS_FAST_BANDS];
    memset(sum, 0, b->count * sizeof sum[0]);
    vs_fast_points points;
    vs_fast_points_begin(&points, &b->haze, e, e->profile, sum);
    for (size_t ray = 0; ray < b->count; ray++) {
        const vs_camera_ray *sight = &b->sight[ray];
        for (size_t i = 0; i < sight->segment_count; i++) {
            if (sight->segment[i].extinction_per_m > 0) {
                add_segment(b, &points, ray, &sight->segment[i], &source, 1);
            }
        }
    }
    vs_fast_points_end(&points);
    for (size_t ray = 0; ray < b->count; ray++) {
        add_nits(b, sum[ray], nits + ray * (size_t)b->haze.step_count);
    }
}

/* The part of the emitter that a point represents [m2 or m]. */
static double share_of(const vs_emitter *emitter, const vs_point_source *source) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        if (emitter->strength.v[band] > 0) {
            return source->candela.v[band] / emitter->strength.v[band];
        }
    }
    return 0;
}

/* A segment of a line and a possibly obstructed surface: a sum of points. */
static vs_status sum_of_points(const batch *b, size_t ray, const vs_ray_segment *segment,
                               double fineness, double *sum) {
    const vs_camera_ray *sight = &b->sight[ray];
    vs_point_sources *sources = &b->work->sources;
    double all[BATCH][VS_FAST_BANDS];
    memset(all[ray], 0, sizeof all[ray]);
    vs_status status =
        vs_emitter_points(b->emitter, vs_camera_ray_point(sight, segment->from_m),
                          vs_camera_ray_point(sight, segment->to_m), fineness, sources);
    if (status == VS_OK && sources->count > 0) {
        vs_fast_points points;
        vs_fast_points_begin(&points, &b->haze, b->emitter, sources->item[0].profile, all);
        for (size_t i = 0; i < sources->count; i++) {
            add_segment(b, &points, ray, segment, &sources->item[i],
                        share_of(b->emitter, &sources->item[i]));
        }
        vs_fast_points_end(&points);
    }
    memcpy(sum, all[ray], sizeof all[ray]);
    return status;
}

/* Increasingly fine points until the sum changes little. */
static vs_status hidden_segment(const batch *b, size_t ray, const vs_ray_segment *segment,
                                vs_bands *nits) {
    double before[VS_FAST_BANDS] = {0}, now[VS_FAST_BANDS] = {0};
    int refine_band = b->haze.refine_band;
    vs_status status = sum_of_points(b, ray, segment, FINENESS_FIRST, now);
    for (double fineness = FINENESS_FIRST / 2; status == VS_OK; fineness /= 2) {
        memcpy(before, now, sizeof now);
        status = sum_of_points(b, ray, segment, fineness, now);
        if (fabs(now[refine_band] - before[refine_band]) <= CONVERGED * now[refine_band] ||
            fineness < FINENESS_LAST) {
            break;
        }
    }
    add_nits(b, now, nits);
    return status;
}

/* One segment of a line and a surface: only the blockers that may be in between count. */
static vs_status surface_segment(const batch *b, size_t ray, const vs_ray_segment *segment,
                                 vs_bands *nits) {
    const vs_camera_ray *sight = &b->sight[ray];
    vs_blocker between[BETWEEN_MAX];
    vs_space near =
        vs_shaft_space_between(b->medium->space, sight, segment, b->emitter, between, BETWEEN_MAX);
    vs_medium medium = *b->medium;
    batch with_near = *b;
    medium.space = &near;
    with_near.medium = &medium;
    if (near.blocker_count == 0 && segment->room == vs_emitter_whole_room(b->emitter)) {
        vs_fast_add_surface(&medium, &b->haze, sight, segment, b->emitter, nits);
        return VS_OK;
    }
    return vs_fast_add_hidden(&medium, &b->haze, sight, segment, b->emitter, nits)
               ? VS_OK
               : hidden_segment(&with_near, ray, segment, nits);
}

static vs_status surface_line(const batch *b, size_t ray, vs_bands *nits) {
    const vs_camera_ray *sight = &b->sight[ray];
    vs_status status = VS_OK;
    for (size_t i = 0; i < sight->segment_count && status == VS_OK; i++) {
        if (sight->segment[i].extinction_per_m > 0) {
            status = surface_segment(b, ray, &sight->segment[i], nits);
        }
    }
    return status;
}

/* The line in one step's haze. */
static vs_camera_ray line_at(const batch *b, size_t ray, int step) {
    vs_camera_ray sight = b->sight[ray];
    for (size_t i = 0; i < sight.segment_count && step > 0; i++) {
        sight.segment[i].extinction_per_m *= b->haze.step[step];
        sight.segment[i].depth *= b->haze.step[step];
    }
    return sight;
}

static vs_status parallel_line(const batch *b, size_t ray, vs_bands *nits) {
    vs_status status = VS_OK;
    for (int step = 0; step < b->haze.step_count && status == VS_OK; step++) {
        vs_camera_ray sight = line_at(b, ray, step);
        status = vs_airlight_adaptive(b->work, &b->medium[step], &sight, b->emitter,
                                      PARALLEL_RELATIVE, &nits[step]);
    }
    return status;
}

static vs_status run_batch(const batch *b, vs_bands *nits) {
    size_t steps = (size_t)b->haze.step_count;
    vs_status status = VS_OK;
    for (size_t i = 0; i < b->count * steps; i++) {
        nits[i] = vs_bands_grey(0);
    }
    if (b->emitter->kind == VS_EMITTER_POINT) {
        point_batch(b, nits);
        return VS_OK;
    }
    for (size_t ray = 0; ray < b->count && status == VS_OK; ray++) {
        vs_bands *at = nits + ray * steps;
        status = b->emitter->kind == VS_EMITTER_PARALLEL ? parallel_line(b, ray, at)
                                                         : surface_line(b, ray, at);
    }
    return status;
}

vs_status vs_airlight_fast_steps(vs_airlight *work, const vs_medium *medium, const double *step,
                                 size_t step_count, const vs_emitter *emitter,
                                 const vs_camera_ray *sight, size_t count, vs_bands *nits) {
    batch b = {.work = work, .medium = medium, .emitter = emitter};
    bool good = step_count > 0 && step_count <= VS_AIRLIGHT_STEPS_MAX &&
                vs_fast_haze_make(medium, step, step_count, &work->nodes, &b.haze);
    vs_status status = good ? VS_OK : VS_ERR_DOMAIN;
    for (size_t i = 0; i < count && status == VS_OK; i += BATCH) {
        b.sight = sight + i;
        b.count = count - i < BATCH ? count - i : BATCH;
        status = run_batch(&b, nits + i * step_count);
    }
    for (size_t i = 0; i < count * step_count && status != VS_OK; i++) {
        nits[i] = vs_bands_grey(NAN);
    }
    return status;
}

vs_status vs_airlight_fast_many(vs_airlight *work, const vs_medium *medium,
                                const vs_emitter *emitter, const vs_camera_ray *sight, size_t count,
                                vs_bands *nits) {
    const double step = 1;
    return vs_airlight_fast_steps(work, medium, &step, 1, emitter, sight, count, nits);
}

vs_status vs_airlight_fast(vs_airlight *work, const vs_medium *medium, const vs_camera_ray *sight,
                           const vs_emitter *emitter, vs_bands *nits) {
    return vs_airlight_fast_many(work, medium, emitter, sight, 1, nits);
}

/* The longest straight line between a segment and an emitter. */
static double farthest_m(const vs_camera_ray *sight, const vs_ray_segment *segment,
                         const vs_emitter *emitter) {
    vs_vec3 corner[4] = {emitter->at_m, emitter->at_m, emitter->at_m, emitter->at_m};
    double most = 0;
    if (emitter->kind == VS_EMITTER_RECT) {
        vs_rect_corners(&emitter->rect, corner);
    } else {
        corner[1] = vs_vec3_along(emitter->at_m, emitter->axis, emitter->length_m);
    }
    for (int i = 0; i < 4; i++) {
        vs_vec3 from = vs_vec3_sub(vs_camera_ray_point(sight, segment->from_m), corner[i]);
        vs_vec3 to = vs_vec3_sub(vs_camera_ray_point(sight, segment->to_m), corner[i]);
        most = fmax(most, fmax(vs_vec3_length(from), vs_vec3_length(to)));
    }
    return most;
}

/* By how much light that comes through other rooms may be over what it would be in this one's haze:
 * there may be none on its way. */
static vs_bands thinner_by(const vs_medium *medium, const vs_camera_ray *sight,
                           const vs_ray_segment *segment, const vs_emitter *emitter) {
    if (segment->room == vs_emitter_whole_room(emitter)) {
        return vs_bands_grey(1);
    }
    double depth = segment->extinction_per_m * farthest_m(sight, segment, emitter);
    return vs_medium_transmission(medium, -depth);
}

vs_status vs_airlight_at_most(vs_airlight *work, const vs_medium *medium, const vs_camera_ray *ray,
                              const vs_emitter *emitter, vs_bands *nits) {
    const double step = 1;
    bool wide = emitter->kind == VS_EMITTER_RECT || emitter->kind == VS_EMITTER_LINE;
    vs_fast_haze haze;
    *nits = vs_bands_grey(NAN);
    if (!wide || !vs_fast_haze_make(medium, &step, 1, &work->nodes, &haze)) {
        return VS_ERR_DOMAIN;
    }
    *nits = vs_bands_grey(0);
    for (size_t i = 0; i < ray->segment_count; i++) {
        const vs_ray_segment *segment = &ray->segment[i];
        if (segment->extinction_per_m > 0) {
            vs_bands open = vs_bands_grey(0);
            vs_fast_add_surface(medium, &haze, ray, segment, emitter, &open);
            open = vs_bands_mul(open, thinner_by(medium, ray, segment, emitter));
            *nits = vs_bands_add(*nits, vs_bands_scale(open, AT_MOST));
        }
    }
    return VS_OK;
}
