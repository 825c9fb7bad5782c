/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which lamp to dim or flag if the planned density misses a want. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_MEND_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_MEND_H

#include "shot/choose/choose_work.h"

/* Fills out->mend for a shot whose planned density, as predicted, misses a want. */
vs_status vs_choice_find_mend(const vs_shot_choice *choice, const vs_shot_prediction *planned,
                              vs_choice *out);

#endif
