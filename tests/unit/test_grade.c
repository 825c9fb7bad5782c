/* SPDX-License-Identifier: GPL-3.0-or-later */
/* camera/grade: the linear grade against closed forms, its CDL, noise and latitude. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts.h"
#include "veilstop/camera/grade.h"

/* Koschmieder: hazed = x T + S (1 - T). A grade of share F must leave haze of transmission T^(1-F)
 * with the same source S, for any x; F = 1 gives 1/T and -V/T. */
static void the_grade_thins_the_haze(void **state) {
    (void)state;
    random_stream r = {8};
    for (int i = 0; i < 300; i++) {
        vs_depth depth;
        vs_bands source, x;
        double recover = i % 3 == 0 ? 1 : random_uniform(&r, 0, 1);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            depth.transmission.v[b] = random_uniform(&r, 0.1, 0.999);
            source.v[b] = random_uniform(&r, 0, 0.5);
            depth.veil.v[b] = source.v[b] * (1 - depth.transmission.v[b]);
            x.v[b] = random_log_uniform(&r, 1e-4, 10);
        }
        vs_linear_grade grade;
        CHECK_OK(vs_grade_undo(&depth, recover, &grade));
        vs_bands graded = vs_grade_apply(&grade, vs_depth_haze(&depth, x));
        vs_bands thinned = vs_depth_thinned(&depth, recover, x);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            double t = pow(depth.transmission.v[b], 1 - recover);
            CHECK_NEAR(thinned.v[b], x.v[b] * t + source.v[b] * (1 - t), 1e-12, 0);
            CHECK_NEAR(graded.v[b], thinned.v[b], 1e-12, 1e-14);
            if (recover == 1) {
                CHECK_NEAR(grade.slope.v[b], 1 / depth.transmission.v[b], 1e-14, 0);
                CHECK_NEAR(grade.offset.v[b], -depth.veil.v[b] / depth.transmission.v[b], 1e-14, 0);
            }
        }
    }
}

static void no_haze_needs_no_grade(void **state) {
    (void)state;
    vs_depth depth = {vs_bands_grey(1), vs_bands_grey(0)};
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(&depth, 0.4, &grade));
    CHECK_NEAR(grade.slope.v[1], 1, 0, 0);
    CHECK_NEAR(grade.offset.v[1], 0, 0, 0);
    /* recover 0 leaves the hazed frame alone */
    depth.transmission = vs_bands_grey(0.7);
    depth.veil = vs_bands_grey(0.02);
    CHECK_OK(vs_grade_undo(&depth, 0, &grade));
    CHECK_NEAR(grade.slope.v[0], 1, 1e-15, 0);
    CHECK_NEAR(grade.offset.v[0], 0, 0, 1e-16);
    CHECK_STATUS(vs_grade_undo(&depth, 1.1, &grade), VS_ERR_DOMAIN);
    CHECK_NAN(grade.slope.v[0]);
    depth.transmission.v[2] = 0;
    CHECK_STATUS(vs_grade_undo(&depth, 1, &grade), VS_ERR_DOMAIN);
}

/* ISO 15739: signal to noise is 1 at the floor. EMVA 1288: its slope in log-log runs from 1 (dark)
 * to 1/2 (photons), and at the top it is the square root of the full well. */
static void noise_follows_the_sensor_model(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    double floor = 0.18 / 256, top = 0.18 * 64;
    CHECK_NEAR(vs_grade_noise(&camera, floor), floor, 1e-12, 0);
    CHECK_NEAR(top / vs_grade_noise(&camera, top), sqrt(40000), 1e-4, 0);
    CHECK_NEAR(vs_grade_noise(&camera, 0), vs_grade_noise(&camera, floor / 100), 0.01, 0);
    camera.stops_below_grey = 12; /* a range the assumed well cannot give: the well grows */
    CHECK_NEAR(vs_grade_noise(&camera, 0.18 / 4096), 0.18 / 4096, 1e-12, 0);
    CHECK_TRUE(vs_grade_noise(&camera, 0) > 0);
}

