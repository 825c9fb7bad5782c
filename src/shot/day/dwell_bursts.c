/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See dwell_bursts.h. Steps of equal length are computed once. */
#include "shot/day/dwell_bursts.h"

#include <math.h>

#define SAME_STEP_S    1e-9 /* [s] lengths this close count as equal: far below what matters */
#define SAMPLES_MAX    12   /* samples in one gap: our choice */
#define SAMPLE_EVERY_S 20.0 /* [s] between samples of a candidate's density: our choice */

/* Distinct steps of a series of bursts: the gap, the burst, and the first and last gap. */
#define STEPS_MAX 6

typedef struct {
    double output_g_per_s[STEPS_MAX], length_s[STEPS_MAX];
    vs_rooms_step step[STEPS_MAX];
    size_t count, next;
} step_store;

static const vs_rooms_step *step_of(step_store *store, const vs_rooms_trace *trace,
                                    double output_g_per_s, double length_s) {
    for (size_t i = 0; i < store->count; i++) {
        if (fabs(store->length_s[i] - length_s) < SAME_STEP_S &&
            !(store->output_g_per_s[i] < output_g_per_s) &&
            !(store->output_g_per_s[i] > output_g_per_s)) {
            return &store->step[i];
        }
    }
    size_t place = store->next;
    store->next = (place + 1) % STEPS_MAX;
    store->count += store->count < STEPS_MAX;
    store->output_g_per_s[place] = output_g_per_s;
    store->length_s[place] = length_s;
    vs_rooms_step_make(trace, output_g_per_s, length_s, &store->step[place]);
    return &store->step[place];
}

/* Follows one step; samples the density within it if `w` is given. */
static void follow_output(const vs_hold *h, step_store *store, double output_g_per_s,
                          double length_s, vs_hold_watch *w, vs_rooms_trace *trace) {
    if (!(length_s > 0)) {
        return;
    }
    int samples = w ? (int)fmin(ceil(length_s / SAMPLE_EVERY_S), SAMPLES_MAX) : 1;
    const vs_rooms_step *step = step_of(store, trace, output_g_per_s, length_s / samples);
    for (int i = 0; i < samples; i++) {
        vs_rooms_trace_take(trace, step);
        if (w) {
            w->worst = fmax(w->worst, fabs(vs_rooms_trace_mass_g(trace) / h->aim_g - 1));
        }
    }
}

double vs_hold_follow(const vs_hold *h, const vs_rooms_trace *from, const vs_dwell_bursts *s,
                      vs_hold_watch *w, vs_rooms_trace *end) {
    step_store store;
    double before = from->exposure_g_s, now_s = 0;
    store.count = store.next = 0;
    *end = *from;
    for (size_t i = 0; i < s->count && s->burst_s > 0; i++) {
        double start_s = vs_dwell_burst_start_s(s, i);
        follow_output(h, &store, 0, start_s - now_s, w, end);
        follow_output(h, &store, h->planner->output_g_per_s, s->burst_s, w, end);
        now_s = start_s + s->burst_s;
        if (w && w->worst >= w->give_up) {
            return NAN;
        }
    }
    follow_output(h, &store, 0, s->length_s - now_s, w, end);
    return (end->exposure_g_s - before) / s->length_s;
}
