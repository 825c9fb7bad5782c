/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The closed forms of decays.h with one exponential per part: differences of exponentials where the
 * rates are well apart, series where they are close. */
#include "air/kernel_parts.h"

#include "base/lanes.h"

#define APART 0.1  /* [1] difference of rates x time from which exponentials may be subtracted */
#define SLOW  0.01 /* [1] rates x time below which the series is the more exact form */

/* (1 - exp(-x))/x to x^9, for x under APART. */
LANES_INLINE double ramp_series(double x) {
    static const double c[] = {1.0,        -1.0 / 2,   1.0 / 6,      -1.0 / 24,    1.0 / 120,
                               -1.0 / 720, 1.0 / 5040, -1.0 / 40320, 1.0 / 362880, -1.0 / 3628800};
    return lane_series(c, 10, x);
}

/* Integral of exp(-a (t - s)) exp(-b s) over s from 0 to t, given exp(-a t) and exp(-b t). */
LANES_INLINE double decay_of_both(double a, double exp_a, double b, double exp_b, double t) {
    double apart = a > b ? a - b : b - a, x = apart * t;
    double slow = lane_max(exp_a, exp_b), fast = lane_min(exp_a, exp_b);
    double far = (slow - fast) / lane_divisor(apart);
    double near = slow * t * ramp_series(lane_min(x, APART));
    return x < APART ? near : far;
}

/* Its integral over t; exp_b: exp(-b t). Where both rates are slow, the series of decays.h to the
 * sixth power. */
LANES_INLINE double sum_of_both(double a, double exp_a, double b, double exp_b, double t) {
    double most = lane_max(a, b), least = lane_min(a, b), x = most * t, y = least * t;
    double exp_least = lane_max(exp_a, exp_b);
    double far = (decay_of_both(least, exp_least, 0, 1, t) - decay_of_both(a, exp_a, b, exp_b, t)) /
                 lane_divisor(most);
    /* h: complete symmetric polynomials of x and y */
    double h1 = x + y, h2 = x * h1 + y * y, h3 = x * h2 + y * y * y, h4 = x * h3 + y * y * y * y;
    double h5 = x * h4 + y * y * y * y * y;
    double near = t * t *
                  (1.0 / 2 - h1 * (1.0 / 6) + h2 * (1.0 / 24) - h3 * (1.0 / 120) +
                   h4 * (1.0 / 720) - h5 * (1.0 / 5040));
    return x < SLOW ? near : far;
}

LANES_CLONES
void vs_parts_step(const vs_rooms_trace *trace, double unmixed_kept, double output_g_per_s,
                   double length_s, vs_rooms_step *step) {
    double mu = trace->mixing_per_s, out = output_g_per_s, t = length_s;
    double from_unmixed[LANES] = {0}, from_output[LANES] = {0};
    for (size_t j = 0; j < trace->count; j += LANES) {
        EACH_LANE(l) {
            size_t i = j + (size_t)l;
            double rate = trace->rate_per_s[i], gain = trace->gain[i];
            double keep = lane_exp(-rate * t);
            double steady = decay_of_both(rate, keep, 0, 1, t);
            double all = sum_of_both(rate, keep, 0, 1, t);
            double part = mu > 0 ? decay_of_both(rate, keep, mu, unmixed_kept, t) : 0;
            double part_all = mu > 0 ? sum_of_both(rate, keep, mu, unmixed_kept, t) : 0;
            step->keep[i] = keep;
            step->sum_keep[i] = steady;
            step->from_unmixed[i] = gain * mu * part;
            step->from_output[i] = gain * out * (steady - part);
            from_unmixed[l] += gain * mu * part_all;
            from_output[l] += gain * out * (all - part_all);
        }
    }
    step->sum_from_unmixed = lanes_sum(from_unmixed);
    step->sum_from_output = lanes_sum(from_output);
}

LANES_CLONES
vs_parts_then vs_parts_at(const vs_rooms_trace *trace, double unmixed_kept, double output_g_per_s,
                          double length_s) {
    double mu = trace->mixing_per_s, u = trace->unmixed_g, t = length_s;
    double mass[LANES] = {0}, lost[LANES] = {0}, most[LANES] = {0}, gain[LANES] = {0},
           best[LANES] = {0};
    for (size_t j = 0; j < trace->count; j += LANES) {
        EACH_LANE(l) {
            double rate = trace->rate_per_s[j + (size_t)l], g = trace->gain[j + (size_t)l];
            double keep = lane_exp(-rate * t);
            double mixing = mu > 0 ? decay_of_both(rate, keep, mu, unmixed_kept, t) : 0;
            double steady = decay_of_both(rate, keep, 0, 1, t);
            double part = trace->part_g[j + (size_t)l] * keep + g * mu * u * mixing +
                          g * output_g_per_s * (steady - mixing);
            mass[l] += part;
            lost[l] += rate * part;
            most[l] += lane_max(part, 0);
            gain[l] += g;
            best[l] += lane_max(g, 0);
        }
    }
    vs_parts_then then = {lanes_sum(mass), lanes_sum(lost), lanes_sum(most), lanes_sum(gain),
                          lanes_sum(best)};
    return then;
}
