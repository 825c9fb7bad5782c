/* Phase functions at eight scattering angles: vs_phase_per_sr in lanes. Inside src/light. */
#ifndef VEILSTOP_LIGHT_KERNEL_PHASE_H
#define VEILSTOP_LIGHT_KERNEL_PHASE_H

#include "light/lanes.h"
#include "veilstop/optics/phase.h"

#define LANES_SINE2_MIN 1e-40 /* [1] a sine squared straight on and straight back: no 0/0 */

/* cosine  -1 to 1, rounding apart.  per_sr  out [1/sr] */
LANES_INLINE void lanes_phase(const vs_phase *phase, const double *cosine, double *per_sr) {
    if (phase->kind == VS_PHASE_HENYEY_GREENSTEIN) {
        double g = phase->g, peak = (1 - g) * (1 + g) / (4 * VS_PI);
        EACH_LANE(l) {
            double base = (1 - g) * (1 - g) + 2 * g * lane_max(1 - cosine[l], 0);
            per_sr[l] = peak / (base * sqrt(base));
        }
        return;
    }
    const double *value = phase->value;
    double last = (double)phase->count - 1, share[LANES], low[LANES], high[LANES];
    int left[LANES];
    EACH_LANE(l) {
        double c = lane_min(lane_max(cosine[l], -1), 1);
        double sine = sqrt(lane_max((1 - c) * (1 + c), LANES_SINE2_MIN));
        double place = sine / (1 + c + sine) * last;
        left[l] = (int)lane_min(place, last - 1);
        share[l] = place - (double)left[l];
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
