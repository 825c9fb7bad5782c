/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Time that passes in the plan, and what is booked of it. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_LOG_H
#define VEILSTOP_SHOT_DAY_DWELL_LOG_H

#include "shot/day/dwell_plan.h"

/* Lets time pass, and books the curve. */
vs_status vs_dwell_pass(vs_dwell_planner *planner, const vs_rooms_model *model,
                        double output_g_per_s, double length_s);

/* Books an event at this moment. */
vs_status vs_dwell_book(vs_dwell_planner *planner, vs_dwell_do act, size_t shot, double length_s);

/* Runs the hazer for a time, as `act`; waits for it to be warm first. */
vs_status vs_dwell_blow(vs_dwell_planner *planner, vs_dwell_do act, size_t shot, double length_s);

#endif
