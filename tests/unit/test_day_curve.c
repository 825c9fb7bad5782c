/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Peaks, highest means and first moments of piecewise straight curves: cases worked by hand, and
 * random curves against a fine sum. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/safety/day_curve.h"

#define COUNT_OF(list) (sizeof(list) / sizeof(list)[0])
#define CURVE(at, values, after_)                                                                  \
    { .at_s = (at), .value = (values), .count = COUNT_OF(at), .after = (after_) }

/* Up from 0 to 10 in an hour, down to 0 in the next. */
static void a_triangle(void **state) {
    (void)state;
    const double at[] = {0, 3600, 7200}, value[] = {0, 10, 0};
    const vs_day_curve curve = CURVE(at, value, 0);
    double peak_s;
    CHECK_NEAR(vs_day_curve_peak(&curve, &peak_s), 10, 0, 0);
    CHECK_NEAR(peak_s, 3600, 0, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 0), 10, 0, 0);
    /* the hour about the top: two trapezoids from 5 to 10 */
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 3600), 7.5, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 7200), 5, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 4 * 3600), 2.5, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_reaches_s(&curve, 2.5), 900, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_reaches_s(&curve, 10), 3600, 0, 0);
    CHECK_NAN(vs_day_curve_reaches_s(&curve, 10.001));
    CHECK_NAN(vs_day_curve_reaches_s(&curve, NAN));
}

/* Steps: two samples at one time. */
static void steps(void **state) {
    (void)state;
    const double at[] = {0, 100, 100, 200, 200, 400}, value[] = {2, 2, 8, 8, 4, 4};
    const vs_day_curve curve = CURVE(at, value, 0);
    CHECK_NEAR(vs_day_curve_peak(&curve, NULL), 8, 0, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 100), 8, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 200), 6, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 400), (200 + 800 + 800) / 400.0, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&curve, 1000), 1.8, 1e-14, 0);
    CHECK_NEAR(vs_day_curve_reaches_s(&curve, 8), 100, 0, 0);
    CHECK_NEAR(vs_day_curve_reaches_s(&curve, 1), 0, 0, 0);
}

static void what_comes_after_counts(void **state) {
    (void)state;
    const double at[] = {0, 100}, value[] = {0, 3};
    const vs_day_curve lasting = CURVE(at, value, 3);
    CHECK_NEAR(vs_day_curve_highest_mean(&lasting, 1e6), 3, 1e-14, 0);
    const vs_day_curve rising = CURVE(at, value, 5);
    CHECK_NEAR(vs_day_curve_reaches_s(&rising, 4), 100, 0, 0);
}

static void nothing_is_no_haze(void **state) {
    (void)state;
    const vs_day_curve none = {NULL, NULL, 0, 0};
    double peak_s;
    CHECK_NEAR(vs_day_curve_peak(&none, &peak_s), 0, 0, 0);
    CHECK_NAN(peak_s);
    CHECK_NEAR(vs_day_curve_highest_mean(&none, 3600), 0, 0, 0);
    CHECK_NAN(vs_day_curve_highest_mean(&none, NAN));
    CHECK_NAN(vs_day_curve_reaches_s(&none, 1));
    const double at[] = {50}, value[] = {4};
    const vs_day_curve moment = CURVE(at, value, 0);
    CHECK_NEAR(vs_day_curve_highest_mean(&moment, 3600), 0, 0, 0);
}

static double value_at(const vs_day_curve *c, double at_s) {
    for (size_t i = 1; i < c->count; i++) {
        if (at_s >= c->at_s[i - 1] && at_s < c->at_s[i]) {
            double share = (at_s - c->at_s[i - 1]) / (c->at_s[i] - c->at_s[i - 1]);
            return c->value[i - 1] + share * (c->value[i] - c->value[i - 1]);
        }
    }
    return at_s >= c->at_s[c->count - 1] ? c->after : 0;
}

/* Slid in fine steps, the integral summed in fine steps. */
static double highest_by_sum(const vs_day_curve *c, double length_s, double step_s) {
    double highest = 0, end_s = c->at_s[c->count - 1], sum = 0;
    size_t wide = (size_t)lround(length_s / step_s);
    double from_s = c->at_s[0] - (double)wide * step_s;
    size_t steps = (size_t)((end_s - from_s) / step_s);
    for (size_t i = 0; i < steps; i++) {
        double at_s = from_s + ((double)i + 0.5) * step_s;
        sum += value_at(c, at_s + (double)wide * step_s) - value_at(c, at_s);
        highest = fmax(highest, sum * step_s / length_s);
    }
    return fmax(highest, c->after);
}

static void random_curves_agree_with_a_sum(void **state) {
    (void)state;
    random_stream random = {77};
    double worst = 0;
    for (int run = 0; run < 200; run++) {
        double at[12], value[12], now_s = random_uniform(&random, 0, 100);
        size_t count = 2 + random_index(&random, 11);
        for (size_t i = 0; i < count; i++) {
            at[i] = now_s;
            value[i] = random_uniform(&random, 0, 10);
            now_s += random_index(&random, 5) ? random_uniform(&random, 1, 200) : 0;
        }
        const vs_day_curve curve = {at, value, count, random_index(&random, 2) ? 0 : value[0] / 3};
        double length_s = random_log_uniform(&random, 10, 3000), step_s = length_s / 4000;
        double got = vs_day_curve_highest_mean(&curve, length_s);
        double want = highest_by_sum(&curve, length_s, step_s);
        CHECK_NEAR(got, want, 0, 10 * 12 * step_s / length_s);
        CHECK_TRUE(got <= vs_day_curve_peak(&curve, NULL) + curve.after);
        worst = fmax(worst, fabs(got - want));
    }
    printf("measured: highest mean against a sum in 4000 steps, 200 random curves up to 10: worst "
           "difference %.1e\n",
           worst);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_triangle),
        cmocka_unit_test(steps),
        cmocka_unit_test(what_comes_after_counts),
        cmocka_unit_test(nothing_is_no_haze),
        cmocka_unit_test(random_curves_agree_with_a_sum),
    };
    return RUN_TESTS(tests);
}
