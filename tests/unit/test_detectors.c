/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Obscuration in the units of detectors' data sheets, and thresholds in each of them. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"
#include "veilstop/safety/detectors.h"

static void published_pairs(void **state) {
    (void)state;
    table t = table_read("obscuration_pairs.csv", 1);
    for (size_t i = 0; i < t.rows; i++) {
        double db = table_number(&t, i, "db_per_m");
        double k = vs_detector_alarm_per_m(VS_OBSCURATION_DB_PER_M, db, NAN);
        double per_m = vs_obscuration_percent(k, 1),
               per_ft = vs_obscuration_percent(k, VS_M_PER_FT);
        CHECK_NEAR(vs_obscuration_db_per_m(k), db, 1e-15, 0);
        CHECK_PRINTED(per_m, table_number(&t, i, "percent_per_m"),
                      table_unit(&t, i, "percent_per_m"));
        CHECK_PRINTED(per_ft, table_number(&t, i, "percent_per_ft"),
                      table_unit(&t, i, "percent_per_ft"));
        printf("measured: %.3g dB/m = %.4f %%/m = %.4f %%/ft (published %s and %s)\n", db, per_m,
               per_ft, table_text(&t, i, "percent_per_m"), table_text(&t, i, "percent_per_ft"));
    }
    table_free(&t);
}

/* By definition: 10 dB leave a tenth; what is left multiplies along the way. */
static void closed_forms(void **state) {
    (void)state;
    double k = vs_detector_alarm_per_m(VS_OBSCURATION_DB_PER_M, 10, NAN);
    CHECK_NEAR(vs_obscuration_percent(k, 1), 90, 1e-14, 0);
    CHECK_NEAR(vs_obscuration_percent(k, 2), 99, 1e-14, 0);
    double ft = vs_detector_alarm_per_m(VS_OBSCURATION_PERCENT_PER_FT, 4, NAN);
    CHECK_NEAR(vs_obscuration_percent(ft, VS_M_PER_FT), 4, 1e-14, 0);
    CHECK_NEAR(vs_obscuration_percent(ft, 1), 100 * (1 - pow(0.96, 1 / 0.3048)), 1e-13, 0);
    double path = vs_detector_alarm_per_m(VS_OBSCURATION_PERCENT_OF_PATH, 35, 12.5);
    CHECK_NEAR(vs_obscuration_percent(path, 12.5), 35, 1e-14, 0);
    CHECK_NEAR(vs_detector_alarm_per_m(VS_OBSCURATION_PERCENT_PER_M, 0.8, NAN), -log(0.992), 1e-14,
               0);
    CHECK_NEAR(vs_obscuration_percent(0, 1), 0, 0, 0);
}

static void the_lowest_of_a_kind(void **state) {
    (void)state;
    const vs_detector_threshold threshold[] = {
        {.unit = VS_OBSCURATION_PERCENT_PER_FT, .low = 0.5, .high = 4},
        {.unit = VS_OBSCURATION_DB_PER_M, .low = 0.05, .high = 0.05}};
    vs_detector_type type = {.threshold = threshold, .threshold_count = 2};
    CHECK_NEAR(vs_detector_lowest_alarm_per_m(&type, NAN), 0.05 * log(10) / 10, 1e-14, 0);
    type.threshold_count = 1;
    CHECK_NEAR(vs_detector_lowest_alarm_per_m(&type, NAN), -log(0.995) / 0.3048, 1e-13, 0);
    type.threshold_count = 0;
    CHECK_NAN(vs_detector_lowest_alarm_per_m(&type, 10));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_pairs),
        cmocka_unit_test(closed_forms),
        cmocka_unit_test(the_lowest_of_a_kind),
    };
    return RUN_TESTS(tests);
}
