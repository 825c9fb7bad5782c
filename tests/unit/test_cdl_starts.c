/* SPDX-License-Identifier: GPL-3.0-or-later */
/* camera/cdl: whether its few starts find what a great many find. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "parts.h"
#include "veiled.h"
#include "veilstop/base/fit.h"

#define CASES  48
#define STARTS 8
#define KINDS  6

static const vs_curve_kind kind[KINDS] = {VS_CURVE_LINEAR,  VS_CURVE_BT709, VS_CURVE_SRGB,
                                          VS_CURVE_ACESCCT, VS_CURVE_HLG,   VS_CURVE_PQ};

static void residuals(const double *number, double *residual, void *context) {
    const veiled *v = context;
    vs_cdl cdl = veiled_cdl(number);
    double floor = VS_CAMERA_GREY_LINEAR * exp2(-v->camera.stops_below_grey);
    for (size_t i = 0; i < VEILED_COUNT; i++) {
        vs_bands out = vs_cdl_apply(&cdl, v->sample[i].from);
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            double got = fmax(0, vs_curve_decode(&v->camera.curve, out.v[b]));
            double want = fmax(0, vs_curve_decode(&v->camera.curve, v->sample[i].to.v[b]));
            residual[3 * i + b] = log2((got + floor) / (want + floor));
        }
    }
}

/* The least cost of descents from random starts, with hard clamps, and from doing nothing. */
static double least_of_many(veiled *v, random_stream *r) {
    double least = INFINITY;
    for (int s = 0; s < STARTS; s++) {
        double number[10] = {0};
        if (s > 0) {
            veiled_start(v, r, number);
        }
        if (vs_fit_least_squares(residuals, v, 3 * VEILED_COUNT, 10, 1e-9, number, NULL, NULL) ==
            VS_OK) {
            vs_cdl cdl = veiled_cdl(number);
            least = fmin(least, veiled_cost(v, &cdl));
        }
    }
    return least;
}

static void few_starts_find_what_many_find(void **state) {
    (void)state;
    random_stream r = {2029};
    double worst = 0;
    int fitted = 0;
    for (int i = 0; i < CASES; i++) {
        static veiled v;
        if (!veiled_random(&v, &r, kind[i % KINDS], 0.15)) {
            continue;
        }
        double ratio = (veiled_cost(&v, &v.fit.cdl) + 1e-9) / (least_of_many(&v, &r) + 1e-9);
        CHECK_TRUE(ratio <= 1.01);
        worst = fmax(worst, ratio);
        fitted++;
    }
    CHECK_TRUE(fitted >= CASES * 9 / 10);
    printf("measured: %d random veils in six curves: cost of the CDL at most %.4f times the least "
           "of %d starts\n",
           fitted, worst, STARTS);
}

/* Thick haze in BT.709, where the darkest signals meet the clamp: bounds found by some hundred
 * random starts. */
static void thick_haze_is_no_trap(void **state) {
    (void)state;
    const double t[] = {0.57, 0.4, 0.25, 0.17};
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    for (size_t i = 0; i < sizeof t / sizeof t[0]; i++) {
        vs_depth depth = {vs_bands_grey(t[i]), vs_bands_grey(0.15 * (1 - t[i]))};
        vs_grade_cdl fit;
        CHECK_OK(vs_grade_fit_cdl(&camera, &depth, 1, 0.18 / 32, 1, &fit));
        printf("measured: CDL in bt709, T %.2f: worst %.2f stops\n", t[i], fit.worst_stops);
        CHECK_TRUE(fit.worst_stops < 0.45);
        CHECK_TRUE(fit.cdl.power.v[1] < 0.95);
    }
}

typedef struct {
    vs_curve curve;
    long asked;
} counted;

static double counted_stops(double signal, void *context) {
    counted *c = context;
    c->asked++;
    return log2(fmax(0, vs_curve_decode(&c->curve, signal)) + VS_CAMERA_GREY_LINEAR / 256);
}

/* In thick haze slope, offset and power go up together along a bent valley. Descents that took the
 * three as they are crept along it for 150 steps and more, or ended at none: 34 million looks at
 * the scale here. Told by what comes out at a bright signal they take about ten steps. */
static void thick_haze_takes_few_steps(void **state) {
    (void)state;
    enum { LEVELS = 24, COLOURS = 4 };
    static const vs_bands colour[COLOURS] = {
        {{1, 1, 1}}, {{1, 0.5, 0.4}}, {{0.4, 1, 0.5}}, {{0.5, 0.4, 1}}};
    const vs_bands through = {{0.14, 0.12, 0.13}}, veil = {{0.25, 0.21, 0.2}};
    counted c = {.curve = {.kind = VS_CURVE_ACESCCT}};
    static vs_cdl_sample sample[LEVELS * COLOURS];
    for (size_t i = 0; i < LEVELS * COLOURS; i++) {
        double level =
            VS_CAMERA_GREY_LINEAR * exp2(-5 + 8.0 * (double)(i / COLOURS) / (LEVELS - 1));
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            double x = level * colour[i % COLOURS].v[b];
            sample[i].from.v[b] = vs_curve_encode(&c.curve, x * through.v[b] + veil.v[b]);
            sample[i].to.v[b] = vs_curve_encode(&c.curve, x);
        }
    }
    const vs_cdl_goal goal = {counted_stops, &c, 1e-10, 0};
    vs_cdl fit;
    double rms;
    CHECK_OK(vs_cdl_fit(sample, LEVELS * COLOURS, &goal, &fit, &rms));
    printf("measured: CDL of thick haze: %.2f million looks at the scale, rms %.4f stops\n",
           1e-6 * (double)c.asked, rms);
    CHECK_TRUE(c.asked < 4000000);
    CHECK_TRUE(rms < 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(few_starts_find_what_many_find),
        cmocka_unit_test(thick_haze_is_no_trap),
        cmocka_unit_test(thick_haze_takes_few_steps),
    };
    return RUN_TESTS(tests);
}
