/* SPDX-License-Identifier: GPL-3.0-or-later */
/* camera/cdl: the arithmetic of ASC CDL 1.2, and fits that find the ten numbers again. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/camera/cdl.h"

#define COUNT 400

static const vs_cdl_goal goal = {.tolerance = 1e-10};

/* Worked by hand from the rules of ASC CDL 1.2 (Academy S-2014-006, node ASC_CDL, style Fwd), with
 * the numbers of that specification's own example: slope 1 1 0.9, offset -0.03 -0.02 0,
 * power 1.25 1 1, saturation 1.7. */
static void arithmetic_follows_the_rules(void **state) {
    (void)state;
    vs_cdl cdl = {{{1, 1, 0.9}}, {{-0.03, -0.02, 0}}, {{1.25, 1, 1}}, 1.7};
    vs_bands out = vs_cdl_apply(&cdl, (vs_bands){{0.46, 0.5, 0.4}});
    double r = pow(0.43, 1.25), g = 0.48, b = 0.36;
    double luma = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    CHECK_NEAR(out.v[0], luma + 1.7 * (r - luma), 1e-14, 0);
    CHECK_NEAR(out.v[1], luma + 1.7 * (g - luma), 1e-14, 0);
    CHECK_NEAR(out.v[2], luma + 1.7 * (b - luma), 1e-14, 0);
    /* clamped before the power: 0.01 - 0.03 is 0, not the power of a negative number */
    out = vs_cdl_apply(&cdl, (vs_bands){{0.01, 0.02, 0}});
    for (int i = 0; i < VS_BAND_COUNT; i++) {
        CHECK_NEAR(out.v[i], 0, 0, 0);
    }
    /* clamped above before the power, and after the saturation at both ends */
    out = vs_cdl_apply(&cdl, (vs_bands){{1.2, 0.9, 0.1}});
    luma = 0.2126 + 0.7152 * 0.88 + 0.0722 * 0.09;
    CHECK_NEAR(out.v[0], 1, 0, 0);
    CHECK_NEAR(out.v[1], luma + 1.7 * (0.88 - luma), 1e-14, 0);
    CHECK_NEAR(out.v[2], 0, 0, 0);
    CHECK_NAN(vs_cdl_apply(&cdl, vs_bands_grey(NAN)).v[1]);
}

static void the_identity_and_no_saturation(void **state) {
    (void)state;
    vs_cdl cdl = vs_cdl_identity();
    vs_bands in = {{0.123, 0.75, 0.31}};
    vs_bands out = vs_cdl_apply(&cdl, in);
    for (int i = 0; i < VS_BAND_COUNT; i++) {
        CHECK_NEAR(out.v[i], in.v[i], 1e-15, 0);
    }
    cdl.saturation = 0;
    out = vs_cdl_apply(&cdl, in);
    for (int i = 0; i < VS_BAND_COUNT; i++) {
        CHECK_NEAR(out.v[i], vs_bands_luminance(in), 1e-15, 0);
    }
}

static vs_bands random_signal(random_stream *r) {
    vs_bands signal = {{random_uniform(r, 0.02, 0.95), random_uniform(r, 0.02, 0.95),
                        random_uniform(r, 0.02, 0.95)}};
    return signal;
}

