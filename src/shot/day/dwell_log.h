/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Letting time pass in the plan and recording it. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_LOG_H
#define VEILSTOP_SHOT_DAY_DWELL_LOG_H

#include "shot/day/dwell_plan.h"

/* Lets time pass and records the curve. */
vs_status vs_dwell_pass(vs_dwell_planner *planner, const vs_rooms_model *model,
                        double output_g_per_s, double length_s);

/* Records an event now. */
vs_status vs_dwell_book(vs_dwell_planner *planner, vs_dwell_do act, size_t shot, double length_s);

/* Runs the hazer for a time, recorded as `act`, after waiting for it to be warm. */
vs_status vs_dwell_blow(vs_dwell_planner *planner, vs_dwell_do act, size_t shot, double length_s);

#endif
