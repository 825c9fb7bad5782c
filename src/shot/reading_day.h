/* Shared by the parts of readings: the day's plan played again with other figures, and fitted. */
#ifndef VEILSTOP_SRC_SHOT_READING_DAY_H
#define VEILSTOP_SRC_SHOT_READING_DAY_H

#include "veilstop/shot/reading.h"

/* What the plan is held against. Borrowed; points in the order of time. */
typedef struct {
    const vs_scene *scene;
    const vs_haze *haze;
    const vs_dwell *plan;
    const vs_decay_point *point;
    const size_t *room; /* of each point */
    size_t count;
    const double *floor_loss_per_s; /* one a room, as in vs_room_readings */
} vs_reading_day;

/* Extinction at each point [1/m], the plan's hazer and purges played from minute 0 up to until_s
 * and the rooms left alone from there. loss_per_s  one a room, doors included; NaN: as the scene
 * has it.  extinction_per_m  out, count */
vs_status vs_reading_replay(const vs_reading_day *day, const double *loss_per_s, double until_s,
                            double *extinction_per_m);

/* The plan's hazer output and the losses that fit the points best. */
typedef struct {
    double output_ratio, output_ratio_sd;
    double *loss_per_s, *loss_sd_per_s; /* one a room, caller's; NaN: not fitted */
    double chi_square;
    size_t parameters;
} vs_plan_fit;

/* Fits output, and the loss of each room that was read at two times or more.
 * Errors: VS_ERR_DOMAIN where the plan puts no haze where the points are, VS_ERR_MEMORY,
 * VS_ERR_CONVERGENCE. */
vs_status vs_reading_fit_plan(const vs_reading_day *day, vs_plan_fit *fit);

#endif
