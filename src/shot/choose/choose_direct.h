/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's direct light as a function of its density: worked out at a dozen, four at a time, and
 * interpolated. Sums of exp(-k length), so that what is between them is known to their last digits
 * but a few. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_DIRECT_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_DIRECT_H

#include "shot/predict/camera_setup.h"

#define VS_DIRECT_NODES 12 /* densities: to a depth of 10 within 1e-5 of the light; our choice */

typedef struct {
    size_t points, places, lights; /* of the shot; of its notes */
    double end_per_m;              /* densities go to here; 0: nothing is known */
    double k_per_m[VS_DIRECT_NODES];
    vs_bands *node[VS_DIRECT_NODES]; /* place x light, in one block, owned */
} vs_direct_curve;

/* Errors: VS_ERR_MEMORY, and those of vs_predict_shot. */
VS_WARN_UNUSED vs_status vs_direct_curve_make(vs_direct_curve *curve, vs_predictor *predictor,
                                              size_t shot, double end_per_m);
void vs_direct_curve_free(vs_direct_curve *curve);

/* The direct light at a density, as of vs_indirect_notes.
 *  direct  out, places x lights
 * False beyond the end: `direct` is left alone. */
bool vs_direct_curve_at(const vs_direct_curve *curve, double extinction_per_m, vs_bands *direct);

#endif
