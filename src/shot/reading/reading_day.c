/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Replays the day's plan in rooms that lose haze at other rates, and the decay of haze to which
 * none is added. */
#include "shot/reading/reading_day.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Rooms that lose haze at given rates. Points into itself: must not be moved. */
typedef struct {
    vs_scene scene;
    vs_scene_room *room;
    vs_scene_opening *opening;
    vs_dwell dwell;
    vs_dwell_planner planner;
} reading_rooms;

void vs_room_loss_to_rates(const vs_scene_room *room, double floor_loss_per_s, double loss_per_s,
                           double *air_change_per_s, double *deposition_per_s, bool *exact) {
    double ways = loss_per_s - floor_loss_per_s;
    *deposition_per_s = fmax(0, fmin(room->deposition_per_s, ways));
    *air_change_per_s = fmax(0, ways - *deposition_per_s);
    if (exact) {
        *exact = ways >= 0;
    }
}

/* Puts all of a room's own losses into its air changes: only their sum is fitted. */
static void set_losses(reading_rooms *r, const double *own_per_s) {
    for (size_t i = 0; i < r->scene.room_count; i++) {
        vs_scene_room *room = &r->room[i];
        double purge = fmax(0, room->purge_air_change_per_s - room->air_change_per_s);
        bool purges = purge > 0;
        room->air_change_per_s = own_per_s[i];
        room->deposition_per_s = 0;
        room->purge_air_change_per_s = purges ? own_per_s[i] + purge : (double)NAN;
    }
    for (size_t i = 0; i < r->scene.opening_count; i++) {
        if (r->opening[i].room[1] == VS_OUTSIDE) {
            r->opening[i].exchange_m3_per_s = 0;
        }
    }
    r->scene.fluid.measured = true;
    r->scene.fluid.settling_m_per_s = 0;
    r->scene.fluid.half_life_s = INFINITY;
}

/* own_per_s  one per room, without doors, 0 or over. Free it in any case. */
static vs_status reading_rooms_init(reading_rooms *r, const vs_reading_day *day,
                                    const double *own_per_s) {
    const reading_rooms blank = {.scene = *day->scene};
    size_t rooms = day->scene->room_count, openings = day->scene->opening_count;
    *r = blank;
    r->room = calloc(rooms + 1, sizeof *r->room);
    r->opening = calloc(openings + 1, sizeof *r->opening);
    if (!r->room || !r->opening) {
        return VS_ERR_MEMORY;
    }
    memcpy(r->room, day->scene->room, rooms * sizeof *r->room);
    if (openings > 0) {
        memcpy(r->opening, day->scene->opening, openings * sizeof *r->opening);
    }
    r->scene.room = r->room;
    r->scene.opening = r->opening;
    r->scene.shot_count = 0; /* the plan is fixed: nothing is controlled */
    set_losses(r, own_per_s);
    vs_dwell_planner planner;
    vs_status status = vs_dwell_planner_init(&planner, &r->scene, day->haze, NULL, NULL, &r->dwell);
    r->planner = planner;
    return status;
}

static void reading_rooms_free(reading_rooms *r) {
    vs_dwell_planner_free(&r->planner);
    vs_dwell_free(&r->dwell);
    free(r->room);
    free(r->opening);
    r->room = NULL;
    r->opening = NULL;
}

/* Progress through the points in time. */
typedef struct {
    const vs_reading_day *day;
    vs_dwell_planner *planner;
    double now_s;
    size_t next; /* next point to fill in */
    double *extinction_per_m;
} walk;

static void tell_point(walk *w) {
    size_t room = w->day->point[w->next].room;
    w->extinction_per_m[w->next++] = w->planner->state[room] / w->planner->volume_m3[room] *
                                     w->planner->out->extinction_m2_per_g;
}

static void pass_to(walk *w, const vs_rooms_model *model, double output_g_per_s, double to_s) {
    const vs_reading_day *d = w->day;
    while (w->next < d->count && d->point[w->next].at_s <= to_s) {
        double at_s = d->point[w->next].at_s;
        if (at_s > w->now_s) {
            vs_rooms_advance(model, output_g_per_s, at_s - w->now_s, w->planner->state);
            w->now_s = at_s;
        }
        tell_point(w);
    }
    if (to_s > w->now_s && w->next < d->count) {
        vs_rooms_advance(model, output_g_per_s, to_s - w->now_s, w->planner->state);
        w->now_s = to_s;
    }
}

static void play(walk *w) {
    const vs_dwell *plan = w->day->plan;
    vs_dwell_planner *p = w->planner;
    for (size_t i = 0; i < plan->event_count; i++) {
        const vs_dwell_event *e = &plan->event[i];
        bool blows = e->act == VS_DWELL_RUN || e->act == VS_DWELL_BURST;
        if (blows || e->act == VS_DWELL_PURGE) {
            pass_to(w, p->closed, 0, e->at_s);
            pass_to(w, e->act == VS_DWELL_PURGE ? p->purged : p->closed,
                    blows ? p->output_g_per_s : 0, e->at_s + e->length_s);
        }
    }
    if (w->day->count > 0) {
        pass_to(w, p->closed, 0, w->day->point[w->day->count - 1].at_s);
    }
}

vs_status vs_reading_replay(const vs_reading_day *day, const double *own_per_s,
                            double *extinction_per_m) {
    reading_rooms rooms;
    vs_status status = reading_rooms_init(&rooms, day, own_per_s);
    if (status == VS_OK) {
        walk w = {day, &rooms.planner, 0, 0, extinction_per_m};
        play(&w);
    }
    reading_rooms_free(&rooms);
    return status;
}

/* Unmixed haze at the first point, relative to the haze in its room, as in the plan at that time.
 * Leaves the rooms clear. */
static double unmixed_share(const vs_reading_day *day, vs_dwell_planner *p) {
    size_t hazer = day->scene->hazer.room, n = day->scene->room_count;
    vs_reading_day first = *day;
    double ignored, share = 0;
    first.count = 1;
    if (day->plan && hazer != VS_NONE) {
        walk w = {&first, p, 0, 0, &ignored};
        play(&w);
        share = p->state[hazer] > 0 ? p->state[n] / p->state[hazer] : 0;
    }
    memset(p->state, 0, vs_rooms_state_size(n) * sizeof *p->state);
    return share;
}

vs_status vs_reading_decay(const vs_reading_day *day, const double *own_per_s, const size_t *period,
                           const double *start_per_m, double *extinction_per_m) {
    reading_rooms rooms;
    size_t n = day->scene->room_count;
    vs_status status = reading_rooms_init(&rooms, day, own_per_s);
    walk w = {day, &rooms.planner, 0, 0, extinction_per_m};
    double share = status == VS_OK ? unmixed_share(day, &rooms.planner) : 0;
    while (status == VS_OK && w.next < day->count) {
        if (w.next == 0 || period[w.next] != period[w.next - 1]) {
            for (size_t i = 0; i < n; i++) {
                rooms.planner.state[i] =
                    vs_dwell_mass_g(&rooms.planner, i, start_per_m[period[w.next] * n + i]);
            }
            rooms.planner.state[n] =
                w.next == 0 && share > 0 ? share * rooms.planner.state[day->scene->hazer.room] : 0;
            w.now_s = day->point[w.next].at_s;
        }
        double at_s = day->point[w.next].at_s;
        vs_rooms_advance(rooms.planner.closed, 0, at_s - w.now_s, rooms.planner.state);
        w.now_s = at_s;
        tell_point(&w);
    }
    reading_rooms_free(&rooms);
    return status;
}
