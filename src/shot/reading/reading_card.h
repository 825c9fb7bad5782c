/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of readings: the card's four figures as light, and their uncertainty. */
#ifndef VEILSTOP_SHOT_READING_READING_CARD_H
#define VEILSTOP_SHOT_READING_READING_CARD_H

#include "veilstop/shot/reading.h"

/* The figures in one unit of light, and the contrast kept. */
typedef struct {
    double clear_white, clear_black, hazed_white, hazed_black;
    double kept;
} vs_reading_card_light;

/* Errors as for vs_reading_of. */
vs_status vs_reading_card(const vs_scene_reading *given, const vs_camera *camera,
                          vs_reading_card_light *out);

/* Fills in everything that follows from log_kept, extinction_per_m and path_m; longest_m as for
 * vs_reading_of. */
void vs_reading_judge(const vs_scene_reading *given, const vs_reading_card_light *card,
                      double longest_m, vs_reading *out);

/* Every figure NaN. */
void vs_reading_blank(vs_reading *out);

#endif
