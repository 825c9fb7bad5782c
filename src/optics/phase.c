/* Reading a phase function. Everything is a function of u^2 = (1 - cos)/2 = sin^2(angle/2).
 * Sources: the header. */
#include "veilstop/optics/phase.h"

#include <math.h>

#include "veilstop/base/units.h"

/* 1 + g^2 - 2 g cos = (1 - g)^2 + 4 g u^2, which keeps its digits at the forward peak. */
static double henyey_greenstein_per_sr(double g, double u2) {
    double base = (1 - g) * (1 - g) + 4 * g * u2;
    return (1 - g) * (1 + g) / (4 * VS_PI * base * sqrt(base));
}

static double table_per_sr(const vs_phase *phase, double u2) {
    double place = sqrt(u2) * (double)(phase->count - 1);
    size_t left = (size_t)place;
    if (left > phase->count - 2) {
        left = phase->count - 2;
    }
    double share = place - (double)left;
    return phase->value[left] + share * (phase->value[left + 1] - phase->value[left]);
}

double vs_phase_per_sr(const vs_phase *phase, double cos_angle) {
    if (isnan(cos_angle)) {
        return NAN;
    }
    double u2 = fmin(fmax(0.5 * (1 - cos_angle), 0), 1);
    return phase->kind == VS_PHASE_TABLE ? table_per_sr(phase, u2)
                                         : henyey_greenstein_per_sr(phase->g, u2);
}

vs_phase vs_phase_henyey_greenstein(double g) {
    vs_phase phase = {VS_PHASE_HENYEY_GREENSTEIN, NAN, NULL, 0};
    if (fabs(g) < 1) {
        phase.g = g;
    }
    return phase;
}
