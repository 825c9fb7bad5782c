/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Responses of one exponential decay, and of two in series, to an impulse and to a constant input.
 * Divided differences of exp (Higham 2008, Functions of Matrices, ch. 10), arranged so that equal
 * rates, or rates of 0, lose no digits. */
#ifndef VEILSTOP_AIR_DECAYS_H
#define VEILSTOP_AIR_DECAYS_H

#include <math.h>

#define DECAYS_SERIES 0.05 /* [1] rate x time below which the series is the more exact form */
#define DECAYS_TERMS  12   /* 0.05^12/14! is far below rounding */

/* Integral of exp(-a (t - s)) exp(-b s) over s from 0 to t [s]; a, b, t 0 or over. */
static inline double decay_two(double a, double b, double t) {
    double apart = fabs(a - b);
    double ramp = apart * t > 0 ? -expm1(-apart * t) / apart : t;
    return exp(-fmin(a, b) * t) * ramp;
}

/* Integral of decay_two over time, from 0 to t [s2]. */
static inline double decay_two_integral(double a, double b, double t) {
    double most = fmax(a, b);
    if (!(most * t >= DECAYS_SERIES)) {
        /* sum of (-1)^k h_k t^(k+2)/(k+2)!, h_k the complete symmetric polynomial of a and b */
        double h = 1, power = 1, scale = 0.5 * t * t, sum = 0;
        for (int k = 0; k < DECAYS_TERMS; k++) {
            sum += h * scale;
            power *= b;
            h = a * h + power;
            scale *= -t / (k + 3);
        }
        return sum;
    }
    return (decay_two(fmin(a, b), 0, t) - decay_two(a, b, t)) / most;
}

#endif
