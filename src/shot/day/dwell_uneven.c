/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bursts at uneven times, by two methods. With different lengths: the later effect of each is known
 * (its response, by the rooms' decays), so the lengths that keep the density at the target solve a
 * least-squares problem with bounds. It is solved by coordinate descent, slot by slot (Hildreth
 * 1957), then rounded to what the hazer can do, the remainder carried to the next slot. */
#include <math.h>

#include "shot/day/dwell_uneven.h"
#include "veilstop/base/root.h"

#define SLOTS_MAX        (VS_DWELL_BURSTS_MAX - 8) /* bursts; the rest is left for even ones */
#define TAIL_SLOTS       8   /* planned beyond the last burst, so that it anticipates: our choice */
#define SAMPLES_A_SLOT   4   /* our choice */
#define SWEEPS           60  /* our choice: lengths settle within a second well before */
#define SHORT_SHARE      0.5 /* [1] of the shortest burst, from which a burst is rounded up */
#define SLOT_SLACK       1e-9
#define PEAK_HORIZON_S   86400.0 /* [s] as in dwell_fill.c */
#define WHEN_TOLERANCE_S 1e-6    /* [s] far finer than the second to which bursts are given */
#define SLOTS_ALL        (SLOTS_MAX + TAIL_SLOTS)
#define SAMPLES_ALL      (SLOTS_ALL * SAMPLES_A_SLOT)

/* The density is sampled SAMPLES_A_SLOT times a slot, from the start of the first. */
typedef struct {
    const vs_hold *h;
    double first_s, every_s, longest_s; /* start of the first slot; longest burst in one */
    size_t slots, samples;
    double off_g[SAMPLES_ALL];  /* density less the target, with the present bursts */
    double answer[SAMPLES_ALL]; /* [g/s] later effect of a second of burst at the start of a slot */
    double square[SLOTS_ALL];   /* sum of squares of a slot's response */
    double burst_s[SLOTS_ALL];
} slot_plan;

/* The room without bursts, at each sample. */
static void sample_ahead(slot_plan *s, const vs_rooms_trace *from) {
    vs_rooms_trace trace = *from;
    vs_rooms_step step;
    vs_rooms_trace_advance(&trace, 0, s->first_s);
    vs_rooms_step_make(&trace, 0, s->every_s / SAMPLES_A_SLOT, &step);
    for (size_t i = 0; i < s->samples; i++) {
        vs_rooms_trace_take(&trace, &step);
        s->off_g[i] = vs_rooms_trace_mass_g(&trace) - s->h->aim_g;
    }
}

/* The response of a clear room to one second of burst. */
static void find_answer(slot_plan *s, const vs_rooms_trace *from) {
    vs_rooms_trace trace = *from;
    double steady_s = s->h->steady_duty * s->every_s, each_s = s->every_s / SAMPLES_A_SLOT;
    double burst_s = fmin(fmax(steady_s, s->h->burst_min_s), s->longest_s), now_s = 0;
    trace.unmixed_g = 0;
    for (size_t j = 0; j < trace.count; j++) {
        trace.part_g[j] = 0;
    }
    for (size_t i = 0; i < s->samples; i++) {
        double on_s = fmin(fmax(burst_s - now_s, 0), each_s);
        vs_rooms_trace_advance(&trace, s->h->planner->output_g_per_s, on_s);
        vs_rooms_trace_advance(&trace, 0, each_s - on_s);
        now_s += each_s;
        s->answer[i] = vs_rooms_trace_mass_g(&trace) / burst_s;
    }
    double sum = 0;
    for (size_t k = s->slots; k-- > 0;) { /* later slots have fewer samples after them */
        for (size_t i = (s->slots - 1 - k) * SAMPLES_A_SLOT; i < (s->slots - k) * SAMPLES_A_SLOT;
             i++) {
            sum += s->answer[i] * s->answer[i];
        }
        s->square[k] = sum;
    }
}

static void fit_slot(slot_plan *s, size_t k) {
    double *off = s->off_g + k * SAMPLES_A_SLOT, dot = 0;
    size_t seen = s->samples - k * SAMPLES_A_SLOT;
    for (size_t i = 0; i < seen; i++) {
        dot += off[i] * s->answer[i];
    }
    if (!(s->square[k] > 0)) {
        return;
    }
    double burst_s = fmin(fmax(s->burst_s[k] - dot / s->square[k], 0), s->longest_s);
    double change_s = burst_s - s->burst_s[k];
    for (size_t i = 0; i < seen; i++) {
        off[i] += change_s * s->answer[i];
    }
    s->burst_s[k] = burst_s;
}

/* Rounds to lengths the hazer can do; the remainder goes to the next slot. */
static void round_bursts(slot_plan *s) {
    double shortest_s = s->h->burst_min_s, carried_s = 0;
    for (size_t k = 0; k < s->slots; k++) {
        double wanted_s = s->burst_s[k] + carried_s;
        bool makes = wanted_s > SHORT_SHARE * shortest_s && wanted_s > SLOT_SLACK;
        s->burst_s[k] = makes ? fmin(fmax(wanted_s, shortest_s), s->longest_s) : 0;
        carried_s = wanted_s - s->burst_s[k];
    }
}

/* Appends a burst as a series of one that lasts until the next; the first also covers the time
 * before it. */
static void add_burst(vs_dwell_shot *out, double at_s, double burst_s) {
    vs_dwell_bursts *now = &out->bursts[out->bursts_count];
    if (now->burst_s > 0) {
        now->length_s = at_s - now->from_s;
        now->every_s = now->length_s - now->first_s;
        now = &out->bursts[++out->bursts_count];
        *now = (vs_dwell_bursts){.from_s = at_s, .group = 1};
    } else {
        now->first_s = at_s;
    }
    now->burst_s = burst_s;
    now->count = 1;
}

static void begin_bursts(vs_dwell_shot *out) {
    out->bursts_count = 0;
    out->bursts[0] = (vs_dwell_bursts){.group = 1};
}

static void end_bursts(vs_dwell_shot *out, double covered_s) {
    vs_dwell_bursts *now = &out->bursts[out->bursts_count++];
    now->length_s = covered_s - now->from_s;
    now->every_s = now->burst_s > 0 ? now->length_s - now->first_s : 0;
}

static double strays_by(const vs_hold *h, const vs_rooms_trace *from, const vs_dwell_shot *out,
                        vs_rooms_trace *end) {
    vs_hold_watch w = {0, INFINITY};
    vs_rooms_trace now = *from;
    for (size_t i = 0; i < out->bursts_count; i++) {
        vs_hold_follow(h, &now, &out->bursts[i], &w, end);
        now = *end;
    }
    return w.worst;
}

double vs_hold_by_slots(const vs_hold *h, const vs_rooms_trace *from, double length_s,
                        double every_s, vs_dwell_shot *out, double *strays, vs_rooms_trace *end) {
    slot_plan s = {.h = h, .first_s = h->roll_s, .every_s = every_s};
    double window_s = h->cycle_s > 0 ? h->cycle_s - h->roll_s : every_s;
    double fit = floor(length_s / every_s + SLOT_SLACK);
    s.longest_s = fmin(h->burst_max_s, window_s);
    *strays = INFINITY;
    if (!(fit >= 1) || s.longest_s < h->burst_min_s) {
        return 0;
    }
    size_t used = (size_t)fmin(fit, SLOTS_MAX);
    s.slots = (size_t)fmin(fit, (double)used + TAIL_SLOTS);
    s.samples = s.slots * SAMPLES_A_SLOT;
    sample_ahead(&s, from);
    find_answer(&s, from);
    for (int sweep = 0; sweep < SWEEPS; sweep++) {
        for (size_t k = 0; k < s.slots; k++) {
            fit_slot(&s, k);
        }
    }
    round_bursts(&s);
    double covered_s = fit > (double)used ? (double)used * every_s : length_s;
    begin_bursts(out);
    for (size_t k = 0; k < used; k++) {
        if (s.burst_s[k] > 0) {
            add_burst(out, s.first_s + (double)k * s.every_s, s.burst_s[k]);
        }
    }
    end_bursts(out, covered_s);
    *strays = strays_by(h, from, out, end);
    return covered_s;
}

/* ---- the shortest bursts, as soon as one fits ---- */

/* The next burst, after a gap. */
typedef struct {
    const vs_hold *h;
    const vs_rooms_trace *now;
    double burst_s, most_g;
} next_burst;

static double peak_over_most_g(double after_s, void *context) {
    const next_burst *b = context;
    vs_rooms_trace trace = *b->now;
    vs_rooms_trace_advance(&trace, 0, after_s);
    vs_rooms_trace_advance(&trace, b->h->planner->output_g_per_s, b->burst_s);
    return vs_rooms_peak_g(&trace, PEAK_HORIZON_S, NULL) - b->most_g;
}

/* The first time in the shot, not before the one given, at which a burst may begin. */
static double allowed_s(const vs_hold *h, double at_s, double burst_s) {
    if (!(h->cycle_s > 0)) {
        return at_s;
    }
    double cycle = floor(at_s / h->cycle_s), into_s = at_s - cycle * h->cycle_s;
    if (into_s + burst_s > h->cycle_s) {
        cycle += 1;
        into_s = 0;
    }
    return cycle * h->cycle_s + fmax(into_s, h->roll_s);
}

/* When the next burst begins; past the end if none is needed. */
static double next_start_s(const next_burst *b, double now_s, double length_s) {
    next_burst copy = *b;
    double after_s = 0, left_s = length_s - now_s;
    if (peak_over_most_g(0, &copy) > 0 &&
        vs_root_brent(peak_over_most_g, &copy, 0, left_s, 0, WHEN_TOLERANCE_S, &after_s) != VS_OK) {
        return INFINITY;
    }
    return allowed_s(b->h, now_s + ceil(after_s), b->burst_s);
}

double vs_hold_by_peaks(const vs_hold *h, const vs_rooms_trace *from, double length_s, double over,
                        vs_dwell_shot *out, double *strays, vs_rooms_trace *end) {
    vs_rooms_trace now = *from;
    next_burst b = {h, &now, h->burst_min_s, (1 + over) * h->aim_g};
    double now_s = 0, covered_s = length_s;
    size_t bursts = 0;
    *strays = INFINITY;
    if (!(b.burst_s > 0) || (h->cycle_s > 0 && h->cycle_s - h->roll_s < b.burst_s)) {
        return 0;
    }
    begin_bursts(out);
    for (;;) {
        double at_s = next_start_s(&b, now_s, length_s);
        if (!(at_s + b.burst_s <= length_s)) {
            break;
        }
        if (bursts == SLOTS_MAX) {
            covered_s = h->cycle_s > 0 ? floor(at_s / h->cycle_s) * h->cycle_s : at_s;
            break;
        }
        add_burst(out, at_s, b.burst_s);
        bursts++;
        vs_rooms_trace_advance(&now, 0, at_s - now_s);
        vs_rooms_trace_advance(&now, h->planner->output_g_per_s, b.burst_s);
        now_s = at_s + b.burst_s;
    }
    if (covered_s < now_s) { /* a cycle that already holds a burst */
        return 0;
    }
    end_bursts(out, covered_s);
    *strays = strays_by(h, from, out, end);
    return covered_s;
}
