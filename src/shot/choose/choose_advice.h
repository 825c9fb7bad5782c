/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to do if a density is not enough. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_ADVICE_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_ADVICE_H

#include "shot/choose/choose_work.h"

/* Fills in why each want that no density meets is out of reach, and how near it comes. */
vs_status vs_choice_explain_unreached(const vs_shot_choice *choice, vs_choice *out);

/* Marks in out->want a smallest set of wants that no density meets together, although each alone
 * can be met. There must be one. */
vs_status vs_choice_find_conflict(const vs_shot_choice *choice, vs_choice *out);

/* Fills out->like for the out->like_count wants of that kind. */
vs_status vs_choice_work_out_likes(const vs_shot_choice *choice, vs_choice *out);

#endif
