/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See veiled.h. */
#include "veiled.h"

#include <math.h>

#include "parts.h"

static const vs_bands colour[VEILED_COLOURS] = {{{1, 1, 1}},     {{1, 0.5, 0.5}}, {{0.5, 1, 0.5}},
                                                {{0.5, 0.5, 1}}, {{0.5, 1, 1}},   {{1, 0.5, 1}},
                                                {{1, 1, 0.5}}};

static double stops(const veiled *v, double signal) {
    double x = vs_curve_decode(&v->camera.curve, signal);
    return log2(fmax(0, x) + VS_CAMERA_GREY_LINEAR * exp2(-v->camera.stops_below_grey));
}

bool veiled_random(veiled *v, random_stream *r, vs_curve_kind kind, double thickest) {
    v->camera = parts_camera(kind);
    v->camera.stops_above_grey = random_uniform(r, 4, 8);
    v->camera.stops_below_grey = random_uniform(r, 6, 10);
    double t = random_uniform(r, thickest, 0.95), source = random_log_uniform(r, 0.01, 0.4);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        v->depth.transmission.v[b] = pow(t, 1 + 0.12 * b);
        v->depth.veil.v[b] =
            source * (1 - v->depth.transmission.v[b]) * random_uniform(r, 0.8, 1.2);
    }
    v->recover = random_index(r, 3) == 0 ? random_uniform(r, 0.3, 1) : 1;
    double high = VS_CAMERA_GREY_LINEAR * exp2(random_uniform(r, 2, 6));
    vs_status status = vs_grade_fit_cdl(&v->camera, &v->depth, v->recover,
                                        VS_CAMERA_GREY_LINEAR / 32, high, &v->fit);
    if (status == VS_ERR_DOMAIN) {
        return false;
    }
    CHECK_OK(status);
    v->low = v->fit.low;
    v->high = v->fit.high;
    for (size_t i = 0; i < VEILED_COUNT; i++) {
        double share = (double)(i / VEILED_COLOURS) / (VEILED_LEVELS - 1);
        vs_bands x =
            vs_bands_scale(colour[i % VEILED_COLOURS], v->low * pow(v->high / v->low, share));
        vs_bands hazed = vs_depth_haze(&v->depth, x);
        vs_bands wanted = vs_depth_thinned(&v->depth, v->recover, x);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            v->sample[i].from.v[b] = vs_curve_encode(&v->camera.curve, hazed.v[b]);
            v->sample[i].to.v[b] = vs_curve_encode(&v->camera.curve, wanted.v[b]);
        }
    }
    return true;
}

double veiled_cost(const veiled *v, const vs_cdl *cdl) {
    double sum = 0;
    for (size_t i = 0; i < VEILED_COUNT; i++) {
        vs_bands out = vs_cdl_apply(cdl, v->sample[i].from);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            double off = stops(v, out.v[b]) - stops(v, v->sample[i].to.v[b]);
            sum += off * off;
        }
    }
    return sum;
}

vs_cdl veiled_cdl(const double *number) {
    vs_cdl cdl;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        cdl.slope.v[b] = exp(fmax(-4, fmin(4, number[b])));
        cdl.offset.v[b] = number[3 + b];
        cdl.power.v[b] = exp(fmax(-4, fmin(4, number[6 + b])));
    }
    cdl.saturation = exp(fmax(-4, fmin(4, number[9])));
    return cdl;
}

void veiled_start(const veiled *v, random_stream *r, double *number) {
    double power = random_uniform(r, log(0.15), log(4)), slope = random_uniform(r, -0.7, 2);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        double lowest = 1;
        for (size_t i = 0; i < VEILED_COUNT; i++) {
            lowest = fmin(lowest, v->sample[i].from.v[b]);
        }
        number[b] = slope + random_uniform(r, -0.2, 0.2);
        number[3 + b] = -lowest * exp(number[b]) * random_uniform(r, -0.5, 1.3);
        number[6 + b] = power + random_uniform(r, -0.2, 0.2);
    }
    number[9] = random_uniform(r, -0.5, 0.5);
}
