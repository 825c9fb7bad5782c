/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bursts that hold a density, followed ahead of time. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_BURSTS_H
#define VEILSTOP_SHOT_DAY_DWELL_BURSTS_H

#include "shot/day/dwell_plan.h"

/* [s] Intervals that a person can keep by the clock: our choice. */
#define VS_HOLD_INTERVALS                                                                          \
    { 1200, 900, 600, 480, 360, 300, 240, 180, 120, 90, 60, 30 }
#define VS_HOLD_INTERVAL_COUNT 12

#define VS_HOLD_COMFORT 0.08 /* [1] a pattern that stays this close is taken: our choice */
#define VS_HOLD_BETTER  1e-6 /* [1] a later candidate must be better by more than rounding */

typedef struct {
    const vs_dwell_planner *planner;
    const vs_dwell_shot *shot;
    double aim_g;
    double roll_s, cycle_s; /* cycle_s 0: no takes */
    double burst_min_s, burst_max_s;
    double steady_duty; /* share of time at full output that would hold the target indefinitely */
} vs_hold;

/* How far a density strays, and how far it may before the candidate is given up. */
typedef struct {
    double worst, give_up;
} vs_hold_watch;

/* Follows bursts from a trace into `end`; returns the mean mass in the room, or NaN if the density
 * strayed so far that it gave up. Sampled on the way if `w` is given. */
double vs_hold_follow(const vs_hold *h, const vs_rooms_trace *from, const vs_dwell_bursts *s,
                      vs_hold_watch *w, vs_rooms_trace *end);

#endif
