/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recording the day as it passes: the curve, the events, the extremes. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "shot/day/dwell_log.h"
#include "shot/day/dwell_plan.h"

#define SAMPLE_S 60.0 /* [s] between samples of the curve: our choice */
#define WATCH_S  15.0 /* [s] between samples for the extremes: our choice */
#define NEAR_S   1e-6 /* [s] times this close count as equal */
/* [1] of a level: with a sample this close, a maximum in the minute before may exceed it */
#define NEARLY 0.9

/* Makes room for one more item of `size` bytes in a growable array. */
static bool grow(void **array, size_t count, size_t *room, size_t size) {
    void *list = vs_growable_reserve(*array, count, room, size);
    *array = list ? list : *array;
    return list;
}

/* Makes room for one more sample. A growable array begins with as many items as fill some bytes, so
 * the three have room for different counts at first: the least of them counts. */
static bool grow_samples(vs_dwell *out) {
    size_t times_room = out->sample_size, ways_room = times_room, densities_room = times_room;
    void *times = out->sample_s, *densities = out->sample_g_per_m3, *ways = out->way;
    bool grown = grow(&times, out->sample_count, &times_room, sizeof *out->sample_s);
    grown = grown && grow(&densities, out->sample_count, &densities_room,
                          out->room_count * sizeof *out->sample_g_per_m3);
    grown = grown && grow(&ways, out->sample_count, &ways_room, sizeof *out->way);
    out->sample_s = times;
    out->sample_g_per_m3 = densities;
    out->way = ways;
    if (grown) {
        size_t least = times_room < densities_room ? times_room : densities_room;
        out->sample_size = least < ways_room ? least : ways_room;
    }
    return grown;
}

/* model, output_g_per_s  from now on */
static vs_status book_sample(vs_dwell_planner *p, const vs_rooms_model *model,
                             double output_g_per_s) {
    vs_dwell *out = p->out;
    size_t n = out->room_count;
    vs_dwell_way way = {p->state[n], output_g_per_s, p->can_purge && model == p->purged, p->air};
    if (out->sample_count > 0 && p->now_s - out->sample_s[out->sample_count - 1] < NEAR_S) {
        out->way[out->sample_count - 1] = way;
        return VS_OK;
    }
    if (!grow_samples(out)) {
        return VS_ERR_MEMORY;
    }
    out->sample_s[out->sample_count] = p->now_s;
    out->way[out->sample_count] = way;
    for (size_t i = 0; i < n; i++) {
        out->sample_g_per_m3[out->sample_count * n + i] = p->state[i] / p->volume_m3[i];
    }
    out->sample_count++;
    return VS_OK;
}

static void watch(vs_dwell_planner *p) {
    for (size_t i = 0; i < p->out->room_count; i++) {
        double density = p->state[i] / p->volume_m3[i];
        if (density > p->out->room[i].peak_g_per_m3) {
            p->out->room[i].peak_g_per_m3 = density;
            p->out->room[i].peak_at_s = p->now_s;
        }
    }
    vs_dwell_shot *shot = p->watched;
    if (shot && shot->target_extinction_per_m > 0) {
        double ratio =
            p->state[shot->room] / vs_dwell_mass_g(p, shot->room, shot->target_extinction_per_m);
        shot->lowest_ratio = fmin(shot->lowest_ratio, ratio);
        shot->highest_ratio = fmax(shot->highest_ratio, ratio);
    }
}

static double next_mark(double now_s) {
    return (floor(now_s / WATCH_S + NEAR_S) + 1) * WATCH_S;
}

vs_status vs_dwell_pass(vs_dwell_planner *p, const vs_rooms_model *model, double output_g_per_s,
                        double length_s) {
    double end_s = p->now_s + length_s;
    if (p->rehearses) {
        vs_rooms_advance(model, output_g_per_s, length_s, p->state);
        p->now_s = end_s;
        return VS_OK;
    }
    double start_s = p->now_s;
    vs_status status = book_sample(p, model, output_g_per_s);
    watch(p);
    vs_dwell_copy(p, p->state, p->begin);
    while (status == VS_OK && p->now_s < end_s) {
        double to_s = fmin(next_mark(p->now_s), end_s);
        /* always from the beginning in one step, so that the result does not depend on the
         * sampling */
        vs_dwell_copy(p, p->begin, p->state);
        vs_rooms_advance(model, output_g_per_s, to_s < end_s ? to_s - start_s : length_s, p->state);
        p->now_s = to_s;
        watch(p);
        bool on_minute = fabs(remainder(to_s, SAMPLE_S)) < NEAR_S;
        if (on_minute || to_s >= end_s) {
            status = book_sample(p, model, output_g_per_s);
        }
    }
    return status;
}

vs_status vs_dwell_book(vs_dwell_planner *p, vs_dwell_do act, size_t shot, double length_s) {
    vs_dwell *out = p->out;
    void *events = out->event;
    if (p->rehearses) {
        return VS_OK;
    }
    bool grown = grow(&events, out->event_count, &out->event_size, sizeof *out->event);
    out->event = events;
    if (!grown) {
        return VS_ERR_MEMORY;
    }
    out->event[out->event_count++] = (vs_dwell_event){p->now_s, act, shot, length_s};
    return VS_OK;
}

vs_status vs_dwell_blow(vs_dwell_planner *p, vs_dwell_do act, size_t shot, double length_s) {
    vs_status status = VS_OK;
    if (p->ready_s > p->now_s) {
        status = vs_dwell_pass(p, p->closed, 0, p->ready_s - p->now_s);
    }
    if (status == VS_OK) {
        status = vs_dwell_book(p, act, shot, length_s);
    }
    if (status == VS_OK) {
        status = vs_dwell_pass(p, p->closed, p->output_g_per_s, length_s);
        p->out->fluid_ml += p->scene->hazer.fluid_ml_per_s * length_s;
    }
    return status;
}

/* ---- between the samples ---- */

/* When a room first reaches a mass between two samples; NaN if it does not. */
static double reaches_between_s(const vs_dwell *dwell, size_t from, size_t room, double mass_g) {
    const vs_dwell_way *way = &dwell->way[from];
    size_t n = dwell->room_count;
    double state[2 * VS_ROOMS_MAX + 6] = {0};
    for (size_t i = 0; i < n; i++) {
        state[i] = dwell->sample_g_per_m3[from * n + i] * dwell->room[i].volume_m3;
    }
    state[n] = way->unmixed_g;
    vs_rooms_trace trace;
    const vs_dwell_air *air = &dwell->air[way->air];
    vs_rooms_trace_begin(way->purged ? &air->purging : &air->closed, state, room, &trace);
    return dwell->sample_s[from] +
           vs_rooms_rise_s(&trace, way->output_g_per_s, mass_g,
                           dwell->sample_s[from + 1] - dwell->sample_s[from]);
}

double vs_dwell_first_at_s(const vs_dwell *dwell, size_t room, double extinction_per_m) {
    double level = extinction_per_m / dwell->extinction_m2_per_g;
    const double *at = dwell->sample_g_per_m3 + room;
    size_t n = dwell->room_count;
    double mass_g = level * dwell->room[room].volume_m3;
    for (size_t i = 0; i < dwell->sample_count; i++) {
        if (at[i * n] >= level) {
            return dwell->sample_s[i];
        }
        bool near = i + 1 < dwell->sample_count && at[(i + 1) * n] >= NEARLY * level;
        double when_s = near ? reaches_between_s(dwell, i, room, mass_g) : (double)NAN;
        if (!isnan(when_s)) {
            return when_s;
        }
    }
    return NAN;
}
