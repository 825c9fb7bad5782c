/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See meter.h. */
#include "meter.h"

#include <math.h>

/* One draw of a normal distribution of deviation 1 (Box & Muller 1958). */
static double normal(random_stream *r) {
    double u = random_uniform(r, 0, 1), angle = random_uniform(r, 0, 2 * VS_PI);
    return sqrt(-2 * log1p(-u)) * cos(angle);
}

vs_scene_reading meter_reading(double at_s, double distance_m, double lit_from_m, double k) {
    double own = exp(-k * (distance_m + lit_from_m));
    double veil = METER_SOURCE * -expm1(-k * distance_m);
    vs_scene_reading reading = {.at_s = at_s,
                                .camera = VS_NONE,
                                .distance_m = distance_m,
                                .lit_from_m = lit_from_m,
                                .lit_by = VS_NONE,
                                .clear_white = METER_WHITE,
                                .clear_black = METER_BLACK,
                                .hazed_white = METER_WHITE * own + veil,
                                .hazed_black = METER_BLACK * own + veil,
                                .uncertainty_stops = 0.1};
    return reading;
}

void meter_spoil_clear(vs_scene_reading *reading, double stops, random_stream *r) {
    reading->clear_white *= exp2(stops * normal(r));
    reading->clear_black *= exp2(stops * normal(r));
}

void meter_spoil_hazed(vs_scene_reading *reading, double stops, random_stream *r) {
    reading->hazed_white *= exp2(stops * normal(r));
    reading->hazed_black *= exp2(stops * normal(r));
}
