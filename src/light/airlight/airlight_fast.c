/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From an emitter and lines of sight to uninterrupted intervals, and from those to nodes.
 * Method: docs/physics.md, "The fast veil integral". */
#include "veilstop/light/airlight_fast.h"

#include "light/airlight/airlight_fast_hidden.h"
#include "light/airlight/airlight_fast_point.h"
#include "light/airlight/airlight_fast_surface.h"

#define FINENESS_FIRST    1.0 /* elements of a partly hidden surface: size over distance */
#define FINENESS_LAST     0.03
#define CONVERGED         5e-4 /* [1] change at which they are fine enough */
#define PARALLEL_RELATIVE 1e-4 /* [1] for a closed form: any value will do */
#define AT_MOST           1.02 /* [1] a margin of over twice the errors of both integrals */
#define BETWEEN_MAX       128  /* blockers between a line and a surface; if more, all are taken */

/* An emitter and a line. */
typedef struct {
    vs_airlight *work;
    const vs_medium *medium; /* one a step; all but the depths are those of the first */
    const vs_emitter *emitter;
    const vs_camera_ray *sight; /* in the first */
    vs_fast_haze haze;
} job;

/* One sum for all segments: it shows how exact the next one must be. */
static void point_line(const job *j, vs_bands *nits) {
    const vs_emitter *e = j->emitter;
    const vs_point_source source = {e->at_m, e->strength, e, e->profile, e->axis};
    double sum[VS_FAST_BANDS] = {0};
    for (size_t i = 0; i < j->sight->segment_count; i++) {
        if (j->sight->segment[i].extinction_per_m > 0) {
            vs_fast_add_point(j->medium, &j->haze, j->sight, &j->sight->segment[i], &source, 1,
                              sum);
        }
    }
    vs_fast_add_nits(j->medium, &j->haze, e, sum, 1, nits);
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

/* A segment of the line and a possibly obstructed surface: a sum of points. */
static vs_status sum_of_points(const job *j, const vs_medium *medium, const vs_ray_segment *segment,
                               double fineness, double *sum) {
    vs_point_sources *sources = &j->work->sources;
    for (int band = 0; band < VS_FAST_BANDS; band++) {
        sum[band] = 0;
    }
    vs_status status =
        vs_emitter_points(j->emitter, vs_camera_ray_point(j->sight, segment->from_m),
                          vs_camera_ray_point(j->sight, segment->to_m), fineness, sources);
    for (size_t i = 0; i < sources->count && status == VS_OK; i++) {
        vs_fast_add_point(medium, &j->haze, j->sight, segment, &sources->item[i],
                          share_of(j->emitter, &sources->item[i]), sum);
    }
    return status;
}

/* Increasingly fine points until the sum changes little. */
static vs_status hidden_segment(const job *j, const vs_medium *medium,
                                const vs_ray_segment *segment, vs_bands *nits) {
    double before = NAN, sum[VS_FAST_BANDS];
    double *now = &sum[j->haze.refine_band];
    vs_status status = VS_OK;
    for (double fineness = FINENESS_FIRST; status == VS_OK; fineness /= 2) {
        status = sum_of_points(j, medium, segment, fineness, sum);
        if (fabs(*now - before) <= CONVERGED * *now || fineness < FINENESS_LAST) {
            break;
        }
        before = *now;
    }
    vs_fast_add_nits(medium, &j->haze, j->emitter, sum, 1, nits);
    return status;
}

/* One segment of the line and a surface: only the blockers that may be in between count. */
static vs_status surface_segment(const job *j, const vs_ray_segment *segment, vs_bands *nits) {
    vs_blocker between[BETWEEN_MAX];
    vs_space near = vs_shaft_space_between(j->medium->space, j->sight, segment, j->emitter, between,
                                           BETWEEN_MAX);
    vs_medium medium = *j->medium;
    medium.space = &near;
    if (near.blocker_count == 0 && segment->room == vs_emitter_whole_room(j->emitter)) {
        vs_fast_add_surface(&medium, &j->haze, j->sight, segment, j->emitter, nits);
        return VS_OK;
    }
    return vs_fast_add_hidden(j->work->seen, &medium, &j->haze, j->sight, segment, j->emitter, nits)
               ? VS_OK
               : hidden_segment(j, &medium, segment, nits);
}

static vs_status surface_line(const job *j, vs_bands *nits) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < j->sight->segment_count && status == VS_OK; i++) {
        if (j->sight->segment[i].extinction_per_m > 0) {
            status = surface_segment(j, &j->sight->segment[i], nits);
        }
    }
    return status;
}

/* The line in one step's haze. */
static vs_camera_ray line_at(const job *j, int step) {
    vs_camera_ray sight = *j->sight;
    for (size_t i = 0; i < sight.segment_count && step > 0; i++) {
        sight.segment[i].extinction_per_m *= j->haze.step[step];
        sight.segment[i].depth *= j->haze.step[step];
    }
    return sight;
}

static vs_status parallel_line(const job *j, vs_bands *nits) {
    vs_status status = VS_OK;
    for (int step = 0; step < j->haze.step_count && status == VS_OK; step++) {
        vs_camera_ray sight = line_at(j, step);
        status = vs_airlight_adaptive(j->work, &j->medium[step], &sight, j->emitter,
                                      PARALLEL_RELATIVE, &nits[step]);
    }
    return status;
}

static vs_status run_line(const job *j, vs_bands *nits) {
    for (int step = 0; step < j->haze.step_count; step++) {
        nits[step] = vs_bands_grey(0);
    }
    switch (j->emitter->kind) {
    case VS_EMITTER_POINT:
        point_line(j, nits);
        return VS_OK;
    case VS_EMITTER_PARALLEL:
        return parallel_line(j, nits);
    default:
        return surface_line(j, nits);
    }
}

vs_status vs_airlight_fast_steps(vs_airlight *work, const vs_medium *medium, const double *step,
                                 size_t step_count, const vs_emitter *emitter,
                                 const vs_camera_ray *ray, size_t count, vs_bands *nits) {
    job j = {.work = work, .medium = medium, .emitter = emitter};
    bool good = step_count > 0 && step_count <= VS_AIRLIGHT_STEPS_MAX &&
                vs_fast_haze_make(medium, step, step_count, &work->nodes, &j.haze);
    vs_status status = good ? VS_OK : VS_ERR_DOMAIN;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        j.sight = &ray[i];
        status = run_line(&j, nits + i * step_count);
    }
    for (size_t i = 0; i < count * step_count && status != VS_OK; i++) {
        nits[i] = vs_bands_grey(NAN);
    }
    return status;
}

vs_status vs_airlight_fast_many(vs_airlight *work, const vs_medium *medium,
                                const vs_emitter *emitter, const vs_camera_ray *ray, size_t count,
                                vs_bands *nits) {
    const double step = 1;
    return vs_airlight_fast_steps(work, medium, &step, 1, emitter, ray, count, nits);
}

vs_status vs_airlight_fast(vs_airlight *work, const vs_medium *medium, const vs_camera_ray *ray,
                           const vs_emitter *emitter, vs_bands *nits) {
    return vs_airlight_fast_many(work, medium, emitter, ray, 1, nits);
}

/* The longest straight line between a segment and an emitter. */
static double farthest_m(const vs_camera_ray *sight, const vs_ray_segment *segment,
                         const vs_emitter *emitter) {
    vs_vec3 corner[4];
    int count = vs_emitter_corners(emitter, corner);
    double most = 0;
    for (int i = 0; i < count; i++) {
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
