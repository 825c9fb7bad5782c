/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See direct.h. */
#include "light/tracing/direct.h"

#include <math.h>

#include "veilstop/light/space.h"

#define LEAST_SPREAD 1e-9 /* [1] of depth: less is none */

bool vs_direct_enter(vs_direct *path, size_t room) {
    if (path->room_count > 0 && path->room[path->room_count - 1] == room) {
        return true;
    }
    if (path->room_count == VS_DIRECT_ROOMS_MAX) {
        return false;
    }
    path->room[path->room_count++] = (uint16_t)room;
    return true;
}

void vs_direct_join(vs_direct *all, const vs_direct *one) {
    double whole = all->lumens + one->lumens;
    for (uint32_t i = 0; i < all->room_count && whole > 0; i++) {
        double share = one->lumens / whole, off_m = one->length_m[i] - all->length_m[i];
        all->length_m[i] += share * off_m;
        all->spread_m2[i] +=
            share * (one->spread_m2[i] - all->spread_m2[i]) + share * (1 - share) * off_m * off_m;
    }
    all->lumens = whole;
}

/* As if lengths were spread by a gamma distribution, whose mean of exp(-k s) is
 * (1 + k variance/mean)^(-mean^2/variance) (Abramowitz & Stegun 1964, 26.1.23 and 26.1.32). */
double vs_direct_passes(const vs_direct *path, const double *room_extinction_per_m, double rate) {
    double depth = 0;
    for (uint32_t i = 0; i < path->room_count; i++) {
        double k = rate * room_extinction_per_m[path->room[i]];
        double mean = path->length_m[i], per = path->spread_m2[i] / fmax(mean, VS_SPACE_SKIN_M);
        depth += k * per > LEAST_SPREAD ? mean / per * log1p(k * per) : k * mean;
    }
    return exp(-depth);
}
