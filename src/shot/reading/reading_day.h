/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of readings: the rooms with other losses, and the day's plan replayed in
 * them.
 */
#ifndef VEILSTOP_SHOT_READING_READING_DAY_H
#define VEILSTOP_SHOT_READING_READING_DAY_H

#include "shot/day/dwell_plan.h"
#include "veilstop/shot/reading.h"

/* The data to which a model is fitted. Borrowed; points in order of time. */
typedef struct {
    const vs_scene *scene;
    const vs_haze *haze;
    const vs_dwell *plan; /* NULL: none */
    const vs_reading_point *point;
    size_t count;
    const double *own_per_s; /* planned loss of each room, without doors */
} vs_reading_day;

/* Extinction at each point [1/m] with the plan's runs and purges replayed from minute 0.
 * extinction_per_m  out, count */
vs_status vs_reading_replay(const vs_reading_day *day, const double *own_per_s,
                            double *extinction_per_m);

/* The same with the hazer off, starting from the rooms' haze at the points that begin a period.
 * period       one per point, from 0
 * start_per_m  extinction of each room where each period begins, period x room */
vs_status vs_reading_decay(const vs_reading_day *day, const double *own_per_s, const size_t *period,
                           const double *start_per_m, double *extinction_per_m);

#endif
