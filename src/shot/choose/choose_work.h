/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the choice: one shot's wants as functions of its density. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_WORK_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_WORK_H

#include "shot/choose/choose_indirect.h"
#include "shot/choose/choose_model.h"
#include "shot/choose/margins.h"
#include "veilstop/shot/choose.h"

#define VS_CHOOSE_PLACES 257 /* densities: cubes of even steps, finest in thin air; our choice */

/* A shot under choice. */
typedef struct {
    vs_predictor *predictor;
    size_t index;
    const vs_scene_shot *shot;
    const vs_camera *camera;
    const vs_shot_prediction *other; /* one a shot of the scene; those it is to be like are made */
    double *room_extinction_per_m;   /* room for one prediction */
    vs_indirect_curve *indirect;     /* of the shot; NULL: none */
    size_t nodes_before;             /* of a model known to do; 0: none is */
    vs_density_model model;
    vs_margins truth;   /* margins of its wants over its density, each a prediction */
    vs_margins margins; /* the same by the model */
    vs_margin_scan scan;
    vs_intervals *reach; /* one a want: the densities that meet it, by the truth */
} vs_shot_choice;

/* Predicts what wants need at a density (asked NULL: all wants). */
vs_status vs_shot_choice_predict(const vs_shot_choice *choice, double extinction_per_m,
                                 const bool *asked, vs_shot_prediction *out);
/* The same as vs_predict_shot would, to the last digit: nothing in it is interpolated. */
vs_status vs_shot_choice_predict_exactly(const vs_shot_choice *choice, double extinction_per_m,
                                         const bool *asked, vs_shot_prediction *out);
/* The same with one lamp, and all that it feeds, off. */
vs_status vs_shot_choice_without(const vs_shot_choice *choice, double extinction_per_m, size_t lamp,
                                 const bool *asked, vs_shot_prediction *out);
/* Holds want `want` against a prediction. */
vs_want_result vs_shot_choice_hold(const vs_shot_choice *choice, size_t want,
                                   const vs_shot_prediction *prediction);

/* Whether a want is to be like another shot (one may name its own, to no purpose). */
bool vs_shot_choice_is_like(const vs_shot_choice *choice, size_t want);

#endif
