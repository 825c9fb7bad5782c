/* SPDX-License-Identifier: GPL-3.0-or-later */
/* shot/reading: one card, closed forms, uncertainty against simulated meters, bad figures. */
#include "check.h"
#include "meter.h"

#include <math.h>
#include <stdio.h>

#include "parts.h"
#include "veilstop/shot/reading.h"

/* Koschmieder: the veil cancels in white minus black, whatever it is. */
static void extinction_is_found_again(void **state) {
    (void)state;
    random_stream r = {5};
    for (int i = 0; i < 300; i++) {
        double k = random_log_uniform(&r, 1e-4, 0.5), d = random_uniform(&r, 1, 20);
        double lit = i % 2 ? random_uniform(&r, 0, 10) : 0;
        vs_scene_reading given = meter_reading(0, d, lit, k);
        vs_reading out;
        CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &out));
        CHECK_NEAR(out.extinction_per_m, k, 1e-7, 1e-10);
        CHECK_NEAR(out.kept, exp(-k * (d + lit)), 1e-10, 0);
        CHECK_NEAR(out.path_m, d + lit, 1e-15, 0);
    }
}

/* A worked example: 80 and 2.4 clear, 66 and 9.1 hazed at 8 m: q = 56.9/77.6. */
static void the_worked_example(void **state) {
    (void)state;
    vs_scene_reading given = meter_reading(0, 8, 0, 0);
    given.hazed_white = 66;
    given.hazed_black = 9.1;
    vs_reading out;
    CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &out));
    CHECK_NEAR(out.extinction_per_m, log(77.6 / 56.9) / 8, 1e-14, 0);
    /* JCGM 100:2008, 5.1.2: each figure off by 0.1 stop = 6.93 % */
    double u = 0.1 * log(2);
    double variance =
        u * u * ((80 * 80 + 2.4 * 2.4) / (77.6 * 77.6) + (66 * 66 + 9.1 * 9.1) / (56.9 * 56.9));
    CHECK_NEAR(out.sd_per_m, sqrt(variance) / 8, 1e-14, 0);
    given.lit_from_m = 2;
    CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &out));
    CHECK_NEAR(out.extinction_per_m, log(77.6 / 56.9) / 10, 1e-14, 0);
}

static void percentages_go_through_the_curve(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    vs_scene_reading given = meter_reading(0, 8, 0, 0.03);
    double *figure[] = {&given.clear_white, &given.clear_black, &given.hazed_white,
                        &given.hazed_black};
    for (int i = 0; i < 4; i++) {
        *figure[i] = vs_camera_signal_percent(&camera, *figure[i]);
    }
    given.percent = true;
    vs_reading out;
    CHECK_OK(vs_reading_of(&given, &camera, INFINITY, &out));
    CHECK_NEAR(out.extinction_per_m, 0.03, 1e-9, 0);
    given.clear_white = 99.9; /* over six stops above grey: clipped */
    CHECK_STATUS(vs_reading_of(&given, &camera, INFINITY, &out), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
}

/* Simulated meters: the spread of their results is the stated deviation. */
static void the_deviation_is_the_spread(void **state) {
    (void)state;
    random_stream r = {17};
    vs_scene_reading truth = meter_reading(0, 14, 2, 0.05);
    vs_reading exact, out;
    CHECK_OK(vs_reading_of(&truth, NULL, INFINITY, &exact));
    double sum = 0, squares = 0;
    int used = 0;
    for (int i = 0; i < 4000; i++) {
        vs_scene_reading given = truth;
        meter_spoil_clear(&given, 0.1, &r);
        meter_spoil_hazed(&given, 0.1, &r);
        if (vs_reading_of(&given, NULL, INFINITY, &out) == VS_OK) {
            double off = out.extinction_per_m - 0.05;
            sum += off;
            squares += off * off;
            used++;
        }
    }
    CHECK_TRUE(used > 3990);
    double spread = sqrt(squares / used - pow(sum / used, 2));
    CHECK_NEAR(spread, exact.sd_per_m, 0.05, 0);
    printf(
        "measured: card at 14 m in 0.05 /m: stated deviation %.4f, spread of 4000 meters %.4f /m\n",
        exact.sd_per_m, spread);
}

/* At the goal's distance a reading in the same haze has the goal's uncertainty, and not before. */
static void the_goal_distance_meets_the_goal(void **state) {
    (void)state;
    for (double k = 0.01; k < 0.2; k *= 1.9) {
        vs_scene_reading given = meter_reading(0, 4, 0, k);
        vs_reading out, there;
        CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &out));
        CHECK_TRUE(out.best_share < VS_READING_GOAL);
        given = meter_reading(0, out.goal_distance_m, 0, k);
        CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &there));
        CHECK_NEAR(there.sd_per_m / there.extinction_per_m, VS_READING_GOAL, 1e-4, 0);
        given = meter_reading(0, 0.9 * out.goal_distance_m, 0, k);
        CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &there));
        CHECK_TRUE(there.sd_per_m / there.extinction_per_m > VS_READING_GOAL);
        given = meter_reading(0, out.best_distance_m, 0, k);
        CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &there));
        CHECK_NEAR(there.sd_per_m / there.extinction_per_m, out.best_share, 1e-6, 0);
    }
    vs_scene_reading coarse = meter_reading(0, 4, 0, 0.05);
    coarse.uncertainty_stops = 0.5; /* a meter too coarse for the goal at any distance */
    vs_reading out;
    CHECK_OK(vs_reading_of(&coarse, NULL, INFINITY, &out));
    CHECK_NAN(out.goal_distance_m);
    CHECK_TRUE(out.best_share > VS_READING_GOAL);
}

