/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light between the densities it was asked for: against integrals of exp(-k l) in closed form. */
#include "check.h"

#include <math.h>

#include "picture/interpolation/ladder.h"

#define LONGEST_M 20.0 /* [m] ways are as long as this, and twice */

/* Lengths of ways: one length; evenly from 0 to 2L; falling as exp(-l/L). */
static double one_length(double k) {
    return exp(-k * 1.5 * LONGEST_M);
}
static double even_lengths(double k) {
    return -expm1(-k * 2 * LONGEST_M) / (k * 2 * LONGEST_M);
}
static double falling_lengths(double k) {
    return 1 / (1 + k * LONGEST_M);
}

/* The worst error over a range, in shares. */
static double worst_of(double (*light)(double), double from_per_m, double to_per_m) {
    vs_ladder l = vs_ladder_for(LONGEST_M, (from_per_m + to_per_m) / 2);
    float value[VS_LADDER_STEPS], log[1][VS_LADDER_STEPS], got;
    double weight[VS_LADDER_STEPS], worst = 0;
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        value[i] = (float)light(l.step_per_m[i]);
    }
    vs_ladder_log(value, log[0]);
    for (int i = 1; i <= 200; i++) {
        double k = from_per_m + (to_per_m - from_per_m) * i / 200;
        vs_ladder_weights(&l, k, weight);
        vs_ladder_values((const float(*)[VS_LADDER_STEPS])log, 1, weight, 0, &got);
        worst = fmax(worst, fabs((double)got / light(k) - 1));
    }
    return worst;
}

/* A seven-hundredth of a stop is 0.1 %. */
static void between_steps_is_the_integral(void **state) {
    (void)state;
    const double range[] = {0, 1 / LONGEST_M, 2 / LONGEST_M, 4 / LONGEST_M, 8 / LONGEST_M};
    for (int i = 0; i < 4; i++) {
        CHECK_TRUE(worst_of(one_length, range[i], range[i + 1]) < 1e-6);
        CHECK_TRUE(worst_of(even_lengths, range[i], range[i + 1]) < 1e-3);
        CHECK_TRUE(worst_of(falling_lengths, range[i], range[i + 1]) < 1e-3);
    }
    CHECK_TRUE(worst_of(even_lengths, 0, 1 / LONGEST_M) < 1e-4);
}

static void steps_lie_in_the_range(void **state) {
    (void)state;
    const double k[] = {0, 1e-6, 0.05, 0.0500001, 0.3, 7};
    for (size_t i = 0; i < sizeof k / sizeof *k; i++) {
        double sum = 0, weight[VS_LADDER_STEPS];
        vs_ladder l = vs_ladder_for(LONGEST_M, k[i]);
        CHECK_TRUE(l.from_per_m <= k[i] && k[i] <= l.to_per_m);
        CHECK_TRUE(l.step_per_m[0] > 0 && l.step_per_m[0] >= l.from_per_m);
        vs_ladder_weights(&l, k[i], weight);
        for (int s = 0; s < VS_LADDER_STEPS; s++) {
            CHECK_TRUE(s == 0 || l.step_per_m[s] > l.step_per_m[s - 1]);
            sum += weight[s];
        }
        CHECK_NEAR(sum, 1, 1e-12, 0);
        CHECK_NEAR(l.step_per_m[VS_LADDER_STEPS - 1], l.to_per_m, 1e-12, 0);
    }
    /* the same range, the same steps */
    vs_ladder a = vs_ladder_for(LONGEST_M, 0.01), b = vs_ladder_for(LONGEST_M, 0.04);
    CHECK_TRUE(a.step_per_m[1] == b.step_per_m[1]);
}

static void nothing_stays_nothing(void **state) {
    (void)state;
    const float dark[VS_LADDER_STEPS] = {0}, gone[VS_LADDER_STEPS] = {1, 0.5f, 0, 0};
    float log[2][VS_LADDER_STEPS], got[2];
    double weight[VS_LADDER_STEPS];
    vs_ladder l = vs_ladder_for(LONGEST_M, 0.3);
    vs_ladder_log(dark, log[0]);
    vs_ladder_log(gone, log[1]);
    vs_ladder_weights(&l, 0.3, weight);
    vs_ladder_values((const float(*)[VS_LADDER_STEPS])log, 2, weight, 0, got);
    CHECK_TRUE(got[0] == 0);
    CHECK_TRUE(got[1] >= 0 && isfinite(got[1]));
}

/* Light that haze makes: a + b k, straight. */
static void sums_are_straight(void **state) {
    (void)state;
    float kept[2][VS_LADDER_STEPS], got[2];
    double weight[VS_LADDER_STEPS];
    vs_ladder l = vs_ladder_for(LONGEST_M, 0.01);
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        kept[0][i] = (float)(0.01 + 40 * l.step_per_m[i]);
        kept[1][i] = -1;
    }
    vs_ladder_weights(&l, 0.013, weight);
    vs_ladder_sums((const float(*)[VS_LADDER_STEPS])kept, 2, weight, got);
    CHECK_NEAR((double)got[0], 0.01 + 40 * 0.013, 1e-6, 0);
    CHECK_TRUE(got[1] == 0); /* never less than nothing */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(between_steps_is_the_integral),
        cmocka_unit_test(steps_lie_in_the_range),
        cmocka_unit_test(nothing_stays_nothing),
        cmocka_unit_test(sums_are_straight),
    };
    return RUN_TESTS(tests);
}
