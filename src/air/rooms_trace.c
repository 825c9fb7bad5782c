/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. A part p of rate r, new haze mixing in at rate mu with gain g: the closed forms
 * of decays.h, as in rooms.c, for one room alone. */
#include "veilstop/air/rooms_trace.h"

#include <math.h>
#include <stdbool.h>

#include "air/decays.h"

#define SCAN_FIRST_S    0.5  /* [s] first step of a scan: no event is shorter */
#define SCAN_GROWTH     1.12 /* [1] each step over the one before: our choice */
#define BISECTION_STEPS 45   /* halvings: the bracket shrinks to rounding */

void vs_rooms_trace_begin(const vs_rooms_model *model, const double *state, size_t room,
                          vs_rooms_trace *trace) {
    size_t n = model->count;
    trace->count = n;
    trace->mixing_per_s = model->mixing_per_s;
    for (size_t j = 0; j < n; j++) {
        const double *row = model->to_mode + j * n;
        double amount = 0, share = model->from_mode[room * n + j];
        for (size_t i = 0; i < n; i++) {
            amount += row[i] * state[i];
        }
        trace->rate_per_s[j] = model->rate_per_s[j];
        trace->part_g[j] = share * amount;
        trace->gain[j] = share * model->gain[j];
    }
    trace->unmixed_g = state[n];
    trace->exposure_g_s = 0;
}

double vs_rooms_trace_mass_g(const vs_rooms_trace *trace) {
    double sum = 0;
    for (size_t j = 0; j < trace->count; j++) {
        sum += trace->part_g[j];
    }
    return sum;
}

/* ---- steps ---- */

void vs_rooms_step_make(const vs_rooms_trace *trace, double output_g_per_s, double t,
                        vs_rooms_step *step) {
    double mu = trace->mixing_per_s, out = output_g_per_s >= 0 ? output_g_per_s : (double)NAN;
    t = t >= 0 ? t : (double)NAN;
    step->sum_from_unmixed = step->sum_from_output = 0;
    for (size_t j = 0; j < trace->count; j++) {
        double rate = trace->rate_per_s[j], gain = trace->gain[j];
        double steady = decay_two(rate, 0, t), all = decay_two_integral(rate, 0, t);
        double part = mu > 0 ? decay_two(rate, mu, t) : 0;
        double part_all = mu > 0 ? decay_two_integral(rate, mu, t) : 0;
        step->keep[j] = exp(-rate * t);
        step->sum_keep[j] = steady;
        step->from_unmixed[j] = gain * mu * part;
        step->from_output[j] = gain * out * (steady - part);
        step->sum_from_unmixed += gain * mu * part_all;
        step->sum_from_output += gain * out * (all - part_all);
    }
    step->keep_unmixed = exp(-mu * t);
    step->unmixed_from_output = mu > 0 ? out * decay_two(mu, 0, t) : 0;
}

void vs_rooms_trace_take(vs_rooms_trace *trace, const vs_rooms_step *step) {
    double u = trace->unmixed_g;
    double exposure = step->sum_from_unmixed * u + step->sum_from_output;
    for (size_t j = 0; j < trace->count; j++) {
        exposure += step->sum_keep[j] * trace->part_g[j];
        trace->part_g[j] =
            step->keep[j] * trace->part_g[j] + step->from_unmixed[j] * u + step->from_output[j];
    }
    trace->unmixed_g = step->keep_unmixed * u + step->unmixed_from_output;
    trace->exposure_g_s += exposure;
}

void vs_rooms_trace_advance(vs_rooms_trace *trace, double output_g_per_s, double length_s) {
    vs_rooms_step step;
    vs_rooms_step_make(trace, output_g_per_s, length_s, &step);
    vs_rooms_trace_take(trace, &step);
}

/* ---- a moment from now on, at a constant output ---- */

/* The room then. */
typedef struct {
    double mass_g, slope_g_per_s;
    double most_g; /* no later mass can be over this with the hazer off */
} moment;

static moment look(const vs_rooms_trace *trace, double output_g_per_s, double t) {
    double mu = trace->mixing_per_s, u = trace->unmixed_g, out = output_g_per_s;
    double later_u = mu > 0 ? u * exp(-mu * t) + out * decay_two(mu, 0, t) : 0;
    double flow = mu > 0 ? mu * later_u : out, best_gain = 0;
    moment m = {0, 0, 0};
    for (size_t j = 0; j < trace->count; j++) {
        double rate = trace->rate_per_s[j], gain = trace->gain[j];
        double part = trace->part_g[j] * exp(-rate * t);
        if (gain != 0) {
            double mixing = mu > 0 ? decay_two(rate, mu, t) : 0;
            part += gain * mu * u * mixing;
            part += out > 0 ? gain * out * (decay_two(rate, 0, t) - mixing) : 0;
        }
        m.mass_g += part;
        m.slope_g_per_s += gain * flow - rate * part;
        m.most_g += fmax(0, part);
        best_gain += fmax(0, gain);
    }
    m.most_g += best_gain * later_u;
    return m;
}

