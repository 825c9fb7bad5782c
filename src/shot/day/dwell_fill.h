/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bringing a room to its density before a shot. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_FILL_H
#define VEILSTOP_SHOT_DAY_DWELL_FILL_H

#include "shot/day/dwell_plan.h"

/* Brings the shot's room to its density: sets run, wait, purge, held density, trouble. */
vs_status vs_dwell_fill(vs_dwell_planner *planner, vs_dwell_shot *shot);

#endif
