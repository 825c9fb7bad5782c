/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes where a line passes a source near it, even in a function of the angle seen from the source,
 * which takes the growth with nearness away (Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519);
 * and samples that are one, because their ways are about as long. Inside src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_NEAR_NODES_H
#define VEILSTOP_LIGHT_BOUNCE_NEAR_NODES_H

#include "base/lanes.h"
#include "base/legendre_rules.h"
#include "light/bounce/gather.h"

/* [m] Ways whose lengths differ by less are taken as one of their mean: in haze of k that is off by
 * (k x 0.4 m)^2/24 of that light at most, 0.03 % at 0.2 /m; our choice. */
#define NEAR_ALIKE_M 0.4

typedef struct {
    double at_m[LANES], step_m[LANES]; /* places and what each stands for */
} near_nodes;

/* Places are spread evenly in q: tan(angle/2) = gather (1 + q)/(1 - q), the angle between the way
 * from the source and the direction in which distance grows less: small far down the line, where
 * phase functions are steepest (docs/physics.md, "The veil at speed"). q of an offset from the foot
 * and back: with w = tan(angle/2), offset = apart (1 - w^2)/(2 w). */
LANES_INLINE double near_place_of(double off_m, double apart_m, double gather) {
    double away = sqrt(off_m * off_m + apart_m * apart_m);
    double w = off_m > 0 ? apart_m / (away + off_m) : (away - off_m) / apart_m;
    return (w - gather) / (w + gather);
}

/* The offset at q, and what it grows by: |d offset/d q|. */
LANES_INLINE double near_offset_at(double q, double apart_m, double gather, double *slope) {
    double up = gather * (1 + q), down = 1 - q, w = up / down;
    double per_q = 2 * gather / (down * down);
    *slope = apart_m * (1 + w * w) / (2 * w * w) * per_q;
    return apart_m * (1 - w * w) / (2 * w);
}

/* Eight places on a piece, gathered about `foot`, `apart` from the source; steepest near its start,
 * where light from behind is scattered into the lens. */
LANES_INLINE void near_place_nodes(const vs_gather_piece *piece, double foot_m, double apart_m,
                                   double gather, near_nodes *n) {
    const vs_legendre_rule *rule = &vs_legendre_rules[LANES];
    double a = near_place_of(foot_m - piece->from_m, apart_m, gather);
    double b = near_place_of(foot_m - piece->to_m, apart_m, gather);
    double middle = 0.5 * (a + b), half = 0.5 * (b - a), size = half < 0 ? -half : half;
    EACH_LANE(l) {
        double slope;
        n->at_m[l] =
            foot_m - near_offset_at(middle + half * rule->node[l], apart_m, gather, &slope);
        n->step_m[l] = size * rule->weight[l] * slope;
    }
}

/* Phase functions of single directions in all bands. */
LANES_INLINE void near_phases(const float table[VS_CAP_ANGLES][4], const double *cosine,
                              double per_sr[VS_BAND_COUNT][LANES]) {
    double angle[LANES];
    lanes_scattering_angles(cosine, angle);
    for (int l = 0; l < LANES; l++) {
        int k = (int)lane_min(angle[l], VS_CAP_ANGLES - 2);
        float along = (float)(angle[l] - k);
        const float *a = table[k], *b = table[k + 1];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            per_sr[band][l] = (double)(a[band] + along * (b[band] - a[band]));
        }
    }
}

/* Samples being made one: sums of worths, and of lengths by the worths' size. */
typedef struct {
    double worth[VS_BAND_COUNT], by, plain, narrow, wide;
} near_sum;

/* by  the worths' size: they may be under 0, for a phase function cut off at an order is */
LANES_INLINE void near_sum_add(near_sum *sum, const double worth[VS_BAND_COUNT], double by,
                               double plain_m, double narrow_m, double wide_m) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        sum->worth[band] += worth[band];
    }
    sum->by += by;
    sum->plain += by * plain_m;
    sum->narrow += by * narrow_m;
    sum->wide += by * wide_m;
}

/* Keeps the sum as one sample, if it is worth anything. */
static inline vs_status near_sum_keep(const near_sum *sum, size_t source, size_t piece,
                                      vs_gather_light *light) {
    if (!(sum->by > 0)) {
        return VS_OK;
    }
    const vs_gather_sample s = {{sum->worth[0], sum->worth[1], sum->worth[2]},
                                sum->plain / sum->by,
                                sum->narrow / sum->by,
                                sum->wide / sum->by};
    return vs_gather_add_sample(light, piece, source, &s);
}

#endif
