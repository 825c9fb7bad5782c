/* shot/reading: the loss rate through several readings: closed forms, and whether its interval
 * covers the truth as often as it says. */
#include "check.h"
#include "meter.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/shot/reading.h"

#define POINTS 7

static vs_decay_point point_of(const vs_scene_reading *given, size_t look) {
    vs_reading r;
    CHECK_OK(vs_reading_of(given, NULL, &r));
    vs_decay_point point = {.at_s = given->at_s,
                            .log_kept = log(r.kept),
                            .path_m = r.path_m,
                            .clear_variance = r.clear_variance,
                            .hazed_variance = r.hazed_variance,
                            .clear = look};
    return point;
}

static void a_decay_is_found_again(void **state) {
    (void)state;
    vs_decay_point point[POINTS];
    double loss = 1.37 / 3600;
    for (size_t i = 0; i < POINTS; i++) {
        double at_s = 600 + 480 * (double)i;
        vs_scene_reading given =
            meter_reading(at_s, 8 + (double)i, 2, 0.09 * exp(-loss * (at_s - 600)));
        point[i] = point_of(&given, i);
    }
    vs_decay decay;
    CHECK_OK(vs_decay_fit(point, POINTS, &decay));
    CHECK_NEAR(decay.loss_per_s, loss, 1e-6, 0);
    CHECK_NEAR(decay.first_per_m, 0.09, 1e-6, 0);
    CHECK_NEAR(decay.last_per_m, 0.09 * exp(-loss * 480 * 6), 1e-6, 0);
    CHECK_NEAR(decay.chi_square, 0, 0, 1e-9);
    CHECK_TRUE(decay.stretches == 1 && decay.parameters == 2);
}

/* ASTM E741: two points, loss = ln(k1/k2)/(t2 - t1); its worked decay, 890 to 440 over a floor of
 * 420 in 8 h, is 0.39 per h. Concentration over the floor stands for extinction here. */
static void two_points_are_the_logarithm(void **state) {
    (void)state;
    vs_decay_point point[2] = {{0, -470e-4 * 10, 10, 1e-4, 1e-4, 0},
                               {8 * 3600, -20e-4 * 10, 10, 1e-4, 1e-4, 1}};
    vs_decay decay;
    CHECK_OK(vs_decay_fit(point, 2, &decay));
    CHECK_PRINTED(decay.loss_per_s * 3600, 0.39, 0.01);
    /* to first order sd(loss) = sqrt((s/d1)^2 + (s/d2)^2)/T, d the optical depths */
    double s = sqrt(2e-4);
    double sd = hypot(s / 0.47, s / 0.02) / (8 * 3600);
    CHECK_NEAR(decay.loss_sd_per_s, sd, 1e-3, 0);
}

static void haze_added_in_between_begins_again(void **state) {
    (void)state;
    vs_decay_point point[6];
    double loss = 0.9 / 3600;
    for (size_t i = 0; i < 6; i++) {
        double at_s = 900 * (double)i, since = i < 3 ? 0 : 2700; /* topped up before the fourth */
        vs_scene_reading given =
            meter_reading(at_s, 12, 0, (i < 3 ? 0.06 : 0.10) * exp(-loss * (at_s - since)));
        point[i] = point_of(&given, 0);
    }
    vs_decay decay;
    CHECK_OK(vs_decay_fit(point, 6, &decay));
    CHECK_TRUE(decay.stretches == 2 && decay.parameters == 3);
    CHECK_NEAR(decay.loss_per_s, loss, 1e-5, 0);
    CHECK_NEAR(decay.first_per_m, 0.06, 1e-5, 0);
    CHECK_NEAR(decay.last_per_m, 0.10 * exp(-loss * 1800), 1e-5, 0);
}

static void what_tells_no_loss_is_refused(void **state) {
    (void)state;
    vs_scene_reading given = meter_reading(60, 8, 0, 0.05);
    vs_decay_point point[2] = {point_of(&given, 0), point_of(&given, 1)};
    vs_decay decay;
    CHECK_STATUS(vs_decay_fit(point, 1, &decay), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_decay_fit(point, 2, &decay), VS_ERR_DOMAIN); /* at one time */
    CHECK_NAN(decay.loss_per_s);
}

/* 500 sets of meter errors of 0.1 stop: how often the 90 % interval holds the true loss. */
static double coverage(double first_per_m, double loss_per_h, bool shared, uint64_t seed) {
    random_stream r = {seed};
    int covered = 0;
    for (int trial = 0; trial < 500; trial++) {
        vs_decay_point point[POINTS];
        vs_scene_reading look = meter_reading(0, 10, 2, 0);
        meter_spoil_clear(&look, 0.1, &r);
        for (size_t i = 0; i < POINTS; i++) {
            double at_s = 600.0 * (double)i;
            vs_scene_reading given =
                meter_reading(at_s, 10, 2, first_per_m * exp(-loss_per_h * at_s / 3600));
            meter_spoil_hazed(&given, 0.1, &r);
            if (shared) {
                given.clear_white = look.clear_white;
                given.clear_black = look.clear_black;
            } else {
                meter_spoil_clear(&given, 0.1, &r);
            }
            vs_reading reading;
            vs_status status = vs_reading_of(&given, NULL, &reading);
            /* a reading that haze seems to have helped is refused on the set and taken again */
            i -= status == VS_ERR_UNREACHABLE;
            if (status == VS_OK) {
                point[i] = point_of(&given, shared ? 0 : i);
            }
        }
        vs_decay decay;
        CHECK_OK(vs_decay_fit(point, POINTS, &decay));
        covered +=
            fabs(decay.loss_per_s - loss_per_h / 3600) <= VS_READING_NINETIES * decay.loss_sd_per_s;
    }
    return covered / 500.0;
}

static void the_interval_covers_as_it_says(void **state) {
    (void)state;
    const struct {
        double first_per_m, loss_per_h;
        bool shared;
    } of[] = {{0.08, 1.0, true}, {0.08, 1.0, false}, {0.15, 2.0, true}, {0.06, 0.4, false}};
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        double share = coverage(of[i].first_per_m, of[i].loss_per_h, of[i].shared, 100 + i);
        printf("measured: loss %.1f /h from %.2f /m, 7 readings in 60 min%s: the 90 %% interval "
               "holds the truth in %.1f %% of 500\n",
               of[i].loss_per_h, of[i].first_per_m, of[i].shared ? ", one clear look" : "",
               100 * share);
        CHECK_NEAR(share, 0.90, 0, 0.05);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_decay_is_found_again),
        cmocka_unit_test(two_points_are_the_logarithm),
        cmocka_unit_test(haze_added_in_between_begins_again),
        cmocka_unit_test(what_tells_no_loss_is_refused),
        cmocka_unit_test(the_interval_covers_as_it_says),
    };
    return RUN_TESTS(tests);
}