static void grey_haze_adds_the_noise_of_its_slope(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    vs_depth depth = {vs_bands_grey(0.5), vs_bands_grey(0.02)};
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(&depth, 1, &grade));
    vs_grade_noise_cost cost = vs_grade_noise_stops(&camera, &depth, &grade);
    CHECK_NEAR(cost.added_stops, 1, 1e-12, 0);
    CHECK_TRUE(cost.over_clear_stops > cost.added_stops); /* the veil's photons */
    CHECK_OK(vs_grade_undo(&depth, 0.5, &grade));
    CHECK_NEAR(vs_grade_noise_stops(&camera, &depth, &grade).added_stops, 0.5, 1e-12, 0);
}

static void latitude_is_the_range_over_the_veil(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    vs_depth depth = {vs_bands_grey(1), vs_bands_grey(0)};
    CHECK_NEAR(vs_grade_latitude_stops(&camera, &depth), log2(exp2(14) + 1), 1e-12, 0);
    depth.veil = vs_bands_grey(0.18); /* a veil as bright as middle grey: six stops are left */
    CHECK_NEAR(vs_grade_latitude_stops(&camera, &depth), 6, 1e-3, 0);
    CHECK_NEAR(vs_grade_range_stops(&camera), log2(exp2(14) + 1), 1e-12, 0);
    camera.curve.kind = VS_CURVE_BT709; /* clips at x = 1 */
    CHECK_NEAR(vs_grade_range_stops(&camera), log2(256 / 0.18 + 1), 1e-12, 0);
    CHECK_NEAR(vs_grade_latitude_stops(&camera, &depth), log2(1 / 0.18), 3e-3, 0);
}

/* BT.709: a veil of 2 % of white lifts black to 9 % (4.5 times 2); undone, it goes down by 9. */
static void the_colourists_offset(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    vs_depth depth = {vs_bands_grey(0.8), vs_bands_grey(0.01)};
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(&depth, 1, &grade));
    CHECK_NEAR(vs_grade_offset_percent(&camera, &depth, &grade).v[1], -4.5, 1e-12, 0);
}

static void other_depths_are_over_or_under_corrected(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    vs_depth near = {vs_bands_grey(0.9), vs_bands_grey(0.01)};
    vs_depth middle = {vs_bands_grey(0.8), vs_bands_grey(0.02)};
    vs_depth far = {vs_bands_grey(0.6), vs_bands_grey(0.04)};
    vs_bands x = vs_bands_grey(0.05);
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(&middle, 1, &grade));
    CHECK_NEAR(vs_grade_error_stops(&camera, &grade, 1, &middle, x), 0, 0, 1e-12);
    CHECK_TRUE(vs_grade_error_stops(&camera, &grade, 1, &near, x) < 0);
    CHECK_TRUE(vs_grade_error_stops(&camera, &grade, 1, &far, x) > 0);
    /* near: (0.05*0.9 + 0.01 - 0.02)/0.8 = 0.04375 for 0.05, with e = 0.18/256 */
    double e = 0.18 / 256;
    CHECK_NEAR(vs_grade_error_stops(&camera, &grade, 1, &near, x), log2((0.04375 + e) / (0.05 + e)),
               1e-12, 0);
    /* a black thing much nearer would go under 0: the floor is what is left */
    CHECK_NEAR(vs_grade_error_stops(&camera, &grade, 1, &near, vs_bands_grey(0.005)),
               log2(e / (0.005 + e)), 1e-12, 0);
}