static void a_fit_finds_the_ten_numbers_again(void **state) {
    (void)state;
    random_stream r = {20};
    double worst = 0;
    for (int round = 0; round < 12; round++) {
        vs_cdl truth;
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            truth.slope.v[b] = random_uniform(&r, 0.8, 1.6);
            truth.offset.v[b] = random_uniform(&r, -0.15, 0.05);
            truth.power.v[b] = random_uniform(&r, 0.7, 1.4);
        }
        truth.saturation = random_uniform(&r, 0.8, 1.3);
        static vs_cdl_sample sample[COUNT];
        for (size_t i = 0; i < COUNT; i++) {
            sample[i].from = random_signal(&r);
            sample[i].to = vs_cdl_apply(&truth, sample[i].from);
        }
        vs_cdl fit;
        double rms;
        CHECK_OK(vs_cdl_fit(sample, COUNT, &goal, &fit, &rms));
        CHECK_NEAR(rms, 0, 0, 1e-6);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            CHECK_NEAR(fit.slope.v[b], truth.slope.v[b], 0, 1e-4);
            CHECK_NEAR(fit.offset.v[b], truth.offset.v[b], 0, 1e-4);
            CHECK_NEAR(fit.power.v[b], truth.power.v[b], 0, 1e-4);
        }
        CHECK_NEAR(fit.saturation, truth.saturation, 0, 1e-4);
        worst = fmax(worst, rms);
    }
    printf("measured: 12 random CDLs found again from 400 pairs, rms within %.1e\n", worst);
}

static void what_the_samples_leave_open_stays(void **state) {
    (void)state;
    vs_cdl_sample grey[20];
    for (int i = 0; i < 20; i++) {
        double signal = 0.1 + 0.04 * i;
        grey[i].from = vs_bands_grey(signal);
        grey[i].to = vs_bands_grey(1.2 * signal - 0.1);
    }
    vs_cdl fit;
    CHECK_OK(vs_cdl_fit(grey, 20, &goal, &fit, NULL));
    CHECK_NEAR(fit.saturation, 1, 0, 1e-9);
    CHECK_NEAR(fit.slope.v[1], 1.2, 0, 1e-3);
    CHECK_NEAR(fit.power.v[1], 1, 0, 1e-3);
}

/* Pure noise has no CDL: the result must not be worse than the identity. */
static void never_further_off_than_doing_nothing(void **state) {
    (void)state;
    random_stream r = {4};
    for (int round = 0; round < 8; round++) {
        vs_cdl_sample sample[40];
        double before = 0, after = 0;
        for (int i = 0; i < 40; i++) {
            sample[i].from = random_signal(&r);
            sample[i].to = round < 4 ? random_signal(&r) : sample[i].from;
        }
        vs_cdl fit;
        double rms;
        CHECK_OK(vs_cdl_fit(sample, 40, &goal, &fit, &rms));
        for (int i = 0; i < 40; i++) {
            vs_bands out = vs_cdl_apply(&fit, sample[i].from);
            for (int b = 0; b < VS_BAND_COUNT; b++) {
                before += pow(sample[i].from.v[b] - sample[i].to.v[b], 2);
                after += pow(out.v[b] - sample[i].to.v[b], 2);
            }
        }
        CHECK_TRUE(after <= before + 1e-28); /* rounding, where nothing is to be done */
        CHECK_NEAR(rms, sqrt(after / 120), 1e-9, 1e-12);
    }
}

static void bad_samples_are_refused(void **state) {
    (void)state;
    vs_cdl_sample sample[4] = {{{{0.5, 0.5, 0.5}}, {{0.5, 0.5, 0.5}}}};
    vs_cdl fit;
    double rms;
    CHECK_STATUS(vs_cdl_fit(sample, 3, &goal, &fit, &rms), VS_ERR_DOMAIN);
    sample[2].from.v[1] = NAN;
    CHECK_STATUS(vs_cdl_fit(sample, 4, &goal, &fit, &rms), VS_ERR_DOMAIN);
    CHECK_NAN(rms);
    CHECK_NEAR(fit.saturation, 1, 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(arithmetic_follows_the_rules),
        cmocka_unit_test(the_identity_and_no_saturation),
        cmocka_unit_test(a_fit_finds_the_ten_numbers_again),
        cmocka_unit_test(what_the_samples_leave_open_stays),
        cmocka_unit_test(never_further_off_than_doing_nothing),
        cmocka_unit_test(bad_samples_are_refused),
    };
    return RUN_TESTS(tests);
}
