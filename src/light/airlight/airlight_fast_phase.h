/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phase functions at eight scattering angles: vs_phase_per_sr in lanes. Private to src/light. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_PHASE_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_PHASE_H

#include "base/lanes.h"
#include "veilstop/optics/phase.h"

#define LANES_SINE2_MIN 1e-30 /* [1] at both ends: larger than rounding errors */

/* cosine  of the scattering angles, -1 to 1, rounding apart.  per_sr  out [1/sr]
 * Henyey-Greenstein; peak: (1 - g^2)/(4 pi). */
LANES_INLINE void lanes_henyey_greenstein(double g, double peak, const double *cosine,
                                          double *per_sr) {
    EACH_LANE(l) {
        double base = (1 - g) * (1 - g) + 2 * g * lane_max(1 - cosine[l], 0);
        per_sr[l] = peak / (base * sqrt(base));
    }
}

/* The places of scattering angles in tables, 0 to 1: the same in every band's. */
LANES_INLINE void lanes_table_place(const double *cosine, double *place) {
    EACH_LANE(l) {
        double sine = sqrt(lane_max(1 - cosine[l] * cosine[l], LANES_SINE2_MIN));
        place[l] = lane_min(sine / (1 + cosine[l] + sine), 1);
    }
}

/* A table at these places; last: its last index, count - 1. */
LANES_INLINE void lanes_phase_table(const double *value, double last, const double *place,
                                    double *per_sr) {
    double share[LANES], low[LANES], high[LANES];
    int left[LANES];
    EACH_LANE(l) {
        double at = place[l] * last;
        left[l] = (int)lane_min(at, last - 1);
        share[l] = at - (double)left[l];
    }
    for (int l = 0; l < LANES; l++) {
        low[l] = value[left[l]];
        high[l] = value[left[l] + 1];
    }
    EACH_LANE(l) {
        per_sr[l] = low[l] + share[l] * (high[l] - low[l]);
    }
}

#endif
