/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes where a line passes a source near it, evenly spaced in a function of the angle seen from
 * the source, which cancels the growth with nearness (equiangular sampling: Kulla & Fajardo 2012,
 * Comput. Graph. Forum 31, 1519); and samples joined into one because their paths are about as
 * long. Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_NEAR_NODES_H
#define VEILSTOP_LIGHT_BOUNCE_NEAR_NODES_H

#include "base/numerics/legendre_rules.h"
#include "base/single.h"
#include "light/bounce/gather.h"

/* [m] Paths whose lengths differ by less are taken as one of their mean: in haze of k that is off by
 * (k x 0.4 m)^2/24 of that light at most, 0.03 % at 0.2 /m; our choice. */
#define NEAR_ALIKE_M 0.4f

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

/* Samples being joined: sums of worths, and of lengths weighted by the worths' size. */
typedef struct {
    float worth[VS_BAND_COUNT], by, plain, narrow, wide;
} near_sum;

/* by  the worths' size: worths may be negative, as a phase function cut off at an order may be */
LANES_INLINE void near_sum_add(near_sum *sum, const float worth[VS_BAND_COUNT], float by,
                               float plain_m, float narrow_m, float wide_m) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        sum->worth[band] += worth[band];
    }
    sum->by += by;
    sum->plain += by * plain_m;
    sum->narrow += by * narrow_m;
    sum->wide += by * wide_m;
}

/* Keeps the sum as one sample, if it is worth anything. */
static inline vs_status near_sum_keep(const near_sum *sum, size_t source, size_t segment,
                                      vs_gather_light *light) {
    if (!(sum->by > 0)) {
        return VS_OK;
    }
    const vs_gather_sample s = {{sum->worth[0], sum->worth[1], sum->worth[2]},
                                sum->plain / sum->by,
                                sum->narrow / sum->by,
                                sum->wide / sum->by};
    return vs_gather_add_sample(light, segment, source, &s);
}

#endif
