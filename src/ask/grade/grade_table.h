/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part of `grade` for all shots and points. */
#ifndef VEILSTOP_ASK_GRADE_GRADE_TABLE_H
#define VEILSTOP_ASK_GRADE_GRADE_TABLE_H

#include "ask/scene_args.h"

/* Prints a table of the grades for every visible point of every shot, or as JSON the array
 * "grades". recover: share of the haze taken out; NaN: the best for each. */
vs_exit vs_ask_grade_table(const vs_ask_args *args, vs_ask_scene *scene, double recover,
                           size_t first, size_t end);

#endif
