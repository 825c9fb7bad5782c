/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's direct light as a function of its density: worked out at a dozen, four at a time, and
 * interpolated. Sums of exp(-k length), so that what is between them is known to their last digits
 * but a few. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_DIRECT_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_DIRECT_H

#include "shot/sight/camera_setup.h"

#define VS_DIRECT_NODES 12 /* densities: to a depth of 10 within 1e-5 of the light; our choice */
#define VS_DIRECT_PARTS (VS_DIRECT_NODES / VS_AIRLIGHT_STEPS_MAX)

typedef struct {
    size_t points, places, lights; /* of the shot; of its notes */
    double end_per_m;              /* densities go to here; 0: nothing is known */
    double k_per_m[VS_DIRECT_NODES];
    vs_bands *node[VS_DIRECT_NODES]; /* place x light, in one block, owned */
} vs_direct_curve;

/* Begins a curve; then its parts are worked out, each once, in any order or on several threads at a
 * time, each with a predictor of its own; then it ends, and can be asked.
 *  part  0 to VS_DIRECT_PARTS - 1;  worked_out  all of them were; else the curve is let go
 * Errors: VS_ERR_MEMORY, and those of vs_predict_shot. */
VS_WARN_UNUSED vs_status vs_direct_curve_begin(vs_direct_curve *curve, const vs_scene *scene,
                                               size_t shot, double end_per_m);
VS_WARN_UNUSED vs_status vs_direct_curve_part(const vs_direct_curve *curve, vs_predictor *predictor,
                                              size_t shot, size_t part);
void vs_direct_curve_end(vs_direct_curve *curve, double end_per_m, bool worked_out);
void vs_direct_curve_free(vs_direct_curve *curve);

/* The direct light at a density, as of vs_indirect_notes.
 *  direct  out, places x lights
 * False beyond the end: `direct` is left alone. */
bool vs_direct_curve_at(const vs_direct_curve *curve, double extinction_per_m, vs_bands *direct);

#endif
