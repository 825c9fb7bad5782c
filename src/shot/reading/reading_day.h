/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of readings: the rooms with other losses, the day's plan played in them, and
 * the two stories fitted. */
#ifndef VEILSTOP_SHOT_READING_READING_DAY_H
#define VEILSTOP_SHOT_READING_READING_DAY_H

#include "shot/day/dwell_plan.h"
#include "veilstop/shot/reading.h"

/* What a story is held against. Borrowed; points in the order of time. */
typedef struct {
    const vs_scene *scene;
    const vs_haze *haze;
    const vs_dwell *plan; /* NULL: none */
    const vs_reading_point *point;
    size_t count;
    const double *own_per_s; /* planned loss of each room, doors left out */
} vs_reading_day;

/* Rooms that lose haze at given rates. Points into itself: not to be moved. */
typedef struct {
    vs_scene scene;
    vs_scene_room *room;
    vs_scene_opening *opening;
    vs_dwell dwell;
    vs_dwell_planner planner;
} vs_reading_rooms;

/* own_per_s  one a room, doors left out, 0 or over. Free it in any case. */
vs_status vs_reading_rooms_init(vs_reading_rooms *rooms, const vs_reading_day *day,
                                const double *own_per_s);
void vs_reading_rooms_free(vs_reading_rooms *rooms);

/* Extinction at each point [1/m] with the plan's hazer and purges played from minute 0.
 * extinction_per_m  out, count */
vs_status vs_reading_replay(const vs_reading_day *day, const double *own_per_s,
                            double *extinction_per_m);

/* The same with the hazer off, from what the rooms hold at the points that begin a period.
 * period    one a point, from 0 on
 * start_per_m  extinction of each room where each period begins, period x room */
vs_status vs_reading_decay(const vs_reading_day *day, const double *own_per_s, const size_t *period,
                           const double *start_per_m, double *extinction_per_m);

/* A story fitted: logarithms of ratios to the scene's figures, and their deviations. Arrays are the
 * caller's, one a room; NaN where nothing is told. */
typedef struct {
    double output_log, output_sd;
    double *loss_log, *loss_sd;   /* of the own losses */
    double *last_per_m, *last_sd; /* [1/m] at a room's last point */
    double misfit;     /* [1] squares of all residuals, those of what is known beforehand too */
    double chi_square; /* of the readings alone */
    size_t starts;     /* densities fitted that the plan does not tell */
} vs_reading_story;

/* Fits output and losses (plan), or losses and the densities at the start (decay).
 * Errors: VS_ERR_MEMORY, VS_ERR_CONVERGENCE. */
vs_status vs_reading_fit(const vs_reading_day *day, bool as_plan, vs_reading_story *story);

#endif
