/* The day as it passes: the curve, the events, the extremes. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/dwell_plan.h"

#define SAMPLE_S 60.0 /* [s] between samples of the curve: our choice */
#define WATCH_S  15.0 /* [s] between looks at the extremes: our choice */
#define NEAR_S   1e-6 /* [s] moments this close are one */

void vs_dwell_copy(const vs_dwell_planner *planner, const double *from, double *to) {
    memcpy(to, from, vs_rooms_state_size(planner->closed.count) * sizeof *to);
}

double vs_dwell_mass_g(const vs_dwell_planner *planner, size_t room, double extinction_per_m) {
    return extinction_per_m / planner->out->extinction_m2_per_g * planner->volume_m3[room];
}

/* Makes room for one more of `size` bytes each in a growing array. */
static bool grow(void **array, size_t count, size_t *room, size_t size) {
    if (count < *room) {
        return true;
    }
    size_t larger = *room ? 2 * *room : 256;
    void *grown = realloc(*array, larger * size);
    if (!grown) {
        return false;
    }
    *array = grown;
    *room = larger;
    return true;
}

static vs_status book_sample(vs_dwell_planner *p) {
    vs_dwell *out = p->out;
    size_t n = out->room_count;
    if (out->sample_count > 0 && p->now_s - out->sample_s[out->sample_count - 1] < NEAR_S) {
        return VS_OK;
    }
    size_t room = out->sample_size;
    void *times = out->sample_s, *densities = out->sample_g_per_m3;
    bool grown = grow(&times, out->sample_count, &room, sizeof(double));
    out->sample_s = times;
    room = out->sample_size;
    grown = grown && grow(&densities, out->sample_count, &room, n * sizeof(double));
    out->sample_g_per_m3 = densities;
    if (!grown) {
        return VS_ERR_MEMORY;
    }
    out->sample_size = room;
    out->sample_s[out->sample_count] = p->now_s;
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

vs_status vs_dwell_pass(vs_dwell_planner *p, vs_rooms_model *model, double output_g_per_s,
                        double length_s) {
    double end_s = p->now_s + length_s;
    vs_status status = book_sample(p);
    watch(p);
    while (status == VS_OK && p->now_s < end_s) {
        double to_s = fmin(next_mark(p->now_s), end_s);
        vs_rooms_advance(model, output_g_per_s, to_s - p->now_s, p->state);
        p->now_s = to_s;
        watch(p);
        bool on_minute = fabs(remainder(to_s, SAMPLE_S)) < NEAR_S;
        if (on_minute || to_s >= end_s) {
            status = book_sample(p);
        }
    }
    return status;
}

vs_status vs_dwell_book(vs_dwell_planner *p, vs_dwell_do act, size_t shot, double length_s) {
    vs_dwell *out = p->out;
    void *events = out->event;
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
        status = vs_dwell_pass(p, &p->closed, 0, p->ready_s - p->now_s);
    }
    if (status == VS_OK) {
        status = vs_dwell_book(p, act, shot, length_s);
    }
    if (status == VS_OK) {
        status = vs_dwell_pass(p, &p->closed, p->output_g_per_s, length_s);
        p->out->fluid_ml += p->scene->hazer.fluid_ml_per_s * length_s;
    }
    return status;
}
