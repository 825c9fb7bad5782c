/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The single-scattering integral, term by term as the header gives it.
 * Source: Chandrasekhar 1950, Radiative Transfer, ch. I (equation of transfer); Kulla & Fajardo
 * 2012, Comput. Graph. Forum 31, 1519 (the equiangular variable). */
#include "veilstop/light/airlight.h"

#include <math.h>
#include <stdlib.h>

#include "base/growable.h"
#include "light/geometry/visible_polygon.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

#define SUBINTERVALS   2000 /* of one adaptive integral: harder ones are divided; our choice */
#define FINENESS_FIRST 0.5  /* [1] of points on a surface, halved until sums agree: our choice */
#define FINENESS_LAST  1e-4 /* [1] no finer than this: our choice */
/* points: a surface divided into this many exceeds any tolerance here */
#define POINTS_ENOUGH 20000
#define HIDDEN_POINTS 4.0  /* points, over the tolerance's root, if part is hidden: our choice */
#define PARTINGS_MAX  20   /* halvings of an interval too hard as a whole: our choice */
#define SMALL_DEPTH   1e-5 /* [1] three terms of a series in a smaller depth are exact */

vs_status vs_airlight_init(vs_airlight *work) {
    vs_point_sources_init(&work->sources);
    work->break_m = NULL;
    work->break_size = 0;
    work->nodes = 0;
    work->seen = malloc(sizeof *work->seen);
    vs_status status = vs_quadrature_init(&work->quadrature, SUBINTERVALS);
    if (status == VS_OK && !work->seen) {
        status = VS_ERR_MEMORY;
    }
    if (status != VS_OK) {
        vs_airlight_free(work);
    }
    return status;
}

void vs_airlight_free(vs_airlight *work) {
    vs_quadrature_free(&work->quadrature);
    vs_point_sources_free(&work->sources);
    free(work->break_m);
    free(work->seen);
    work->break_m = NULL;
    work->break_size = 0;
    work->seen = NULL;
}

/* The parameters of the integrand. */
typedef struct {
    const vs_medium *medium;
    const vs_camera_ray *ray;
    const vs_ray_segment *segment;
    const vs_point_source *source;
    const vs_shaft *shaft;
    vs_shaft_frame frame;
    int band;
} integrand;

/* Optical depth at 549 nm from the source along a unit direction over length_m. */
static double depth_from_source(const integrand *in, vs_vec3 direction, double length_m) {
    double depth = in->segment->extinction_per_m * length_m;
    for (size_t i = 0; i < in->shaft->crossing_count; i++) {
        const vs_shaft_crossing *crossing = &in->shaft->crossing[i];
        depth +=
            crossing->change_per_m * crossing->off_m / vs_vec3_dot(crossing->normal, direction);
    }
    return depth;
}

static double per_angle(double angle_rad, void *context) {
    const integrand *in = context;
    double cosine = cos(angle_rad), sine = sin(angle_rad);
    vs_vec3 direction =
        vs_vec3_along(vs_vec3_scale(in->frame.across, cosine), in->ray->direction, sine);
    double from_source_m = in->frame.apart_m / cosine;
    double at_m = in->frame.foot_m + in->frame.apart_m * sine / cosine;
    double depth = in->segment->depth +
                   in->segment->extinction_per_m * (at_m - in->segment->from_m) +
                   depth_from_source(in, direction, from_source_m);
    return vs_point_source_profile(in->source, direction) *
           vs_phase_per_sr(&in->medium->haze->phase[in->band], -sine) *
           exp(-depth * in->medium->ratio.v[in->band]) / in->frame.apart_m;
}

static double scattering_per_m(const vs_medium *medium, const vs_ray_segment *segment, int band) {
    return medium->haze->albedo.v[band] * medium->ratio.v[band] * segment->extinction_per_m;
}

/* Where the profile has kinks or jumps on the first `to_m` of the line: those of a measured lamp's
 * table, ascending, in the workspace. */