static void bad_readings_are_told_apart(void **state) {
    (void)state;
    vs_scene_reading good = meter_reading(0, 8, 0, 0.03), given = good;
    vs_reading out;
    given.hazed_white = 160; /* far more contrast with haze than without */
    CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_UNREACHABLE);
    CHECK_NAN(out.extinction_per_m);
    given = good;
    given.hazed_black = given.hazed_white;
    CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
    given = good;
    given.clear_white = NAN;
    CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
    given = good;
    given.distance_m = 0;
    CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
    given = good;
    given.lit_from_m = -1;
    CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
    const double extreme[] = {1e155, 1e200, 1e308, 1e-170, 1e-300};
    for (size_t i = 0; i < sizeof extreme / sizeof extreme[0]; i++) { /* no light there is */
        given = good;
        given.clear_white = extreme[i];
        given.clear_black = 0;
        CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
        given = good;
        given.hazed_white = extreme[i];
        given.hazed_black = 0;
        CHECK_STATUS(vs_reading_of(&given, NULL, INFINITY, &out), VS_ERR_DOMAIN);
    }
    given = good; /* the meter's error raises contrast a little: no haze, +- its deviation */
    given.hazed_white = 90;
    CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &out));
    CHECK_TRUE(out.extinction_per_m == 0 && out.kept > 1 && out.sd_per_m > 0);
    given = good; /* no card further away than the room's length */
    CHECK_OK(vs_reading_of(&given, NULL, 6, &out));
    CHECK_TRUE(isnan(out.goal_distance_m) && out.best_distance_m <= 6 * (1 + 1e-9));
    given = meter_reading(0, 8, 0, 0); /* no haze yet: no distance to advise */
    CHECK_OK(vs_reading_of(&given, NULL, INFINITY, &out));
    CHECK_NEAR(out.extinction_per_m, 0, 0, 1e-15);
    CHECK_NAN(out.goal_distance_m);
    CHECK_TRUE(out.sd_per_m > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(extinction_is_found_again),
        cmocka_unit_test(the_worked_example),
        cmocka_unit_test(percentages_go_through_the_curve),
        cmocka_unit_test(the_deviation_is_the_spread),
        cmocka_unit_test(the_goal_distance_meets_the_goal),
        cmocka_unit_test(bad_readings_are_told_apart),
    };
    return RUN_TESTS(tests);
}
