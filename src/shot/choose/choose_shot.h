/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The choice of one shot. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_SHOT_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_SHOT_H

#include "shot/choose/choose_indirect.h"
#include "veilstop/shot/choose.h"

/* Chooses for one shot.
 * light, nodes_before  as in vs_shot_choice
 * other         one per shot of the scene; only those it must look like are filled in */
vs_status vs_choose_shot(vs_predictor *predictor, size_t shot, vs_choose_depth depth,
                         size_t nodes_before, vs_indirect_curve *light,
                         const vs_shot_prediction *other, vs_choice *out);

/* The density at which the search for a shot ends [1/m]. */
double vs_choose_search_end_per_m(const vs_predictor *predictor, const vs_scene_shot *shot);

#endif