static vs_status find_breaks(vs_airlight *work, const vs_camera_ray *ray,
                             const vs_point_source *source, double to_m, size_t *count) {
    *count = 0;
    if (source->profile != VS_PROFILE_PHOTOMETRY) {
        return VS_OK;
    }
    const vs_photometric_table *table = source->emitter->table;
    size_t most = vs_photometric_breaks_most(table);
    double *list =
        vs_growable_reserve_many(work->break_m, 0, most, &work->break_size, sizeof *work->break_m);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    work->break_m = list;
    *count =
        vs_photometric_breaks(table, &source->emitter->frame, vs_vec3_sub(ray->at_m, source->at_m),
                              ray->direction, to_m, work->break_m, most);
    return VS_OK;
}

static double angle_at(const integrand *in, double at_m) {
    return atan((at_m - in->frame.foot_m) / in->frame.apart_m);
}

/* Where to divide an interval of angles: at the entry of the phase table nearest its middle, where
 * the table has a kink; without a table, in the middle. */
static double parting_rad(const integrand *in, double from_rad, double to_rad) {
    const vs_phase *phase = &in->medium->haze->phase[in->band];
    double middle_rad = (from_rad + to_rad) / 2;
    if (phase->kind != VS_PHASE_TABLE) {
        return middle_rad;
    }
    double last = (double)phase->count - 1;
    double place = round(vs_phase_table_place(-sin(middle_rad)) * last) / last;
    /* w = q/(1 + q), q = tan(scattering angle/2), the equiangular angle 90 degrees less */
    double kink_rad = 2 * atan2(place, 1 - place) - VS_PI / 2;
    return kink_rad > from_rad && kink_rad < to_rad ? kink_rad : middle_rad;
}

/* The integral over an interval of angles, divided if kinks make it fail as a whole. */
static vs_status integrate_span(vs_airlight *work, integrand *in, double from_rad, double to_rad,
                                double relative, double absolute, int partings, double *value) {
    vs_status status = vs_quadrature_adaptive(&work->quadrature, per_angle, in, from_rad, to_rad,
                                              relative, absolute, value, NULL);
    if (status != VS_ERR_CONVERGENCE || partings == PARTINGS_MAX) {
        return status;
    }
    double middle_rad = parting_rad(in, from_rad, to_rad), rest = NAN;
    status =
        integrate_span(work, in, from_rad, middle_rad, relative, absolute / 2, partings + 1, value);
    if (status == VS_OK) {
        status = integrate_span(work, in, middle_rad, to_rad, relative, absolute / 2, partings + 1,
                                &rest);
    }
    *value += rest;
    return status;
}

/* One shaft's light in one band, from break to break. */
static vs_status add_shaft_light(vs_airlight *work, integrand *in, size_t break_count,
                                 double relative, double absolute_nits, double *nits) {
    double scale = scattering_per_m(in->medium, in->segment, in->band) * in->segment->open *
                   in->shaft->transmittance * in->source->candela.v[in->band];
    if (scale == 0) {
        return VS_OK;
    }
    double from_m = in->shaft->from_m;
    for (size_t i = 0; i <= break_count; i++) {
        double to_m = i < break_count ? work->break_m[i] : in->shaft->to_m;
        if (to_m <= from_m) {
            continue;
        }
        double value;
        vs_status status = integrate_span(work, in, angle_at(in, from_m), angle_at(in, to_m),
                                          relative, absolute_nits / scale, 0, &value);
        if (status != VS_OK) {
            return status;
        }
        *nits += scale * value;
        from_m = to_m;
    }
    return VS_OK;
}

static vs_status add_shaft(vs_airlight *work, integrand *in, double relative, vs_bands *nits) {
    size_t break_count;
    vs_status status = find_breaks(work, in->ray, in->source, in->shaft->to_m, &break_count);
    for (in->band = 0; in->band < VS_BAND_COUNT && status == VS_OK; in->band++) {
        double *sum = &nits->v[in->band];
        status = add_shaft_light(work, in, break_count, relative, relative * *sum / 10, sum);
    }
    return status;
}