/* What of a moment changes sign, for the search of when. */
typedef enum { OF_SLOPE, OF_MASS } probe;

static double value_of(const moment *m, probe what, double level) {
    return what == OF_SLOPE ? m->slope_g_per_s : m->mass_g - level;
}

static double bisect(const vs_rooms_trace *trace, double output_g_per_s, probe what, double level,
                     double low_s, double high_s) {
    moment first = look(trace, output_g_per_s, low_s);
    bool positive_first = value_of(&first, what, level) > 0;
    for (int i = 0; i < BISECTION_STEPS; i++) {
        double middle_s = 0.5 * (low_s + high_s);
        moment m = look(trace, output_g_per_s, middle_s);
        if ((value_of(&m, what, level) > 0) == positive_first) {
            low_s = middle_s;
        } else {
            high_s = middle_s;
        }
    }
    return high_s;
}

double vs_rooms_peak_g(const vs_rooms_trace *trace, double horizon_s, double *after_s) {
    moment now = look(trace, 0, 0);
    double best_g = now.mass_g, best_s = 0, step_s = SCAN_FIRST_S;
    for (double time = 0; time < horizon_s && now.most_g > best_g; step_s *= SCAN_GROWTH) {
        double next_s = fmin(time + step_s, horizon_s);
        moment next = look(trace, 0, next_s);
        /* A top lies inside the step, or at its end where the scan stops. */
        double top_s = next_s, top_g = next.mass_g;
        if (now.slope_g_per_s > 0 && !(next.slope_g_per_s > 0)) {
            top_s = bisect(trace, 0, OF_SLOPE, 0, time, next_s);
            top_g = look(trace, 0, top_s).mass_g;
        }
        if (top_g > best_g) {
            best_g = top_g;
            best_s = top_s;
        }
        now = next;
        time = next_s;
    }
    if (after_s) {
        *after_s = best_s;
    }
    return best_g;
}

double vs_rooms_fall_s(const vs_rooms_trace *trace, double mass_g, double horizon_s) {
    moment now = look(trace, 0, 0);
    double found_s = now.mass_g <= mass_g ? 0 : (double)NAN, step_s = SCAN_FIRST_S;
    for (double time = 0; time < horizon_s && now.most_g > mass_g; step_s *= SCAN_GROWTH) {
        double next_s = fmin(time + step_s, horizon_s);
        moment next = look(trace, 0, next_s);
        bool above = now.mass_g > mass_g, above_after = next.mass_g > mass_g;
        if (!above && above_after) {
            found_s = NAN; /* it comes up again */
        } else if (above && !above_after) {
            found_s = bisect(trace, 0, OF_MASS, mass_g, time, next_s);
        }
        now = next;
        time = next_s;
    }
    return found_s;
}

double vs_rooms_rise_s(const vs_rooms_trace *trace, double output_g_per_s, double mass_g,
                       double horizon_s) {
    moment now = look(trace, output_g_per_s, 0);
    double step_s = SCAN_FIRST_S;
    if (now.mass_g >= mass_g) {
        return 0;
    }
    for (double time = 0; time < horizon_s; step_s *= SCAN_GROWTH) {
        if (output_g_per_s <= 0 && now.most_g < mass_g) {
            return NAN;
        }
        double next_s = fmin(time + step_s, horizon_s);
        moment next = look(trace, output_g_per_s, next_s);
        if (!(next.mass_g < mass_g)) {
            return bisect(trace, output_g_per_s, OF_MASS, mass_g, time, next_s);
        }
        if (now.slope_g_per_s > 0 && !(next.slope_g_per_s > 0)) { /* a top between the two */
            double top_s = bisect(trace, output_g_per_s, OF_SLOPE, 0, time, next_s);
            if (look(trace, output_g_per_s, top_s).mass_g >= mass_g) {
                return bisect(trace, output_g_per_s, OF_MASS, mass_g, time, top_s);
            }
        }
        now = next;
        time = next_s;
    }
    return NAN;
}
