/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The vector routines under the fast integrals, each compared with libm or GSL over its whole
 * range.
 */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "base/lanes.h"
#include "base/numerics/legendre_rules.h"
#include "base/single.h"
#include "veilstop/base/quadrature.h"

#define SAMPLES 20000

static void exponential_against_libm(void **state) {
    (void)state;
    random_stream r = {1};
    double worst = 0;
    for (int i = 0; i < SAMPLES; i++) {
        double x = random_uniform(&r, -700, 1) * random_uniform(&r, 0, 1);
        CHECK_NEAR(lane_exp(x), exp(x), 3e-14, 0);
        worst = fmax(worst, fabs(lane_exp(x) / exp(x) - 1));
    }
    CHECK_NEAR(lane_exp(0), 1, 0, 0);
    CHECK_NEAR(lane_exp(-1e9), 0, 0, 1e-300);
    CHECK_TRUE(lane_exp(1e9) > 1e300);
    printf("measured: vector exp against libm: worst %.1e\n", worst);
}

static void single_exponential_against_libm(void **state) {
    (void)state;
    random_stream r = {9};
    for (int i = 0; i < SAMPLES; i++) {
        float x = (float)(random_uniform(&r, -80, 1) * random_uniform(&r, 0, 1));
        CHECK_NEAR((double)single_exp(x), exp((double)x), 4e-7, 0);
    }
    CHECK_NEAR((double)single_exp(0), 1, 0, 0);
    CHECK_NEAR((double)single_exp(-1e9f), 0, 0, 1e-36);
}

static void logarithm_against_libm(void **state) {
    (void)state;
    random_stream r = {2};
    for (int i = 0; i < SAMPLES; i++) {
        double x = random_log_uniform(&r, 1e-300, 1e300);
        CHECK_NEAR(lane_log(x), log(x), 2e-15, 1e-15);
        x = random_uniform(&r, 0.5, 2);
        CHECK_NEAR(lane_log(x), log(x), 0, 1e-15);
    }
}

static void arctangent_against_libm(void **state) {
    (void)state;
    random_stream r = {3};
    for (int i = 0; i < SAMPLES; i++) {
        double y = random_log_uniform(&r, 1e-12, 1e12), x = random_uniform(&r, -5, 5);
        CHECK_NEAR(lane_atan2_upper(y, x), atan2(y, x), 3e-14, 0);
        float single_y = (float)x, single_x = (float)random_log_uniform(&r, 1e-12, 1e12);
        CHECK_NEAR((double)single_atan(single_y, single_x),
                   atan((double)single_y / (double)single_x), 3e-7, 1e-30);
    }
    CHECK_NEAR(lane_atan2_upper(0, 1), 0, 0, 0);
    CHECK_NEAR(lane_atan2_upper(0, -1), VS_PI, 1e-15, 0);
    CHECK_NEAR(lane_atan2_upper(1, 0), VS_PI / 2, 1e-15, 0);
}

static void arcsine_series_against_libm(void **state) {
    (void)state;
    for (int i = 1; i <= SAMPLES; i++) {
        double s = 0.5 * i / SAMPLES, angle = asin(sqrt(s)), want = angle * angle / s;
        CHECK_NEAR(lane_arcsine_square(s), want, 2e-9, 0);
        CHECK_NEAR(lane_arcsine_square_log(s), log(want), 0, 2e-9);
    }
}

/* GSL's tables of the same rules; and the tails' weights: they give 1 for the Legendre polynomial
 * whose coefficient they extract, 0 for the lower ones. */
static void rules_against_gsl(void **state) {
    (void)state;
    for (int n = 1; n <= VS_LEGENDRE_ORDER_MAX; n++) {
        const vs_legendre_rule *rule = &vs_legendre_rules[n];
        double node[VS_LEGENDRE_ORDER_MAX], weight[VS_LEGENDRE_ORDER_MAX];
        CHECK_OK(vs_gauss_legendre((size_t)n, node, weight));
        CHECK_TRUE(rule->count == n);
        double sum = 0, last = 0, before = 0, cross = 0;
        for (int i = 0; i < n; i++) {
            CHECK_NEAR(rule->node[i], node[i], 1e-15, 1e-15);
            CHECK_NEAR(rule->weight[i], weight[i], 1e-14, 0);
            double p_last = n > 1 ? rule->last[i] * 2 / (2 * n - 1) : 1;
            double p_before = n > 1 ? rule->before[i] * 2 / (2 * n - 3) : 0;
            sum += weight[i] * rule->last[i];
            last += weight[i] * p_last * rule->last[i];
            before += weight[i] * p_before * rule->before[i];
            cross += weight[i] * p_last * rule->before[i];
        }
        CHECK_NEAR(last, 1, 1e-14, 0);
        if (n > 1) {
            CHECK_NEAR(before, 1, 1e-14, 0);
            CHECK_NEAR(sum, 0, 0, 1e-14);
            CHECK_NEAR(cross, 0, 0, 1e-14);
        }
    }
}

static void sums_and_divisors(void **state) {
    (void)state;
    const double lane[LANES] = {1, 2, 4, 8, 16, 32, 64, 128};
    CHECK_NEAR(lanes_sum(lane), 255, 0, 0);
    CHECK_TRUE(lane_divisor(0) > 0 && lane_divisor(-3) == -3);
    CHECK_TRUE(lane_max(2, 3) == 3 && lane_min(2, 3) == 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exponential_against_libm),
        cmocka_unit_test(single_exponential_against_libm),
        cmocka_unit_test(logarithm_against_libm),
        cmocka_unit_test(arctangent_against_libm),
        cmocka_unit_test(arcsine_series_against_libm),
        cmocka_unit_test(rules_against_gsl),
        cmocka_unit_test(sums_and_divisors),
    };
    return RUN_TESTS(tests);
}
