/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Evaluating a phase function.
 * Sources: the header. */
#include "veilstop/optics/phase.h"

#include <math.h>

#include "veilstop/base/units.h"

/* p = (1 - g^2)/(4 pi (1 + g^2 - 2 g cos)^1.5) (Henyey & Greenstein 1941), with 1 + g^2 - 2 g cos =
 * (1 - g)^2 + 2 g (1 - cos), which loses no digits at the forward peak. */
static double henyey_greenstein_per_sr(double g, double cos_angle) {
    double base = (1 - g) * (1 - g) + 2 * g * (1 - cos_angle);
    return (1 - g) * (1 + g) / (4 * VS_PI * base * sqrt(base));
}

/* w = t/(1 + t) with t = tan(angle/2) = sin/(1 + cos). */
double vs_phase_table_place(double cos_angle) {
    double sine = sqrt(fmax((1 - cos_angle) * (1 + cos_angle), 0));
    return sine > 0 ? sine / (1 + cos_angle + sine) : cos_angle < 0;
}

/* cos = (1 - t^2)/(1 + t^2) with t = w/(1 - w). */
double vs_phase_table_cosine(double place) {
    double rest = 1 - place;
    return (rest - place) / (rest * rest + place * place);
}

static double table_per_sr(const vs_phase *phase, double cos_angle) {
    double place = vs_phase_table_place(cos_angle) * (double)(phase->count - 1);
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
    double cosine = fmin(fmax(cos_angle, -1), 1);
    return phase->kind == VS_PHASE_TABLE ? table_per_sr(phase, cosine)
                                         : henyey_greenstein_per_sr(phase->g, cosine);
}

vs_phase vs_phase_henyey_greenstein(double g) {
    vs_phase phase = {VS_PHASE_HENYEY_GREENSTEIN, NAN, NULL, 0};
    if (fabs(g) < 1) {
        phase.g = g;
    }
    return phase;
}

bool vs_phase_same(const vs_phase *a, const vs_phase *b) {
    return a->kind == b->kind && a->g == b->g && a->value == b->value && a->count == b->count;
}
