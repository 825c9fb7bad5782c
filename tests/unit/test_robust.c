/* SPDX-License-Identifier: GPL-3.0-or-later */
/* base/robust: medians by definition, lines through points with outliers. */
#include "check.h"

#include <math.h>

#include "veilstop/base/robust.h"

static void medians_by_definition(void **state) {
    (void)state;
    double odd[] = {9, 1, 5}, even[] = {4, 1, 3, 2};
    CHECK_NEAR(vs_median(odd, 3), 5, 0, 0);
    CHECK_NEAR(vs_median(even, 4), 2.5, 0, 0);
    CHECK_NAN(vs_median(odd, 0));
}

/* The true line is known by construction: 75 % of the points are on it, with a little noise. */
static void a_quarter_of_the_points_may_be_wrong(void **state) {
    (void)state;
    random_stream r = {12};
    for (int round = 0; round < 30; round++) {
        double x[800], y[800];
        double slope = random_uniform(&r, 0.2, 1), intercept = random_uniform(&r, 0, 0.3);
        for (int i = 0; i < 800; i++) {
            x[i] = random_uniform(&r, 0, 1);
            y[i] = intercept + slope * x[i] + random_uniform(&r, -0.003, 0.003);
            if (i % 4 == 0) {
                y[i] = random_uniform(&r, 0, 1.4);
            }
        }
        vs_line line;
        CHECK_OK(vs_robust_line(x, y, 800, &line));
        CHECK_NEAR(line.slope, slope, 0, 2e-3);
        CHECK_NEAR(line.intercept, intercept, 0, 1e-3);
        CHECK_TRUE(line.scale < 0.01);
    }
}

static void points_on_a_line_are_a_line(void **state) {
    (void)state;
    double x[] = {0, 1, 2, 3, 4}, y[] = {1, 3, 5, 7, 9}, same[] = {2, 2, 2, 2, 2};
    vs_line line;
    CHECK_OK(vs_robust_line(x, y, 5, &line));
    CHECK_NEAR(line.slope, 2, 1e-12, 0);
    CHECK_NEAR(line.intercept, 1, 1e-12, 0);
    CHECK_NEAR(line.scale, 0, 0, 1e-12);
    CHECK_OK(vs_robust_line(x, same, 5, &line));
    CHECK_NEAR(line.slope, 0, 0, 0);
    CHECK_STATUS(vs_robust_line(same, y, 5, &line), VS_ERR_DOMAIN);
    CHECK_NAN(line.slope);
    CHECK_STATUS(vs_robust_line(x, y, 2, &line), VS_ERR_DOMAIN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(medians_by_definition),
        cmocka_unit_test(a_quarter_of_the_points_may_be_wrong),
        cmocka_unit_test(points_on_a_line_are_a_line),
    };
    return RUN_TESTS(tests);
}
