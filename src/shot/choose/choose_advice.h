/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to do where a density is not enough. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_ADVICE_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_ADVICE_H

#include "shot/choose/choose_work.h"

/* Why each want that no density meets is out of reach, and how near it comes. */
vs_status vs_choice_explain_unreached(const vs_shot_choice *choice, vs_choice *out);

/* The fewest wants that no density meets together, marked in out->want, though one meets each of
 * them alone; there must be such. */
vs_status vs_choice_find_conflict(const vs_shot_choice *choice, vs_choice *out);

/* Fills out->like; out->like_count wants of that kind. */
vs_status vs_choice_work_out_likes(const vs_shot_choice *choice, vs_choice *out);

#endif
