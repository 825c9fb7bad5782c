/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/safety/exposure.h"

#include <math.h>

const char *const vs_limit_kind_words[VS_LIMIT_KIND_COUNT] = {"law", "guidance", "advice"};
const char *const vs_average_words[VS_AVERAGE_COUNT] = {"shift", "short", "peak"};

/* Longer day: limit x length/shift, so that the day's dose stays the same. */
double vs_exposure_limit_g_per_m3(const vs_exposure_limit *limit, double shift_s) {
    if (limit->average == VS_AVERAGE_SHIFT && shift_s > limit->length_s) {
        return limit->limit_g_per_m3 * limit->length_s / shift_s;
    }
    return limit->limit_g_per_m3;
}

double vs_exposure_over(const vs_exposure_limit *limit, const vs_day_curve *curve, double shift_s) {
    switch (limit->average) {
    case VS_AVERAGE_SHIFT:
        return vs_day_curve_highest_mean(curve, shift_s);
    case VS_AVERAGE_SHORT:
        return vs_day_curve_highest_mean(curve, fmin(shift_s, limit->length_s));
    case VS_AVERAGE_PEAK:
        break;
    }
    return vs_day_curve_peak(curve, NULL);
}

double vs_exposure_spread(const vs_exposure_limit *limit, const vs_day_curve *curve,
                          double shift_s) {
    if (limit->average != VS_AVERAGE_SHIFT || !(shift_s < limit->length_s)) {
        return NAN;
    }
    return vs_day_curve_highest_mean(curve, shift_s) * shift_s / limit->length_s;
}
