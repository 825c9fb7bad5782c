/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's light as a function of density, interpolated between a few predictions. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_MODEL_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_MODEL_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/shot/predict.h"

#define VS_MODEL_NODES_MAX 49 /* 1 + 6, doubled three times; beyond that, shots are predicted */

/* Luminances at the nodes of Clenshaw and Curtis from clear air to the last density. Veils and
 * beams are divided by the density, the rest is taken as it is: sums of exp(-k length), which
 * polynomials of modest order approximate closely (Trefethen 2013, Approximation Theory and
 * Approximation Practice, ch. 8). Owns its predictions. */
typedef struct {
    const vs_scene *scene;
    size_t shot;
    double end_per_m;
    size_t count; /* nodes so far: 1 + 6, 12, 24, 48 */
    double k[VS_MODEL_NODES_MAX];
    double weight[VS_MODEL_NODES_MAX]; /* barycentric */
    vs_shot_prediction node[VS_MODEL_NODES_MAX];
    vs_shot_prediction mixed; /* the last one asked for */
} vs_density_model;

typedef vs_status (*vs_model_source)(void *context, double extinction_per_m,
                                     vs_shot_prediction *out);

/* Makes the nodes, or doubles their number, keeping the existing ones.
 * source  predicts the shot at a density */
VS_WARN_UNUSED vs_status vs_density_model_refine(vs_density_model *model, vs_model_source source,
                                                 void *context);
void vs_density_model_free(vs_density_model *model);

/* The shot at a density from 0 to the end: luminances of points and beams, derived figures, glows
 * interpolated linearly. Borrowed, valid until the next call. */
const vs_shot_prediction *vs_density_model_at(vs_density_model *model, const vs_haze *haze,
                                              double extinction_per_m);

/* The room of a shot's camera. */
size_t vs_choose_camera_room(const vs_predictor *predictor, const vs_scene_shot *shot);

#endif
