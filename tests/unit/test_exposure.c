/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Averages over a shift against the worked example of the law that defines them, and by hand. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"
#include "veilstop/safety/exposure.h"

#define H VS_S_PER_H

static const vs_exposure_limit eight_hours = {
    .fluids = 1, .average = VS_AVERAGE_SHIFT, .length_s = 8 * H, .limit_g_per_m3 = 0.010};
static const vs_exposure_limit ten_hours = {
    .fluids = 1, .average = VS_AVERAGE_SHIFT, .length_s = 10 * H, .limit_g_per_m3 = 0.005};
static const vs_exposure_limit quarter = {
    .fluids = 1, .average = VS_AVERAGE_SHORT, .length_s = 900, .limit_g_per_m3 = 0.010};
static const vs_exposure_limit peak = {
    .fluids = 1, .average = VS_AVERAGE_PEAK, .limit_g_per_m3 = 0.040};

/* 29 CFR 1910.1000(d)(1)(ii): 2 h at 150, 2 h at 75, 4 h at 50 ppm average to 81.25 over 8 h. */
static void the_average_of_the_law(void **state) {
    (void)state;
    const double at[] = {0, 2 * H, 2 * H, 4 * H, 4 * H, 8 * H};
    const double value[] = {150, 150, 75, 75, 50, 50};
    const vs_day_curve curve = {at, value, 6, 0};
    double average = vs_exposure_over(&eight_hours, &curve, 8 * H);
    CHECK_NEAR(average, 81.25, 1e-13, 0);
    printf("measured: (2 x 150 + 2 x 75 + 4 x 50)/8 = %.4f ppm (29 CFR 1910.1000(d): 81.25)\n",
           average);
    CHECK_NAN(vs_exposure_spread(&eight_hours, &curve, 8 * H));
    /* someone there for 4 h, at the worst: 112.5; spread over 8 h, half of it */
    CHECK_NEAR(vs_exposure_over(&eight_hours, &curve, 4 * H), 112.5, 1e-13, 0);
    CHECK_NEAR(vs_exposure_spread(&eight_hours, &curve, 4 * H), 56.25, 1e-13, 0);
    /* 12 h: four of them in clear air */
    CHECK_NEAR(vs_exposure_over(&eight_hours, &curve, 12 * H), 650.0 / 12, 1e-13, 0);
    CHECK_NEAR(vs_exposure_over(&peak, &curve, 60), 150, 0, 0);
}

/* The dose of a day stays what the limit allows in its own hours. */
static void a_longer_day_lowers_the_average(void **state) {
    (void)state;
    double twelve = vs_exposure_limit_g_per_m3(&eight_hours, 12 * H);
    CHECK_NEAR(twelve, 0.010 * 8 / 12, 1e-15, 0);
    CHECK_NEAR(vs_exposure_limit_g_per_m3(&eight_hours, 8 * H), 0.010, 0, 0);
    CHECK_NEAR(vs_exposure_limit_g_per_m3(&eight_hours, 1 * H), 0.010, 0, 0);
    CHECK_NEAR(vs_exposure_limit_g_per_m3(&ten_hours, 10 * H), 0.005, 0, 0);
    CHECK_NEAR(vs_exposure_limit_g_per_m3(&ten_hours, 12 * H), 0.005 * 10 / 12, 1e-15, 0);
    CHECK_NEAR(vs_exposure_limit_g_per_m3(&quarter, 12 * H), 0.010, 0, 0);
    CHECK_NEAR(vs_exposure_limit_g_per_m3(&peak, 12 * H), 0.040, 0, 0);
    printf("measured: a limit of 10 mg/m3 over 8 h on a day of 12 h: %.4f mg/m3 (8/12 of it)\n",
           1e3 * twelve);
}

/* Half an hour of 12 with 10 min of 30 in it: the worst 15 min hold 10 of 30 and 5 of 12. */
static void the_worst_quarter_of_an_hour(void **state) {
    (void)state;
    const double at[] = {0, 600, 600, 1200, 1200, 2400}, value[] = {12, 12, 30, 30, 12, 12};
    const vs_day_curve curve = {at, value, 6, 0};
    CHECK_NEAR(vs_exposure_over(&quarter, &curve, 8 * H), (10 * 30 + 5 * 12) / 15.0, 1e-13, 0);
    CHECK_NEAR(vs_exposure_over(&quarter, &curve, 300), 30, 1e-13, 0);
    CHECK_NAN(vs_exposure_spread(&quarter, &curve, 300));
    CHECK_NAN(vs_exposure_spread(&peak, &curve, 300));
}

static void limits_are_for_classes(void **state) {
    (void)state;
    const vs_exposure_limit first_and_third = {.fluids = 5};
    CHECK_TRUE(vs_exposure_limit_is_for(&first_and_third, 0));
    CHECK_TRUE(!vs_exposure_limit_is_for(&first_and_third, 1));
    CHECK_TRUE(vs_exposure_limit_is_for(&first_and_third, 2));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_average_of_the_law),
        cmocka_unit_test(a_longer_day_lowers_the_average),
        cmocka_unit_test(the_worst_quarter_of_an_hour),
        cmocka_unit_test(limits_are_for_classes),
    };
    return RUN_TESTS(tests);
}
