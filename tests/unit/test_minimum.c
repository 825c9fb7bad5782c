/* SPDX-License-Identifier: GPL-3.0-or-later */
/* base/minimum: minima with closed forms, early stops, invalid brackets. */
#include "check.h"

#include <math.h>

#include "veilstop/base/minimum.h"

static double parabola(double x, void *context) {
    double at = *(double *)context;
    return 2.5 * (x - at) * (x - at) - 1.75;
}

/* x^x has its minimum at 1/e; |x - a| its kink at a. */
static double self_power(double x, void *context) {
    (void)context;
    return exp(x * log(x));
}

static double kink(double x, void *context) {
    return fabs(x - *(double *)context);
}

static void minima_with_closed_forms(void **state) {
    (void)state;
    double at = 0.7319;
    vs_minimum m;
    CHECK_OK(vs_minimum_brent(parabola, &at, -1, 0.5, 3, 1e-7, -INFINITY, &m));
    CHECK_NEAR(m.x, at, 1e-7, 0);
    CHECK_NEAR(m.value, -1.75, 1e-14, 0);
    CHECK_OK(vs_minimum_brent(self_power, NULL, 0.01, 0.5, 1, 1e-7, -INFINITY, &m));
    CHECK_NEAR(m.x, exp(-1), 1e-7, 0);
    CHECK_NEAR(m.value, exp(-exp(-1)), 1e-14, 0);
    CHECK_OK(vs_minimum_brent(kink, &at, 0.1, 0.6, 2.2, 1e-7, -INFINITY, &m));
    CHECK_NEAR(m.x, at, 1e-7, 0);
}

static void it_stops_as_soon_as_it_is_low_enough(void **state) {
    (void)state;
    double at = 0.7319;
    vs_minimum m;
    CHECK_OK(vs_minimum_brent(kink, &at, 0.1, 0.6, 2.2, 1e-7, 0.05, &m));
    CHECK_TRUE(m.value < 0.05 && m.value > 1e-6);
}

static double nowhere(double x, void *context) {
    (void)context;
    return x == 0.5 ? 0 : (double)NAN;
}

static void what_is_no_bracket_says_so(void **state) {
    (void)state;
    double at = 5;
    vs_minimum m;
    CHECK_STATUS(vs_minimum_brent(parabola, &at, 0, 1, 2, 1e-7, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_NAN(m.x);
    CHECK_STATUS(vs_minimum_brent(parabola, &at, 7, 5, 2, 1e-7, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_minimum_brent(parabola, &at, 2, 5, 7, 0, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_minimum_brent(nowhere, NULL, 0, 0.5, 1, 1e-7, -INFINITY, &m), VS_ERR_DOMAIN);
    CHECK_NAN(m.value);
}

static double valley(const double *x, void *context) { /* Rosenbrock 1960: least at (1, 1) */
    (void)context;
    return pow(1 - x[0], 2) + 100 * pow(x[1] - x[0] * x[0], 2);
}

static double corner(const double *x, void *context) { /* no slope is zero at its least */
    (void)context;
    return x[0] < -50 ? (double)NAN : fabs(x[0] - 3) + 2 * fabs(x[1] + 1) + 0.5;
}

static void a_simplex_goes_round_corners(void **state) {
    (void)state;
    double x[2] = {-1.2, 1}, y[2] = {0, 0}, bad[2] = {-60, 0}, value;
    const double step[2] = {0.3, 0.3};
    CHECK_OK(vs_minimum_simplex(valley, NULL, 2, step, 1000, x, &value));
    CHECK_NEAR(x[0], 1, 0, 1e-5);
    CHECK_NEAR(x[1], 1, 0, 1e-5);
    CHECK_OK(vs_minimum_simplex(corner, NULL, 2, step, 1000, y, &value));
    CHECK_NEAR(y[0], 3, 0, 1e-5);
    CHECK_NEAR(y[1], -1, 0, 1e-5);
    CHECK_NEAR(value, 0.5, 0, 1e-4);
    CHECK_STATUS(vs_minimum_simplex(corner, NULL, 2, step, 1000, bad, &value), VS_ERR_DOMAIN);
    CHECK_NAN(value);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_simplex_goes_round_corners),
        cmocka_unit_test(minima_with_closed_forms),
        cmocka_unit_test(it_stops_as_soon_as_it_is_low_enough),
        cmocka_unit_test(what_is_no_bracket_says_so),
    };
    return RUN_TESTS(tests);
}
