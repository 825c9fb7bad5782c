/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the choice: one shot's wants as functions of its density. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_WORK_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_WORK_H

#include "shot/choose/choose_indirect.h"
#include "shot/choose/choose_model.h"
#include "shot/choose/margins.h"
#include "veilstop/shot/choose.h"

#define VS_CHOOSE_PLACES 257 /* densities: cubes of even steps, finest in thin haze; our choice */

/* The state of choosing for one shot. */
typedef struct {
    vs_predictor *predictor;
    size_t index;
    const vs_scene_shot *shot;
    const vs_camera *camera;
    const vs_shot_prediction *other; /* one per shot; only those it must look like are filled in */
    double *room_extinction_per_m;   /* workspace for one prediction */
    vs_indirect_curve *light;        /* of the shot; NULL: none */
    vs_bands *direct;                /* workspace: its direct light in one haze */
    size_t nodes_before;             /* of a model known to be good enough; 0: not known */
    double planned_per_m;            /* NaN until it has been predicted */
    vs_indirect_notes *planned;      /* each lamp's light there */
    vs_density_model model;
    vs_margins truth;   /* margins of its wants as functions of density, by prediction */
    vs_margins margins; /* the same by the model */
    vs_margin_scan scan;
    vs_intervals *reach; /* one per want: the densities that meet it, by prediction */
} vs_shot_choice;

/* Predicts what the wants need at a density (asked NULL: all wants). */
vs_status vs_shot_choice_predict(const vs_shot_choice *choice, double extinction_per_m,
                                 const bool *asked, vs_shot_prediction *out);
/* The same for all wants at the planned density, equal to vs_predict_shot to the last digit:
 * nothing is interpolated. Each lamp's light is recorded in `planned`. */
vs_status vs_shot_choice_predict_planned(vs_shot_choice *choice, double extinction_per_m,
                                         vs_shot_prediction *out);
/* As vs_shot_choice_predict, with one lamp and all that it feeds off. */
vs_status vs_shot_choice_without(const vs_shot_choice *choice, double extinction_per_m, size_t lamp,
                                 const bool *asked, vs_shot_prediction *out);
/* Evaluates want `want` on a prediction. */
vs_want_result vs_shot_choice_hold(const vs_shot_choice *choice, size_t want,
                                   const vs_shot_prediction *prediction);

/* Whether a want asks to look like another shot (naming its own has no effect). */
bool vs_shot_choice_is_like(const vs_shot_choice *choice, size_t want);

#endif
