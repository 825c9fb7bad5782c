/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the day's plan: the present state of the rooms, and the plan so far. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_PLAN_H
#define VEILSTOP_SHOT_DAY_DWELL_PLAN_H

#include "veilstop/air/rooms_trace.h"
#include "veilstop/shot/dwell.h"

typedef struct {
    const vs_scene *scene;
    const vs_rooms_model *closed; /* the rooms as set for the current shot; owned by the plan */
    const vs_rooms_model *purged; /* with doors and fans open; equal to `closed` if not can_purge */
    size_t air;                   /* index of these models */
    bool can_purge;
    bool rehearses; /* only the result matters: nothing is recorded */
    double output_g_per_s;
    double *figures; /* of the rooms, owned */
    double *volume_m3;
    double now_s;
    double ready_s;         /* when the hazer is warm */
    double *state;          /* of the rooms, now */
    double *trial;          /* workspace for looking ahead */
    double *begin;          /* the state at the beginning of a time step */
    vs_dwell_shot *watched; /* the current shot, whose extremes are tracked; NULL between shots */
    vs_dwell *out;          /* also owns the rooms' models: free it after the planner */
} vs_dwell_planner;

/* Prepares a planner, with clear rooms at minute 0, and dwell->shot with each shot's target.
 * Arguments, errors and culprit as for vs_dwell_plan. Free planner and dwell in any case. */
vs_status vs_dwell_planner_init(vs_dwell_planner *planner, const vs_scene *scene,
                                const vs_haze *haze, const size_t *order,
                                const double *extinction_per_m, vs_dwell *dwell);
void vs_dwell_planner_free(vs_dwell_planner *planner);

/* Index of the plan's air model for a shot (VS_NONE: the scene's own). */
size_t vs_dwell_air_of(const vs_dwell_planner *planner, size_t shot);
/* Sets the openings as a shot has them (VS_NONE: as the scene has them). */
void vs_dwell_set_openings(vs_dwell_planner *planner, size_t shot);

/* The mass a room would reach with the hazer always on [g]. */
double vs_dwell_most_g(const vs_dwell_planner *planner, size_t room);

/* The mass in a room at which its haze has this extinction [g]. */
double vs_dwell_mass_g(const vs_dwell_planner *planner, size_t room, double extinction_per_m);
/* Copies a state. */
void vs_dwell_copy(const vs_dwell_planner *planner, const double *from, double *to);

#endif
