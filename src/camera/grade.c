/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze undone in linear light, and its nearest CDL; noise and latitude. Equations in the header. */
#include "veilstop/camera/grade.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define FULL_WELL_ELECTRONS 40000.0 /* [e-] common practice, no source: a cinema sensor's pixel */
/* [e-] signal at the floor, so that the dark part does not vanish */
#define FLOOR_ELECTRONS_LEAST 2.0

/* V (1 - T^(1-F))/(1 - T): the veil of haze that is thinner by the share F. */
static double thinned_veil(double t, double veil, double recover) {
    double optical_depth = -log(t);
    return optical_depth > 0 ? veil * expm1(-(1 - recover) * optical_depth) / expm1(-optical_depth)
                             : veil * (1 - recover);
}

static bool usable(const vs_depth *depth, double recover) {
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        double t = depth->transmission.v[b], veil = depth->veil.v[b];
        if (!(t >= VS_GRADE_TRANSMISSION_LEAST && t <= 1 && veil >= 0 && isfinite(veil))) {
            return false;
        }
    }
    return recover >= 0 && recover <= 1;
}

vs_status vs_grade_undo(const vs_depth *depth, double recover, vs_linear_grade *grade) {
    grade->slope = grade->offset = vs_bands_grey(NAN);
    if (!usable(depth, recover)) {
        return VS_ERR_DOMAIN;
    }
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        double t = depth->transmission.v[b], veil = depth->veil.v[b];
        /* slope = T^-F, offset = V (1 - T^(1-F))/(1 - T) - V T^-F: inverts x T + V (Koschmieder) */
        grade->slope.v[b] = pow(t, -recover);
        grade->offset.v[b] = thinned_veil(t, veil, recover) - veil * grade->slope.v[b];
    }
    return VS_OK;
}

vs_bands vs_grade_apply(const vs_linear_grade *grade, vs_bands x) {
    return vs_bands_add(vs_bands_mul(x, grade->slope), grade->offset);
}

vs_bands vs_depth_haze(const vs_depth *depth, vs_bands x) {
    return vs_bands_add(vs_bands_mul(x, depth->transmission), depth->veil);
}

vs_bands vs_depth_thinned(const vs_depth *depth, double recover, vs_bands x) {
    vs_bands out;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        double t = depth->transmission.v[b];
        out.v[b] = x.v[b] * pow(t, 1 - recover) + thinned_veil(t, depth->veil.v[b], recover);
    }
    return out;
}

/* The camera's floor e as scene-linear light. */
static double floor_linear(const vs_camera *camera) {
    return VS_CAMERA_GREY_LINEAR * exp2(-camera->stops_below_grey);
}

double vs_grade_noise(const vs_camera *camera, double x) {
    double e = floor_linear(camera);
    double top = VS_CAMERA_GREY_LINEAR * exp2(camera->stops_above_grey);
    double electrons = fmax(FULL_WELL_ELECTRONS / top, FLOOR_ELECTRONS_LEAST / e); /* per unit x */
    double at_floor = electrons * e;
    double dark = at_floor * at_floor - at_floor; /* variance: ratio 1 at the floor, ISO 15739 */
    /* variance = dark + photons (EMVA 1288, linear model), in units of x */
    return sqrt(dark + electrons * x) / electrons;
}

/* Noise of luminance at given levels of the bands, each band's noise scaled by a gain: variances
 * add, as the bands are independent. */
static double luminance_noise(const vs_camera *camera, vs_bands level, vs_bands gain) {
    static const double weight[VS_BAND_COUNT] = {VS_LUMA_RED, VS_LUMA_GREEN, VS_LUMA_BLUE};
    double variance = 0;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        double part = weight[b] * gain.v[b] * vs_grade_noise(camera, level.v[b]);
        variance += part * part;
    }
    return sqrt(variance);
}

vs_grade_noise_cost vs_grade_noise_stops(const vs_camera *camera, const vs_depth *depth,
                                         const vs_linear_grade *grade) {
    vs_bands one = vs_bands_grey(1), black = vs_bands_grey(0);
    double graded = luminance_noise(camera, depth->veil, grade->slope);
    vs_grade_noise_cost cost = {log2(graded / luminance_noise(camera, depth->veil, one)),
                                log2(graded / luminance_noise(camera, black, one))};
    return cost;
}

double vs_grade_range_stops(const vs_camera *camera) {
    const vs_depth none = {vs_bands_grey(1), vs_bands_grey(0)};
    return vs_grade_latitude_stops(camera, &none);
}

double vs_grade_latitude_stops(const vs_camera *camera, const vs_depth *depth) {
    double e = floor_linear(camera);
    return log2((vs_camera_clip_linear(camera) + e) / (vs_bands_luminance(depth->veil) + e));
}

vs_bands vs_grade_offset_percent(const vs_camera *camera, const vs_depth *depth,
                                 const vs_linear_grade *grade) {
    vs_bands graded = vs_grade_apply(grade, depth->veil), percent;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        percent.v[b] = 100 * (vs_curve_encode(&camera->curve, graded.v[b]) -
                              vs_curve_encode(&camera->curve, depth->veil.v[b]));
    }
    return percent;
}

