/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Size distributions. Sources: the header. */
#include "veilstop/optics/sizes.h"

#include <math.h>

#define UM_PER_M 1e6 /* [um/m] */

/* n(d) ~ exp(-(ln d/median)^2/(2 ln^2 gsd))/d (Hinds 1999, ch. 4). */
static double lognormal(const vs_sizes *s, double diameter_m) {
    double width = log(s->gsd);
    if (!(width > 0)) {
        return NAN;
    }
    double off = log(diameter_m / s->median_m) / width;
    return exp(-0.5 * off * off) / diameter_m;
}

/* n(r) ~ r^alpha exp(-b r^gamma), r in um (Deirmendjian 1969). */
static double modified_gamma(const vs_sizes *s, double diameter_m) {
    double radius_um = 0.5 * diameter_m * UM_PER_M;
    return exp(s->alpha * log(radius_um) - s->b * pow(radius_um, s->gamma));
}

static double table(const vs_sizes *s, double diameter_m) {
    if (diameter_m < s->diameter_m[0] || diameter_m > s->diameter_m[s->count - 1]) {
        return 0;
    }
    size_t low = 0, high = s->count - 1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(s->diameter_m[middle] <= diameter_m ? &low : &high) = middle;
    }
    double share = (diameter_m - s->diameter_m[low]) / (s->diameter_m[high] - s->diameter_m[low]);
    return s->density[low] + share * (s->density[high] - s->density[low]);
}

double vs_sizes_density(const vs_sizes *sizes, double diameter_m) {
    switch (sizes->kind) {
    case VS_SIZES_LOGNORMAL:
        return lognormal(sizes, diameter_m);
    case VS_SIZES_MODIFIED_GAMMA:
        return modified_gamma(sizes, diameter_m);
    case VS_SIZES_TABLE:
        return table(sizes, diameter_m);
    }
    return NAN;
}
