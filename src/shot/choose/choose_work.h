/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the choice: one shot's wants as functions of its density. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_WORK_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_WORK_H

#include "shot/choose/choose_model.h"
#include "shot/predict/margins.h"
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
    size_t nodes_before;             /* of a model known to do; 0: none is */
    vs_density_model model;
    vs_margins truth;   /* margins of its wants over its density, each a prediction */
    vs_margins margins; /* the same by the model */
    vs_margin_scan scan;
    vs_intervals *reach; /* one a want: the densities that meet it, by the truth */
} vs_shot_choice;

/* Chooses for one shot.
 * nodes_before  as in vs_shot_choice
 * other         one a shot of the scene; those it is to be like are made */
vs_status vs_choose_shot(vs_predictor *predictor, size_t shot, vs_choose_depth depth,
                         size_t nodes_before, const vs_shot_prediction *other, vs_choice *out);

/* The room of a shot's camera. */
size_t vs_choose_camera_room(const vs_predictor *predictor, const vs_scene_shot *shot);

/* Predicts what wants need at a density (asked NULL: all wants). */
vs_status vs_shot_choice_predict(const vs_shot_choice *choice, double extinction_per_m,
                                 const bool *asked, vs_shot_prediction *out);
/* The same with one lamp, and all that it feeds, off. */
vs_status vs_shot_choice_without(const vs_shot_choice *choice, double extinction_per_m, size_t lamp,
                                 const bool *asked, vs_shot_prediction *out);
/* Holds want `want` against a prediction. */
vs_want_result vs_shot_choice_hold(const vs_shot_choice *choice, size_t want,
                                   const vs_shot_prediction *prediction);

/* Whether a want is to be like another shot (one may name its own, to no purpose). */
bool vs_shot_choice_is_like(const vs_shot_choice *choice, size_t want);

/* Why each want that no density meets is out of reach, and how near it comes. */
vs_status vs_choice_explain_unreached(const vs_shot_choice *choice, vs_choice *out);
/* The fewest wants that no density meets together, marked in out->want, though one meets each of
 * them alone; there must be such. */
vs_status vs_choice_find_conflict(const vs_shot_choice *choice, vs_choice *out);
/* Fills out->like; out->like_count wants of that kind. */
vs_status vs_choice_work_out_likes(const vs_shot_choice *choice, vs_choice *out);
/* Fills out->mend for a shot whose planned density, as predicted, misses a want. */
vs_status vs_choice_find_mend(const vs_shot_choice *choice, const vs_shot_prediction *planned,
                              vs_choice *out);

/* A lamp's own light and all panels that it feeds, directly or through others. */
bool vs_light_follows(const vs_scene *scene, size_t light, size_t lamp);

#endif
