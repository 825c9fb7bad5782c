/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How every fast integral goes along a line: blocks of nodes, halved where the two highest Legendre
 * terms that they resolve show that they are too few. Private to src/light. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_INTEGRATE_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_INTEGRATE_H

#include "base/lanes.h"
#include "base/numerics/legendre_rules.h"
#include "light/airlight/airlight_fast_haze.h"

#define VS_FAST_PARTS_MAX 129 /* of one segment of a line */

/* The result of a block: the integral over its interval, and how much of it is in the two highest
 * Legendre terms, a measure of what its nodes do not resolve. */
typedef struct {
    double sum[VS_FAST_BANDS];
    double tail; /* absolute, of the refinement band */
} vs_fast_block;

/* A function that integrates between two values of t. */
typedef void vs_fast_integrate(void *context, double from, double to, vs_fast_block *block);

/* Adds the integral over some intervals.
 *  part      up to VS_FAST_PARTS_MAX of them: from, to
 *  tail_max  [1] of all light, what `sum` holds before included: the largest tail of a block
 *  sum       in and out, band by band */
void vs_fast_integrate_parts(vs_fast_integrate *integrate, void *context, const vs_fast_haze *haze,
                             double (*part)[2], int count, double tail_max, double *sum);

/* Sets a band of a block to the sum of eight values, one a node of the eight-point rule, and its
 * tail if it is the refinement band. */
LANES_INLINE void vs_fast_block_set(const double *value, int band, int refine_band,
                                    vs_fast_block *block) {
    const vs_legendre_rule *eight = &vs_legendre_rules[LANES];
    block->sum[band] = lanes_sum(value);
    if (band == refine_band) {
        double last[LANES], before[LANES];
        EACH_LANE(l) {
            last[l] = eight->last[l] * value[l];
            before[l] = eight->before[l] * value[l];
        }
        block->tail = fabs(lanes_sum(last)) + fabs(lanes_sum(before));
    }
}

#endif