/* The arithmetic of ASC CDL 1.2 once more, written apart from the library's. */
static void reference_cdl(const vs_cdl *cdl, const double in[3], double out[3]) {
    double sop[3], luma = 0;
    const double weight[3] = {0.2126, 0.7152, 0.0722};
    for (int b = 0; b < 3; b++) {
        double v = fmin(1, fmax(0, in[b] * cdl->slope.v[b] + cdl->offset.v[b]));
        sop[b] = v > 0 ? exp(cdl->power.v[b] * log(v)) : 0;
        luma += weight[b] * sop[b];
    }
    for (int b = 0; b < 3; b++) {
        out[b] = fmin(1, fmax(0, (1 - cdl->saturation) * luma + cdl->saturation * sop[b]));
    }
}

static void the_cdl_undoes_the_veil_to_its_stated_error(void **state) {
    (void)state;
    const vs_curve_kind kind[] = {VS_CURVE_LINEAR,  VS_CURVE_BT709, VS_CURVE_SRGB,
                                  VS_CURVE_ACESCCT, VS_CURVE_HLG,   VS_CURVE_PQ};
    vs_depth depth = {{{0.78, 0.75, 0.7}}, {{0.010, 0.012, 0.015}}};
    const double grey_levels[] = {0.18 / 32, 0.9};
    random_stream r = {77};
    for (size_t k = 0; k < sizeof kind / sizeof kind[0]; k++) {
        vs_camera camera = parts_camera(kind[k]);
        vs_grade_cdl fit;
        CHECK_OK(vs_grade_fit_cdl(&camera, &depth, 1, grey_levels[0], grey_levels[1], &fit));
        printf("measured: CDL in %s, T 0.75, veil 0.012: worst %.3f, mean %.3f stops from %.1f to "
               "%.1f stops round grey\n",
               vs_curve_name(&camera.curve), fit.worst_stops, fit.mean_stops, log2(fit.low / 0.18),
               log2(fit.high / 0.18));
        double e = 0.18 / 256, worst = 0;
        for (int i = 0; i < 500; i++) {
            double x = random_log_uniform(&r, fit.low, fit.high), in[3], out[3];
            for (int b = 0; b < 3; b++) {
                in[b] =
                    vs_curve_encode(&camera.curve, x * depth.transmission.v[b] + depth.veil.v[b]);
            }
            reference_cdl(&fit.cdl, in, out);
            for (int b = 0; b < 3; b++) {
                double got = fmax(0, vs_curve_decode(&camera.curve, out[b]));
                worst = fmax(worst, fabs(log2((got + e) / (x + e))));
            }
        }
        CHECK_TRUE(worst <= fit.worst_stops * 1.01 + 1e-9);
        CHECK_TRUE(fit.mean_stops <= fit.worst_stops);
    }
}

static void the_fit_knows_its_range(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    vs_depth depth = {vs_bands_grey(0.9), vs_bands_grey(0.2)};
    vs_grade_cdl fit;
    CHECK_OK(vs_grade_fit_cdl(&camera, &depth, 1, 0.01, 5, &fit));
    CHECK_NEAR(fit.high, 0.8 / 0.9, 1e-12, 0); /* 0.9 x + 0.2 = 1: over that the frame clips */
    CHECK_STATUS(vs_grade_fit_cdl(&camera, &depth, 1, 0.9, 5, &fit), VS_ERR_DOMAIN);
    CHECK_NAN(fit.worst_stops);
    CHECK_STATUS(vs_grade_fit_cdl(&camera, &depth, 1, 0, 1, &fit), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_grade_fit_cdl(&camera, &depth, -1, 0.01, 1, &fit), VS_ERR_DOMAIN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_grade_thins_the_haze),
        cmocka_unit_test(no_haze_needs_no_grade),
        cmocka_unit_test(noise_follows_the_sensor_model),
        cmocka_unit_test(grey_haze_adds_the_noise_of_its_slope),
        cmocka_unit_test(latitude_is_the_range_over_the_veil),
        cmocka_unit_test(the_colourists_offset),
        cmocka_unit_test(other_depths_are_over_or_under_corrected),
        cmocka_unit_test(the_cdl_undoes_the_veil_to_its_stated_error),
        cmocka_unit_test(the_fit_knows_its_range),
    };
    return RUN_TESTS(tests);
}
