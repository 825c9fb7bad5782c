/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/safety/detectors.h"

#include <math.h>

#include "veilstop/base/units.h"

const char *const vs_detector_kind_words[VS_DETECTOR_KIND_COUNT] = {"point", "ionisation", "beam",
                                                                    "aspirating"};
const char *const vs_obscuration_keys[VS_OBSCURATION_UNIT_COUNT] = {
    "db_per_m", "percent_per_m", "percent_per_ft", "percent_of_path"};

/* 10 lg(e) k. */
double vs_obscuration_db_per_m(double extinction_per_m) {
    return extinction_per_m * VS_DB_PER_M_PER_PER_M;
}

/* 100 (1 - exp(-k d)), Bouguer's law. */
double vs_obscuration_percent(double extinction_per_m, double path_m) {
    return -100 * expm1(-extinction_per_m * path_m);
}

double vs_obscuration_extinction_per_m(double percent, double path_m) {
    return -log1p(-percent / 100) / path_m;
}

double vs_detector_alarm_per_m(vs_obscuration_unit unit, double value, double path_m) {
    switch (unit) {
    case VS_OBSCURATION_DB_PER_M:
        return value / VS_DB_PER_M_PER_PER_M;
    case VS_OBSCURATION_PERCENT_PER_M:
        return vs_obscuration_extinction_per_m(value, 1);
    case VS_OBSCURATION_PERCENT_PER_FT:
        return vs_obscuration_extinction_per_m(value, VS_M_PER_FT);
    case VS_OBSCURATION_PERCENT_OF_PATH:
        return vs_obscuration_extinction_per_m(value, path_m);
    }
    return NAN;
}

double vs_detector_lowest_alarm_per_m(const vs_detector_type *type, double path_m) {
    double lowest = NAN;
    for (size_t i = 0; i < type->threshold_count; i++) {
        const vs_detector_threshold *t = &type->threshold[i];
        lowest = fmin(lowest, vs_detector_alarm_per_m(t->unit, t->low, path_m));
    }
    return lowest;
}
