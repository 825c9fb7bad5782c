/* SPDX-License-Identifier: GPL-3.0-or-later */
/* base/statistics and base/quasi_random: quantiles, rank correlation, Sobol's points. */
#include "check.h"

#include <math.h>
#include <string.h>

#include "veilstop/base/quasi_random.h"
#include "veilstop/base/statistics.h"

/* Linear interpolation between order statistics (n - 1) q, as in the GSL manual's definition. */
static void quantiles_interpolate(void **state) {
    (void)state;
    double sample[] = {7, 1, 3, 11, 2.5};
    vs_sort(sample, 5);
    CHECK_NEAR(vs_quantile(sample, 5, 0.5), 3, 0, 0);
    CHECK_NEAR(vs_quantile(sample, 5, 0), 1, 0, 0);
    CHECK_NEAR(vs_quantile(sample, 5, 1), 11, 0, 0);
    CHECK_NEAR(vs_quantile(sample, 5, 0.1), 1 + 0.4 * 1.5, 1e-15, 0);
    CHECK_NEAR(vs_quantile(sample, 5, 0.9), 7 + 0.6 * 4, 1e-15, 0);
    CHECK_NEAR(vs_quantile(sample, 1, 0.9), 1, 0, 0);
    CHECK_NAN(vs_quantile(sample, 0, 0.5));
    CHECK_NAN(vs_quantile(sample, 5, 1.5));
}

/* The textbook example of ten people's test scores and hours of television: the sum of squared rank
 * differences is 194, so rho = 1 - 6 x 194/(10 x 99) = -29/165 (from memory of the example; the
 * formula checks it). With ties: (1,1), (2,2), (2,4), (3,3) has the ranks 1, 2.5, 2.5, 4 and 1, 2,
 * 4, 3, whose Pearson correlation is 3/sqrt(4.5 x 5). */
static void ranks_correlate_as_in_worked_examples(void **state) {
    (void)state;
    const double score[] = {106, 86, 100, 101, 99, 103, 97, 113, 112, 110};
    const double hours[] = {7, 0, 27, 50, 28, 29, 20, 12, 6, 17};
    double rho;
    CHECK_OK(vs_rank_correlation(score, hours, 10, &rho));
    CHECK_NEAR(rho, -29.0 / 165, 1e-14, 0);
    const double x[] = {1, 2, 2, 3}, y[] = {1, 2, 4, 3};
    CHECK_OK(vs_rank_correlation(x, y, 4, &rho));
    CHECK_NEAR(rho, 3 / sqrt(4.5 * 5), 1e-14, 0);
    const double flat[] = {4, 4, 4, 4};
    CHECK_OK(vs_rank_correlation(x, flat, 4, &rho));
    CHECK_NAN(rho);
}

/* Sobol 1967: each coordinate of the first 2^m points, the origin among them, takes each multiple
 * of 2^-m once. */
static void sobol_fills_each_coordinate_evenly(void **state) {
    (void)state;
    enum { DIMENSIONS = 32, COUNT = 255 };
    static double point[COUNT * DIMENSIONS];
    CHECK_OK(vs_sobol_points(DIMENSIONS, COUNT, point));
    for (size_t d = 0; d < DIMENSIONS; d++) {
        bool seen[COUNT + 1];
        memset(seen, 0, sizeof seen);
        for (size_t i = 0; i < COUNT; i++) {
            double place = point[i * DIMENSIONS + d] * (COUNT + 1);
            CHECK_TRUE(place == floor(place) && place > 0 && place <= COUNT);
            CHECK_TRUE(!seen[(size_t)place]);
            seen[(size_t)place] = true;
        }
    }
    CHECK_STATUS(vs_sobol_points(0, 1, point), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_sobol_points(VS_SOBOL_DIMENSIONS_MAX + 1, 1, point), VS_ERR_DOMAIN);
}

/* Fisher's table of t, 5 % on one side: 6.314, 2.015, 1.812, 1.697 for 1, 5, 10, 30 degrees of
 * freedom (from memory; any book of tables). */
static void student_as_printed(void **state) {
    (void)state;
    CHECK_PRINTED(vs_student_quantile(0.95, 1), 6.314, 1e-3);
    CHECK_PRINTED(vs_student_quantile(0.95, 5), 2.015, 1e-3);
    CHECK_PRINTED(vs_student_quantile(0.95, 10), 1.812, 1e-3);
    CHECK_PRINTED(vs_student_quantile(0.95, 30), 1.697, 1e-3);
    CHECK_NAN(vs_student_quantile(1, 5));
    CHECK_NAN(vs_student_quantile(0.5, 0));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(student_as_printed),
        cmocka_unit_test(quantiles_interpolate),
        cmocka_unit_test(ranks_correlate_as_in_worked_examples),
        cmocka_unit_test(sobol_fills_each_coordinate_evenly),
    };
    return RUN_TESTS(tests);
}
