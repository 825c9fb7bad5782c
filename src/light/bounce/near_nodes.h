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
    float w = off_m > 0 ? apart_m / (away + off_m) : (away - off_m) / apart_m;
    return (w - gather) / (w + gather);
}

/* The offset at q, and what it grows by: |d offset/d q|. */
LANES_INLINE float near_offset_at(float q, float apart_m, float gather, float *slope) {
    float up = gather * (1 + q), down = 1 - q, w = up / down;
    float per_q = 2 * gather / (down * down);
    *slope = apart_m * (1 + w * w) / (2 * w * w) * per_q;
    return apart_m * (1 - w * w) / (2 * w);
}

/* Eight places on a segment, gathered about `foot` down the line, `apart` from the source; steepest
 * near its start, where light from behind is scattered into the lens. */
LANES_INLINE void near_place_nodes(const vs_gather_segment *segment, double foot_m, double apart_m,
                                   double gather, near_nodes *n) {
    const vs_legendre_rule *rule = &vs_legendre_rules[LANES];
    float foot = (float)(foot_m - segment->from_m), beyond = (float)(foot_m - segment->to_m);
    float apart = (float)apart_m, by = (float)gather;
    float a = near_place_of(foot, apart, by), b = near_place_of(beyond, apart, by);
    float middle = 0.5f * (a + b), half = 0.5f * (b - a), size = half < 0 ? -half : half;
    EACH_LANE(l) {
        float slope;
        n->at_m[l] = foot - near_offset_at(middle + half * (float)rule->node[l], apart, by, &slope);
        n->step_m[l] = size * (float)rule->weight[l] * slope;
    }
}

#endif