double vs_grade_error_stops(const vs_camera *camera, const vs_linear_grade *grade, double recover,
                            const vs_depth *there, vs_bands clear) {
    double e = floor_linear(camera);
    double wanted = vs_bands_luminance(vs_depth_thinned(there, recover, clear));
    double graded = vs_bands_luminance(vs_grade_apply(grade, vs_depth_haze(there, clear)));
    return log2(((graded < 0 ? 0 : graded) + e) / (wanted + e));
}

/* [1] Greys, and primaries and secondaries at half saturation: our choice. */
static const vs_bands colour[] = {{{1, 1, 1}},   {{1, 0.5, 0.5}}, {{0.5, 1, 0.5}}, {{0.5, 0.5, 1}},
                                  {{0.5, 1, 1}}, {{1, 0.5, 1}},   {{1, 1, 0.5}}};
#define COLOUR_COUNT (sizeof colour / sizeof colour[0])
#ifndef FUZZING_BUILD_MODE_UNSAFE_FOR_PRODUCTION
#define FIT_LEVELS   24  /* levels of light in the fit: our choice */
#define CHECK_LEVELS 241 /* levels at which its error is measured: our choice */
#else                    /* a fuzzer asks for many grades, and for none that is any good */
#define FIT_LEVELS   5
#define CHECK_LEVELS 21
#endif

typedef struct {
    const vs_curve *curve;
    double floor; /* [scene-linear] */
} stops_scale;

static double in_stops(double signal, void *context) {
    const stops_scale *scale = context;
    double x = vs_curve_decode(scale->curve, signal);
    return log2((x < 0 ? 0 : x) + scale->floor);
}

static vs_bands encode(const vs_curve *curve, vs_bands x) {
    vs_bands signal;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        signal.v[b] = vs_curve_encode(curve, x.v[b]);
    }
    return signal;
}

/* Hazed and wanted signals of a colour at the i-th of `levels`, spaced evenly in stops from low to
 * high. */
static vs_cdl_sample sample_at(const vs_curve *curve, const vs_depth *depth, double recover,
                               const vs_grade_cdl *range, size_t i, size_t levels, size_t c) {
    double share = (double)i / (double)(levels - 1);
    vs_bands x = vs_bands_scale(colour[c], range->low * pow(range->high / range->low, share));
    vs_cdl_sample sample = {encode(curve, vs_depth_haze(depth, x)),
                            encode(curve, vs_depth_thinned(depth, recover, x))};
    return sample;
}

static void tell_error(stops_scale *scale, const vs_depth *depth, double recover,
                       vs_grade_cdl *fit) {
    double sum = 0;
    fit->worst_stops = 0;
    for (size_t i = 0; i < CHECK_LEVELS * COLOUR_COUNT; i++) {
        vs_cdl_sample s = sample_at(scale->curve, depth, recover, fit, i / COLOUR_COUNT,
                                    CHECK_LEVELS, i % COLOUR_COUNT);
        vs_bands out = vs_cdl_apply(&fit->cdl, s.from);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            double error = fabs(in_stops(out.v[b], scale) - in_stops(s.to.v[b], scale));
            fit->worst_stops = fmax(fit->worst_stops, error);
            sum += error;
        }
    }
    const size_t checked = CHECK_LEVELS * COLOUR_COUNT * VS_BAND_COUNT;
    fit->mean_stops = sum / (double)checked;
}

/* The brightest clear light that no band of the hazed frame clips. */
static double most_unclipped(const vs_camera *camera, const vs_depth *depth) {
    double clip = vs_camera_clip_linear(camera), most = INFINITY;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        most = fmin(most, (clip - depth->veil.v[b]) / depth->transmission.v[b]);
    }
    return most;
}

vs_status vs_grade_fit_cdl(const vs_camera *camera, const vs_depth *depth, double recover,
                           double low, double high, vs_grade_cdl *out) {
    memset(out, 0, sizeof *out);
    out->worst_stops = out->mean_stops = NAN;
    out->cdl = vs_cdl_identity();
    if (!usable(depth, recover) || !(low > 0 && high > low)) {
        return VS_ERR_DOMAIN;
    }
    out->low = low;
    out->high = fmin(high, fmin(vs_camera_clip_linear(camera), most_unclipped(camera, depth)));
    if (!(out->high > out->low)) {
        return VS_ERR_DOMAIN;
    }
    vs_cdl_sample *sample = malloc(FIT_LEVELS * COLOUR_COUNT * sizeof *sample);
    if (!sample) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < FIT_LEVELS * COLOUR_COUNT; i++) {
        sample[i] = sample_at(&camera->curve, depth, recover, out, i / COLOUR_COUNT, FIT_LEVELS,
                              i % COLOUR_COUNT);
    }
    stops_scale scale = {&camera->curve, floor_linear(camera)};
    vs_cdl_goal goal = {in_stops, &scale, 1e-10, 0};
    vs_status status = vs_cdl_fit(sample, FIT_LEVELS * COLOUR_COUNT, &goal, &out->cdl, NULL);
    if (status == VS_OK) {
        tell_error(&scale, depth, recover, out);
    }
    free(sample);
    return status;
}
