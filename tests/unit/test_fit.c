/* SPDX-License-Identifier: GPL-3.0-or-later */
/* base/fit: certified regressions, what cannot be fitted. */
#include "check.h"

#include <math.h>

#include "veilstop/base/fit.h"

/* NIST StRD Misra1a: its certified values and standard deviations. */
#define B1          2.3894212918E+02
#define B1_SD       2.7070075241E+00
#define B2          5.5015643181E-04
#define B2_SD       7.2668688436E-06
#define RESIDUAL_SS 1.2455138894E-01
#define B2_UNIT     1e-4 /* parameters are scaled to one order of magnitude, as the header asks */

static void misra1a(const double *parameter, double *residual, void *context) {
    const table *t = context;
    for (size_t i = 0; i < t->rows; i++) {
        double x = table_number(t, i, "x");
        residual[i] =
            100 * parameter[0] * -expm1(-B2_UNIT * parameter[1] * x) - table_number(t, i, "y");
    }
}

static void certified_regression(void **state) {
    (void)state;
    table t = table_read("nist_misra1a.csv", 14);
    const double start[2][2] = {{5, 1}, {2.5, 5}}; /* NIST's two starts */
    for (int s = 0; s < 2; s++) {
        double parameter[2] = {start[s][0], start[s][1]}, covariance[4], sum;
        CHECK_OK(vs_fit_least_squares(misra1a, &t, t.rows, 2, 1e-10, parameter, covariance, &sum));
        CHECK_NEAR(100 * parameter[0], B1, 1e-7, 0);
        CHECK_NEAR(B2_UNIT * parameter[1], B2, 1e-7, 0);
        CHECK_NEAR(sum, RESIDUAL_SS, 1e-9, 0);
        double variance = sum / (double)(t.rows - 2);
        CHECK_NEAR(100 * sqrt(covariance[0] * variance), B1_SD, 1e-5, 0);
        CHECK_NEAR(B2_UNIT * sqrt(covariance[3] * variance), B2_SD, 1e-5, 0);
        CHECK_NEAR(covariance[1], covariance[2], 1e-12, 0);
    }
    table_free(&t);
}

static void never_finite(const double *parameter, double *residual, void *context) {
    (void)context;
    residual[0] = residual[1] = log(-1 - parameter[0] * parameter[0]);
}

static void line(const double *parameter, double *residual, void *context) {
    (void)context;
    residual[0] = parameter[0] - 3;
    residual[1] = 2 * (parameter[0] - 3);
}

static void what_cannot_be_fitted_says_so(void **state) {
    (void)state;
    double parameter[1] = {1}, covariance[1], sum;
    CHECK_STATUS(vs_fit_least_squares(never_finite, NULL, 2, 1, 1e-10, parameter, covariance, &sum),
                 VS_ERR_DOMAIN);
    CHECK_NAN(parameter[0]);
    CHECK_NAN(covariance[0]);
    CHECK_NAN(sum);
    parameter[0] = 1;
    CHECK_STATUS(vs_fit_least_squares(line, NULL, 0, 1, 1e-10, parameter, NULL, NULL),
                 VS_ERR_DOMAIN);
    parameter[0] = INFINITY;
    CHECK_STATUS(vs_fit_least_squares(line, NULL, 2, 1, 1e-10, parameter, NULL, NULL),
                 VS_ERR_DOMAIN);
    parameter[0] = 1;
    CHECK_OK(vs_fit_least_squares(line, NULL, 2, 1, 1e-10, parameter, covariance, NULL));
    CHECK_NEAR(parameter[0], 3, 1e-10, 0);
    CHECK_NEAR(covariance[0], 0.2, 1e-8, 0); /* 1/(1 + 4) */
}

/* Three equations, two unknowns, by hand: y = 1 + 2 x through (0, 1), (1, 3), (2, 5) with the
 * middle raised by 3: the line goes up by 1. Equations that leave one open give the smallest set.
 */
static void linear_equations_by_hand(void **state) {
    (void)state;
    const double row[] = {1, 0, 1, 1, 1, 2}, wanted[] = {1, 6, 5}, alike[] = {1, 1, 2, 2, 3, 3};
    double parameter[2];
    CHECK_OK(vs_fit_linear(row, wanted, 3, 2, parameter));
    CHECK_NEAR(parameter[0], 2, 1e-12, 0);
    CHECK_NEAR(parameter[1], 2, 1e-12, 0);
    const double doubled[] = {2, 4, 6};
    CHECK_OK(vs_fit_linear(alike, doubled, 3, 2, parameter));
    CHECK_NEAR(parameter[0], 1, 1e-12, 0);
    CHECK_NEAR(parameter[1], 1, 1e-12, 0);
    CHECK_STATUS(vs_fit_linear(row, wanted, 1, 2, parameter), VS_ERR_DOMAIN);
    CHECK_NAN(parameter[0]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(linear_equations_by_hand),
        cmocka_unit_test(certified_regression),
        cmocka_unit_test(what_cannot_be_fitted_says_so),
    };
    return RUN_TESTS(tests);
}
