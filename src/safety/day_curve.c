/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/safety/day_curve.h"

#include <math.h>

/* A place on the curve, with the next sample it will meet. */
typedef struct {
    const vs_day_curve *curve;
    size_t next;
    double at_s;
} place;

/* Steps past the samples at this time. */
static void pass_samples(place *p) {
    while (p->next < p->curve->count && p->curve->at_s[p->next] <= p->at_s) {
        p->next++;
    }
}

static double next_sample_s(const place *p) {
    return p->next < p->curve->count ? p->curve->at_s[p->next] : (double)INFINITY;
}

/* The value at a time within the place's piece of the curve, its ends included. */
static double value_at(const place *p, double at_s) {
    const vs_day_curve *c = p->curve;
    if (p->next == 0) {
        return 0;
    }
    if (p->next == c->count) {
        return c->after;
    }
    double length_s = c->at_s[p->next] - c->at_s[p->next - 1];
    double share = (at_s - c->at_s[p->next - 1]) / length_s;
    return c->value[p->next - 1] + share * (c->value[p->next] - c->value[p->next - 1]);
}

double vs_day_curve_peak(const vs_day_curve *curve, double *at_s) {
    double peak = 0, when_s = NAN;
    for (size_t i = 0; i < curve->count; i++) {
        if (i == 0 || curve->value[i] > peak) {
            peak = curve->value[i];
            when_s = curve->at_s[i];
        }
    }
    if (at_s) {
        *at_s = when_s;
    }
    return peak;
}

/* The largest gain of the window's integral while it slides on by step_s: the rate of gain changes
 * linearly from `rate` to `rate_end`, so the maximum is at their zero, rate^2/(2 (rate - rate_end))
 * x step, if there is one. */
static double largest_gain(double rate, double rate_end, double step_s) {
    double gain = 0.5 * (rate + rate_end) * step_s;
    if (rate > 0 && rate_end < 0) {
        return fmax(gain, 0.5 * rate * step_s * rate / (rate - rate_end));
    }
    return fmax(gain, 0);
}

double vs_day_curve_highest_mean(const vs_day_curve *curve, double length_s) {
    if (!(length_s > 0) || curve->count == 0) {
        return length_s == 0 || length_s > 0 ? vs_day_curve_peak(curve, NULL) : (double)NAN;
    }
    place tail = {curve, 0, curve->at_s[0] - length_s}, head = {curve, 0, curve->at_s[0]};
    double end_s = curve->at_s[curve->count - 1], integral = 0, highest = 0;
    while (tail.at_s < end_s) {
        pass_samples(&tail);
        pass_samples(&head);
        double step_s = fmin(next_sample_s(&tail) - tail.at_s, next_sample_s(&head) - head.at_s);
        if (!(step_s >= 0)) {
            return NAN;
        }
        double tail_s = tail.at_s + step_s, head_s = head.at_s + step_s;
        double rate = value_at(&head, head.at_s) - value_at(&tail, tail.at_s);
        double rate_end = value_at(&head, head_s) - value_at(&tail, tail_s);
        highest = fmax(highest, integral + largest_gain(rate, rate_end, step_s));
        integral += 0.5 * (rate + rate_end) * step_s;
        /* the end that met a sample is put on it exactly */
        tail.at_s = next_sample_s(&tail) - tail.at_s <= step_s ? next_sample_s(&tail) : tail_s;
        head.at_s = next_sample_s(&head) - head.at_s <= step_s ? next_sample_s(&head) : head_s;
    }
    return fmax(highest / length_s, curve->after);
}

double vs_day_curve_reaches_s(const vs_day_curve *curve, double level) {
    for (size_t i = 0; i < curve->count; i++) {
        if (!(curve->value[i] >= level)) {
            continue;
        }
        if (i == 0) {
            return curve->at_s[i];
        }
        double share = (level - curve->value[i - 1]) / (curve->value[i] - curve->value[i - 1]);
        return curve->at_s[i - 1] + share * (curve->at_s[i] - curve->at_s[i - 1]);
    }
    double end_s = curve->count ? curve->at_s[curve->count - 1] : 0;
    return curve->after >= level ? end_s : (double)NAN;
}
