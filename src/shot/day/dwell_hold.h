/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Holding the density while a shot lasts. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_HOLD_H
#define VEILSTOP_SHOT_DAY_DWELL_HOLD_H

#include "shot/day/dwell_plan.h"

/* Works out the bursts of a shot that begins now. */
vs_status vs_dwell_work_out_hold(vs_dwell_planner *planner, vs_dwell_shot *shot);

/* Plays the shot: lets time pass with its bursts. */
vs_status vs_dwell_play(vs_dwell_planner *planner, vs_dwell_shot *shot);

#endif
