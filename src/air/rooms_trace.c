/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. Each part decays at its own rate while new haze mixes in: the closed forms of
 * decays.h, as in rooms.c, for one room alone. */
#include "veilstop/air/rooms_trace.h"

#include <math.h>
#include <stdbool.h>

#include "air/decays.h"
#include "air/kernel_parts.h"

#define SCAN_FIRST_S 0.5   /* [s] first step of a scan: no event is shorter */
#define SCAN_GROWTH  1.12  /* [1] each step over the one before: our choice */
#define CHANGE_STEPS 120   /* at most in a search; every third halves its bracket */
#define ROUNDING     1e-13 /* [1] of a time: a bracket this small counts as a point */

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
    for (size_t j = n; j % LANES != 0; j++) { /* padded to whole vectors */
        trace->rate_per_s[j] = trace->part_g[j] = trace->gain[j] = 0;
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
    step->keep_unmixed = exp(-mu * t);
    vs_parts_step(trace, step->keep_unmixed, out, t, step);
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

/* ---- a later moment, at a constant output ---- */

/* The room at that moment. */
typedef struct {
    double mass_g, slope_g_per_s;
    double most_g; /* bound on every later mass with the hazer off */
} moment;

static moment moment_at(const vs_rooms_trace *trace, double output_g_per_s, double t) {
    double mu = trace->mixing_per_s, u = trace->unmixed_g, out = output_g_per_s;
    double keep = exp(-mu * t);
    double later_u = mu > 0 ? u * keep + out * decay_two(mu, 0, t) : 0;
    vs_parts_then then = vs_parts_at(trace, keep, out, t);
    double flow = mu > 0 ? mu * later_u : out;
    moment m = {then.mass_g, then.gain * flow - then.lost_g_per_s,
                then.most_g + then.best_gain * later_u};
    return m;
}

/* Which function's sign change is sought. */
typedef enum { OF_SLOPE, OF_MASS } probe;

static double value_of(const moment *m, probe what, double level) {
    return what == OF_SLOPE ? m->slope_g_per_s : m->mass_g - level;
}

/* The time, between two others, at which the function changes sign: the end of a bracket shrunk to
 * rounding. False position with the Illinois modification (Dowell & Jarratt 1971, BIT 11, 168),
 * every third step a bisection. */
static double find_change(const vs_rooms_trace *trace, double output_g_per_s, probe what,
                          double level, double low_s, double high_s) {
    moment first = moment_at(trace, output_g_per_s, low_s),
           last = moment_at(trace, output_g_per_s, high_s);
    double at_low = value_of(&first, what, level), at_high = value_of(&last, what, level);
    bool positive_first = at_low > 0;
    for (int i = 0; i < CHANGE_STEPS && high_s - low_s > ROUNDING * high_s; i++) {
        double step_s = (high_s - low_s) * at_low / (at_low - at_high), edge_s = ROUNDING * high_s;
        double middle_s = 0.5 * (low_s + high_s);
        double near_s = fmin(fmax(low_s + step_s, low_s + edge_s / 2), high_s - edge_s / 2);
        double at_s = i % 3 < 2 && isfinite(step_s) ? near_s : middle_s;
        moment m = moment_at(trace, output_g_per_s, at_s);
        double value = value_of(&m, what, level);
        if ((value > 0) == positive_first) {
            low_s = at_s;
            at_low = value;
            at_high *= 0.5;
        } else {
            high_s = at_s;
            at_high = value;
            at_low *= 0.5;
        }
    }
    return high_s;
}

double vs_rooms_peak_g(const vs_rooms_trace *trace, double horizon_s, double *after_s) {
    moment now = moment_at(trace, 0, 0);
    double best_g = now.mass_g, best_s = 0, step_s = SCAN_FIRST_S;
    for (double time = 0; time < horizon_s && now.most_g > best_g; step_s *= SCAN_GROWTH) {
        double next_s = fmin(time + step_s, horizon_s);
        moment next = moment_at(trace, 0, next_s);
        /* A maximum lies inside the step, or at its end where the scan stops. */
        double top_s = next_s, top_g = next.mass_g;
        if (now.slope_g_per_s > 0 && !(next.slope_g_per_s > 0)) {
            top_s = find_change(trace, 0, OF_SLOPE, 0, time, next_s);
            top_g = moment_at(trace, 0, top_s).mass_g;
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
    moment now = moment_at(trace, 0, 0);
    double found_s = now.mass_g <= mass_g ? 0 : (double)NAN, step_s = SCAN_FIRST_S;
    for (double time = 0; time < horizon_s && now.most_g > mass_g; step_s *= SCAN_GROWTH) {
        double next_s = fmin(time + step_s, horizon_s);
        moment next = moment_at(trace, 0, next_s);
        bool above = now.mass_g > mass_g, above_after = next.mass_g > mass_g;
        if (!above && above_after) {
            found_s = NAN; /* it rises again */
        } else if (above && !above_after) {
            found_s = find_change(trace, 0, OF_MASS, mass_g, time, next_s);
        }
        now = next;
        time = next_s;
    }
    return found_s;
}

double vs_rooms_rise_s(const vs_rooms_trace *trace, double output_g_per_s, double mass_g,
                       double horizon_s) {
    moment now = moment_at(trace, output_g_per_s, 0);
    double step_s = SCAN_FIRST_S;
    if (now.mass_g >= mass_g) {
        return 0;
    }
    for (double time = 0; time < horizon_s; step_s *= SCAN_GROWTH) {
        if (output_g_per_s <= 0 && now.most_g < mass_g) {
            return NAN;
        }
        double next_s = fmin(time + step_s, horizon_s);
        moment next = moment_at(trace, output_g_per_s, next_s);
        if (!(next.mass_g < mass_g)) {
            return find_change(trace, output_g_per_s, OF_MASS, mass_g, time, next_s);
        }
        if (now.slope_g_per_s > 0 && !(next.slope_g_per_s > 0)) { /* a maximum between the two */
            double top_s = find_change(trace, output_g_per_s, OF_SLOPE, 0, time, next_s);
            if (moment_at(trace, output_g_per_s, top_s).mass_g >= mass_g) {
                return find_change(trace, output_g_per_s, OF_MASS, mass_g, time, top_s);
            }
        }
        now = next;
        time = next_s;
    }
    return NAN;
}
