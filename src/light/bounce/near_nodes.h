/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes where a line passes a source near it, evenly spaced in a function of the angle seen from
 * the source, which cancels the growth with nearness (equiangular sampling: Kulla & Fajardo 2012,
 * Comput. Graph. Forum 31, 1519). Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_NEAR_NODES_H
#define VEILSTOP_LIGHT_BOUNCE_NEAR_NODES_H

#include "base/numerics/legendre_rules.h"
#include "base/single.h"
#include "light/bounce/gather.h"

typedef struct {
    float at_m[LANES], step_m[LANES]; /* places down the segment and what each stands for */
} near_nodes;

/* Places are spread evenly in q: tan(angle/2) = gather (1 + q)/(1 - q), the angle between the line
 * from the source and the direction in which distance grows less: small far down the line, where
 * phase functions are steepest (docs/physics.md, "The fast veil integral"). q of an offset from the foot
 * and back: with w = tan(angle/2), offset = apart (1 - w^2)/(2 w). */
LANES_INLINE float near_place_of(float off_m, float apart_m, float gather) {
    float away = sqrtf(off_m * off_m + apart_m * apart_m);
    float up = off_m > 0 ? apart_m : away - off_m, down = off_m > 0 ? away + off_m : apart_m;
    return (up - gather * down) / (up + gather * down);
}

/* A place at q. With w = up/down:
 *   offset = apart less/(2 up down),  its distance from the source apart whole/(2 up down),
 *   |d offset/d q| = apart gather whole/(up down)^2. */
typedef struct {
    float up_down, whole, less; /* up x down; down^2 + up^2, down^2 - up^2 */
} near_place;

LANES_INLINE near_place near_place_at(float q, float gather) {
    float up = gather * (1 + q), down = 1 - q, up2 = up * up, down2 = down * down;
    near_place p = {up * down, down2 + up2, down2 - up2};
    return p;
}

/* Places on a segment, gathered about `foot` down the line, `apart` from the source; steepest near
 * its start, where light from behind is scattered into the lens.
 *     at, weight  of a rule from -1 to 1 */
LANES_INLINE void near_place_nodes(const vs_gather_segment *segment, double foot_m, double apart_m,
                                   double gather, const float *at, const float *weight,
                                   near_nodes *n) {
    float foot = (float)(foot_m - segment->from_m), beyond = (float)(foot_m - segment->to_m);
    float apart = (float)apart_m, by = (float)gather;
    float a = near_place_of(foot, apart, by), b = near_place_of(beyond, apart, by);
    float middle = 0.5f * (a + b), half = 0.5f * (b - a), size = half < 0 ? -half : half;
    EACH_LANE(l) {
        near_place p = near_place_at(middle + half * at[l], by);
        float per = apart / p.up_down;
        n->at_m[l] = foot - 0.5f * per * p.less;
        n->step_m[l] = size * weight[l] * by * per * p.whole / p.up_down;
    }
}

/* The rule of Gauss and Legendre of eight nodes. */
LANES_INLINE void eight_gauss(float *at, float *weight) {
    for (int l = 0; l < LANES; l++) {
        at[l] = (float)vs_legendre_rules[LANES].node[l];
        weight[l] = (float)vs_legendre_rules[LANES].weight[l];
    }
}

/* From 0 at 0 to 1 at 1, level at both. */
LANES_INLINE float smooth_share(float x) {
    float in = single_max(0, single_min(1, x));
    return in * in * (3 - 2 * in);
}

#endif
