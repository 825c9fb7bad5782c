/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's light as a function of its density, indirect light beside direct (choose_direct.h). A
 * prediction spends most of its time on it, and it changes smoothly: it is computed at a few
 * densities, shared by shots where possible, and interpolated. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_INDIRECT_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_INDIRECT_H

#include <stdbool.h>
#include <stddef.h>

#include "shot/choose/choose_direct.h"

#define VS_INDIRECT_NODES_MAX 12 /* more have never been needed: our choice */

/* Notes of a shot at densities from nearly none to an end, each place's light of each lamp on a
 * polynomial in log(1 + c x density), on which sums of exp(-k length) are nearly straight. */
typedef struct {
    size_t shot;
    double end_per_m;        /* common to all shots that share the densities; 0: nothing is known */
    double search_end_per_m; /* of this shot alone */
    double planned_per_m;    /* a density to be known to the last digit; NaN: none */
    size_t count;            /* densities, in the order they came; 0 where nothing is known */
    double k_per_m[VS_INDIRECT_NODES_MAX];
    size_t points, beams, lights;
    vs_bands *node[VS_INDIRECT_NODES_MAX]; /* notes at each density, owned */
    vs_indirect_notes read;                /* at the last density asked for; owned */
    vs_shot_prediction newest; /* the shot at the density added last that it searches; owned */
    vs_bands *newest_direct;   /* and the direct light of its lamps there; owned */
    vs_status direct_status[VS_DIRECT_PARTS];
    vs_direct_curve direct; /* to the end of its own search; owned */
} vs_indirect_curve;

/* Makes the curves of some shots, `count` of them, each with shot, search_end_per_m and
 * planned_per_m set and all else zero. A shot that cannot be predicted has none: asking for its
 * prediction tells why. Where the scene's indirect light is not computed, they have direct light
 * alone. The predictor's runner is used.
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_indirect_curves_make(vs_predictor *predictor, vs_indirect_curve *curve,
                                                 size_t count);
void vs_indirect_curve_free(vs_indirect_curve *curve);

/* The notes at a density, valid until the next call; NULL beyond the end of the curve. */
vs_indirect_notes *vs_indirect_curve_at(vs_indirect_curve *curve, double extinction_per_m);
/* The same, but NULL too where the notes would be none that were worked out at this very density.
 */
vs_indirect_notes *vs_indirect_curve_exactly(vs_indirect_curve *curve, double extinction_per_m);

/* ---- for the making of curves ---- */

/* Where a density stands on the curve: 0 to 1. And back. */
double vs_indirect_curve_place(const vs_indirect_curve *curve, double extinction_per_m);
double vs_indirect_curve_per_m(const vs_indirect_curve *curve, double place);

/* How many notes there are of a shot, lamp by lamp. */
size_t vs_indirect_curve_notes(const vs_indirect_curve *curve);

/* The most by which any light of a shot is off, of itself [1]. */
double vs_indirect_most_off(const vs_shot_prediction *estimated, const vs_shot_prediction *is);

/* The density that came last of those that its own search reaches. */
size_t vs_indirect_curve_newest(const vs_indirect_curve *curve);

/* What the others tell of the light at that density; valid until the next call. */
vs_indirect_notes *vs_indirect_curve_foretold(vs_indirect_curve *curve);

#endif