static vs_status point_light(vs_airlight *work, const vs_medium *medium, const vs_camera_ray *ray,
                             const vs_point_source *source, double relative, vs_bands *nits) {
    vs_shaft shaft[VS_SHAFT_MAX];
    integrand in = {.medium = medium, .ray = ray, .source = source};
    in.frame = vs_shaft_frame_make(ray, source->at_m);
    if (source->emitter->kind != VS_EMITTER_POINT) {
        /* a lamp has a size; a point that represents an element of a surface has none */
        vs_vec3 foot_m = vs_camera_ray_point(ray, in.frame.foot_m);
        in.frame.apart_m =
            fmax(vs_vec3_length(vs_vec3_sub(foot_m, source->at_m)), VS_SHAFT_ELEMENT_APART_MIN_M);
    }
    for (size_t p = 0; p < ray->segment_count; p++) {
        in.segment = &ray->segment[p];
        if (in.segment->extinction_per_m == 0) {
            continue;
        }
        size_t count = vs_shaft_from_point(medium, ray, in.segment, source, shaft);
        for (size_t i = 0; i < count; i++) {
            in.shaft = &shaft[i];
            vs_status status = add_shaft(work, &in, relative, nits);
            if (status != VS_OK) {
                return status;
            }
        }
    }
    return VS_OK;
}

/* Integral of exp(-(d0 + slope x)) over 0 <= x <= length. */
static double exponential_integral(double d0, double slope, double length) {
    double depth = slope * length;
    if (fabs(depth) < SMALL_DEPTH) {
        return exp(-d0) * length * (1 - depth / 2 + depth * depth / 6);
    }
    return exp(-d0) * -expm1(-depth) / slope;
}

/* Along one interval of a parallel beam both optical depths are linear: two samples of the beam's,
 * a quarter in from the ends, determine it. */
static void add_parallel_shaft(const vs_medium *medium, const vs_camera_ray *ray,
                               const vs_ray_segment *segment, const vs_emitter *emitter,
                               const vs_shaft *shaft, vs_bands *nits) {
    double length_m = shaft->to_m - shaft->from_m;
    double depth[2];
    if (!(length_m > 0)) {
        return;
    }
    for (int i = 0; i < 2; i++) {
        vs_vec3 p = vs_camera_ray_point(ray, shaft->from_m + length_m * (0.25 + 0.5 * i));
        vs_vec3 origin_m = vs_shaft_parallel_origin(medium->space, emitter, p);
        depth[i] =
            vs_space_optical_depth(medium->space, medium->room_extinction_per_m, origin_m, p);
    }
    double slope = (depth[1] - depth[0]) / (0.5 * length_m) + segment->extinction_per_m;
    double first = depth[0] - (depth[1] - depth[0]) / 2 + segment->depth +
                   segment->extinction_per_m * (shaft->from_m - segment->from_m);
    double cosine = -vs_vec3_dot(emitter->axis, ray->direction);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double ratio = medium->ratio.v[band];
        nits->v[band] += scattering_per_m(medium, segment, band) * segment->open *
                         shaft->transmittance * emitter->strength.v[band] *
                         vs_phase_per_sr(&medium->haze->phase[band], cosine) *
                         exponential_integral(first * ratio, slope * ratio, length_m);
    }
}

static void parallel_light(const vs_medium *medium, const vs_camera_ray *ray,
                           const vs_emitter *emitter, vs_bands *nits) {
    vs_shaft shaft[VS_SHAFT_MAX];
    for (size_t p = 0; p < ray->segment_count; p++) {
        const vs_ray_segment *segment = &ray->segment[p];
        if (segment->extinction_per_m == 0) {
            continue;
        }
        size_t count = vs_shaft_from_parallel(medium, ray, segment, emitter, shaft);
        for (size_t i = 0; i < count; i++) {
            add_parallel_shaft(medium, ray, segment, emitter, &shaft[i], nits);
        }
    }
}

