/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A card in haze and a meter with errors: readings for tests. */
#ifndef VEILSTOP_TESTS_METER_H
#define VEILSTOP_TESTS_METER_H

#include "check.h"
#include "veilstop/shot/scene.h"

/* White and black of the card without haze, and the luminance of endless haze [cd/m2]. */
#define METER_WHITE  80.0
#define METER_BLACK  2.4
#define METER_SOURCE 25.0

/* A reading without error: distance and lamp as given, haze of extinction k:
 * luminance = own light exp(-k (distance + lit_from)) + source (1 - exp(-k distance)). */
vs_scene_reading meter_reading(double at_s, double distance_m, double lit_from_m, double k);

/* Adds independent errors of `stops` to the two clear figures, or to the two hazed ones. */
void meter_spoil_clear(vs_scene_reading *reading, double stops, random_stream *r);
void meter_spoil_hazed(vs_scene_reading *reading, double stops, random_stream *r);

#endif
