/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light at any density, from what it is at a few. Through so much haze k, what arrives over paths of
 * length l is an integral of exp(-k l): the Laplace transform of path lengths, whose logarithm is
 * smooth in k (the cumulants of the lengths are its derivatives; Widder 1941, The Laplace Transform,
 * ch. II). So the logarithm is interpolated, over a range of densities, by the polynomial through
 * the extrema of Chebyshev's (Trefethen 2013, Approximation Theory and Approximation Practice,
 * ch. 2). Bounced light from none to thin haze, which makes more of it than it
 * takes, is interpolated itself. */
#ifndef VEILSTOP_PICTURE_INTERPOLATION_LADDER_H
#define VEILSTOP_PICTURE_INTERPOLATION_LADDER_H

#include <stddef.h>

#define VS_LADDER_STEPS 4

/* Densities at which light is computed, thinnest first. */
typedef struct {
    double from_per_m, to_per_m;        /* the range that they serve */
    double step_per_m[VS_LADDER_STEPS]; /* over 0 */
} vs_ladder;

/* The ladder whose range a density is in: from none to an optical depth of 1 over the longest path,
 * from there to twice as much, and so on.
 *  longest_m  over 0;  extinction_per_m  >= 0, finite */
vs_ladder vs_ladder_for(double longest_m, double extinction_per_m);

/* The step that is nearest to a density. */
int vs_ladder_nearest(const vs_ladder *ladder, double extinction_per_m);

/* What each step counts at a density; together 1. */
void vs_ladder_weights(const vs_ladder *ladder, double extinction_per_m,
                       double weight[VS_LADDER_STEPS]);

/* Logarithms of a quantity at the steps, as they are kept. What is not over 0 at some is taken for
 * so little that it is not seen; nothing at any step stays nothing. */
void vs_ladder_log(const float value[VS_LADDER_STEPS], float log[VS_LADDER_STEPS]);

/* Quantities at one density: exp(offset + sum of weight x log).
 *  log  count of them;  value  out */
void vs_ladder_values(const float (*log)[VS_LADDER_STEPS], size_t count,
                      const double weight[VS_LADDER_STEPS], double offset, float *value);

/* Quantities kept as they are: sum of weight x kept, at least 0. */
void vs_ladder_sums(const float (*kept)[VS_LADDER_STEPS], size_t count,
                    const double weight[VS_LADDER_STEPS], float *value);

#endif
