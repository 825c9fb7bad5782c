/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See ladder.h. */
#include "picture/interpolation/ladder.h"

#include <math.h>

#include "base/lanes.h"

#define DEPTH_FIRST 1.0     /* [1] optical depth over the longest path at the first range's end */
#define GROWTH      2.0     /* [1] of each further range's end over its beginning */
#define THINNEST    1e-3    /* [1] of the first range's end: stands for no haze at all */
#define FAINTEST    1e-6    /* [1] of the most at any step: less is not seen */
#define NOTHING     (-1e4f) /* logarithm of nothing: its exponential is 0 in a float */

/* Extrema of Chebyshev's polynomial, as shares of the range. */
static const double place[VS_LADDER_STEPS] = {0, 0.25, 0.75, 1};

vs_ladder vs_ladder_for(double longest_m, double extinction_per_m) {
    vs_ladder l = {.from_per_m = 0, .to_per_m = DEPTH_FIRST / longest_m};
    while (extinction_per_m > l.to_per_m) {
        l.from_per_m = l.to_per_m;
        l.to_per_m *= GROWTH;
    }
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        double at = l.from_per_m + place[i] * (l.to_per_m - l.from_per_m);
        l.step_per_m[i] = fmax(at, THINNEST * l.to_per_m);
    }
    return l;
}

int vs_ladder_nearest(const vs_ladder *ladder, double extinction_per_m) {
    int nearest = 0;
    for (int i = 1; i < VS_LADDER_STEPS; i++) {
        if (fabs(ladder->step_per_m[i] - extinction_per_m) <
            fabs(ladder->step_per_m[nearest] - extinction_per_m)) {
            nearest = i;
        }
    }
    return nearest;
}

void vs_ladder_weights(const vs_ladder *ladder, double extinction_per_m,
                       double weight[VS_LADDER_STEPS]) {
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        weight[i] = 1;
        for (int j = 0; j < VS_LADDER_STEPS; j++) {
            if (j != i) { /* Lagrange */
                weight[i] *= (extinction_per_m - ladder->step_per_m[j]) /
                             (ladder->step_per_m[i] - ladder->step_per_m[j]);
            }
        }
    }
}

void vs_ladder_log(const float value[VS_LADDER_STEPS], float log[VS_LADDER_STEPS]) {
    float most = 0;
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        most = fmaxf(most, value[i]);
    }
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        log[i] =
            most > 0 ? (float)lane_log(fmax((double)value[i], FAINTEST * (double)most)) : NOTHING;
    }
}

LANES_CLONES void vs_ladder_values(const float (*log)[VS_LADDER_STEPS], size_t count,
                                   const double weight[VS_LADDER_STEPS], double offset,
                                   float *value) {
    for (size_t i = 0; i < count; i++) {
        double power = offset;
        for (int j = 0; j < VS_LADDER_STEPS; j++) {
            power += weight[j] * (double)log[i][j];
        }
        value[i] = (float)lane_exp(power);
    }
}

LANES_CLONES void vs_ladder_sums(const float (*kept)[VS_LADDER_STEPS], size_t count,
                                 const double weight[VS_LADDER_STEPS], float *value) {
    for (size_t i = 0; i < count; i++) {
        double sum = 0;
        for (int j = 0; j < VS_LADDER_STEPS; j++) {
            sum += weight[j] * (double)kept[i][j];
        }
        value[i] = sum > 0 ? (float)sum : 0;
    }
}
