/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where beams that no want places are looked at: found in one haze for all densities, and kept. */
#ifndef VEILSTOP_SHOT_SIGHT_KEPT_PLACES_H
#define VEILSTOP_SHOT_SIGHT_KEPT_PLACES_H

#include "veilstop/shot/predict.h"

/* The place kept of a light of a shot, while all lights are in clear air as they were then.
 *  near_m  out, NaN where no part of the beam is in frame
 * False: none is kept. */
bool vs_kept_place_of(const vs_predictor *predictor, const vs_scene_shot *shot, size_t light,
                      vs_vec3 *near_m);
/* Keeps it. Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_kept_place_keep(vs_predictor *predictor, const vs_scene_shot *shot,
                                            size_t light, vs_vec3 near_m);

void vs_kept_places_free(vs_predictor *predictor);

#endif