/* *points  number in the last sum; out, in this one. If not every side was halved since,
 * VS_ERR_UNREACHABLE and no sum. */
static vs_status sum_of_points(vs_airlight *work, const vs_medium *medium, const vs_camera_ray *ray,
                               const vs_emitter *emitter, double fineness, double relative,
                               size_t *points, vs_bands *nits) {
    vs_vec3 end_m = vs_camera_ray_point(ray, ray->length_m);
    vs_status status = vs_emitter_points(emitter, ray->at_m, end_m, fineness, &work->sources);
    size_t finer = emitter->kind == VS_EMITTER_RECT ? 4 : 2; /* halved along every side */
    if (status == VS_OK && work->sources.count < finer * *points) {
        return VS_ERR_UNREACHABLE;
    }
    *points = work->sources.count;
    *nits = vs_bands_grey(0);
    for (size_t i = 0; i < work->sources.count && status == VS_OK; i++) {
        status = point_light(work, medium, ray, &work->sources.item[i], relative, nits);
    }
    return status;
}

/* Sums of few points may agree by chance if a shadow's edge falls between them. Returns the number
 * of points from which agreement counts. */
static size_t points_trusted(const vs_medium *medium, const vs_camera_ray *ray,
                             const vs_emitter *emitter, double relative) {
    bool open = emitter->kind == VS_EMITTER_POINT;
    for (size_t i = 0; i < ray->segment_count && !open; i++) {
        if (!vs_shaft_open_to_surface(medium->space, ray, &ray->segment[i], emitter)) {
            return (size_t)(HIDDEN_POINTS / sqrt(relative));
        }
    }
    return 0;
}

vs_status vs_airlight_adaptive(vs_airlight *work, const vs_medium *medium, const vs_camera_ray *ray,
                               const vs_emitter *emitter, double relative, vs_bands *nits) {
    vs_bands before = vs_bands_grey(NAN), now = vs_bands_grey(0);
    vs_status status = VS_OK;
    *nits = vs_bands_grey(NAN);
    if (!(relative >= 1e-10 && relative <= 0.1)) {
        return VS_ERR_DOMAIN;
    }
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        parallel_light(medium, ray, emitter, &now);
        *nits = now;
        return VS_OK;
    }
    size_t points = 0, trusted = points_trusted(medium, ray, emitter, relative);
    for (double fineness = FINENESS_FIRST;; fineness /= 2) {
        status = sum_of_points(work, medium, ray, emitter, fineness, relative / 2, &points, &now);
        if (status == VS_ERR_UNREACHABLE && fineness >= FINENESS_LAST) {
            continue; /* no finer than before: says nothing */
        }
        if (status != VS_OK || emitter->kind == VS_EMITTER_POINT ||
            (points >= trusted && vs_bands_converged(before, now, relative / 2)) ||
            points > POINTS_ENOUGH || fineness < FINENESS_LAST) {
            break;
        }
        before = now;
    }
    if (status == VS_ERR_UNREACHABLE) {
        status = VS_OK; /* as fine as elements get */
    }
    if (status == VS_OK) {
        *nits = now;
    }
    return status;
}

vs_bands vs_airlight_ambient(const vs_medium *medium, const vs_camera_ray *ray,
                             double ambient_nits) {
    vs_bands nits = vs_bands_grey(0);
    for (size_t p = 0; p < ray->segment_count; p++) {
        const vs_ray_segment *segment = &ray->segment[p];
        double depth = segment->extinction_per_m * (segment->to_m - segment->from_m);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double ratio = medium->ratio.v[band];
            nits.v[band] += medium->haze->albedo.v[band] * ambient_nits * segment->open *
                            exp(-segment->depth * ratio) * -expm1(-depth * ratio);
        }
    }
    return nits;
}
