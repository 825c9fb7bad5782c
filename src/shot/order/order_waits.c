/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The wait from each shot to each other, by the planner of the day itself. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/day/dwell_fill.h"
#include "shot/day/dwell_plan.h"
#include "veilstop/shot/order.h"

#define TWIN_WITHIN VS_DWELL_START_WITHIN /* [1] a shot may start this far off its density anyway */

/* A planner between shots, and the rooms as a shot leaves them. */
typedef struct {
    vs_dwell_planner planner;
    vs_dwell dwell;
    double *left; /* state */
} waits_work;

/* Puts the planner at minute 0 with the rooms in a state (NULL: clear) and the hazer warm or not.
 */
static void rewind_to(waits_work *w, const double *state, bool warm) {
    vs_dwell_planner *p = &w->planner;
    size_t size = vs_rooms_state_size(p->closed->count);
    for (size_t i = 0; i < size; i++) {
        p->state[i] = state ? state[i] : 0;
    }
    p->now_s = 0;
    p->ready_s = warm ? 0 : p->scene->hazer.warm_up_s;
    w->dwell.event_count = w->dwell.sample_count = 0;
}

/* Reaches a shot from the planner's present state; how long that takes. */
static vs_status reach_shot(waits_work *w, size_t shot, double *wait_s) {
    vs_dwell_shot trial = w->dwell.shot[shot];
    vs_status status = vs_dwell_fill(&w->planner, &trial);
    *wait_s = w->planner.now_s;
    return status;
}

/* Plays a shot with the constant output that ends it at its density, which is linear in the
 * output. */
static void hold_steady(waits_work *w, size_t shot) {
    vs_dwell_planner *p = &w->planner;
    const vs_dwell_shot *s = &w->dwell.shot[shot];
    double length_s = p->scene->shot[shot].length_s, output_g_per_s = 0;
    double target_g = vs_dwell_mass_g(p, s->room, s->target_extinction_per_m);
    vs_dwell_copy(p, p->state, p->trial);
    vs_rooms_advance(p->closed, 0, length_s, p->trial);
    double without_g = p->trial[s->room];
    if (p->output_g_per_s > 0 && without_g < target_g) {
        vs_dwell_copy(p, p->state, p->trial);
        vs_rooms_advance(p->closed, p->output_g_per_s, length_s, p->trial);
        double gain_g = p->trial[s->room] - without_g;
        double share = gain_g > 0 ? (target_g - without_g) / gain_g : 0;
        output_g_per_s = fmin(share, 1) * p->output_g_per_s;
    }
    vs_rooms_advance(p->closed, output_g_per_s, length_s, p->state);
    vs_dwell_copy(p, p->state, w->left);
}

static bool any_haze(const vs_dwell *dwell) {
    for (size_t i = 0; i < dwell->shot_count; i++) {
        if (dwell->shot[i].target_extinction_per_m > 0) {
            return true;
        }
    }
    return false;
}

/* The first shot that leaves the rooms, or finds them, as this one does: same room, length,
 * openings and density; among many shots nearly the same density will do. */
static size_t twin_of(const waits_work *w, size_t shot) {
    const vs_dwell_shot *s = &w->dwell.shot[shot];
    bool many = w->dwell.shot_count > VS_ORDER_TABLE_MAX;
    double within = many ? TWIN_WITHIN * s->target_extinction_per_m : 0;
    for (size_t i = 0; i < shot; i++) {
        const vs_dwell_shot *t = &w->dwell.shot[i];
        double off = fabs(t->target_extinction_per_m - s->target_extinction_per_m);
        bool as_long =
            many || w->planner.scene->shot[i].length_s == w->planner.scene->shot[shot].length_s;
        bool as_open = vs_dwell_air_of(&w->planner, i) == vs_dwell_air_of(&w->planner, shot);
        if (as_open && t->room == s->room && off <= within && as_long) {
            return i;
        }
    }
    return shot;
}

/* One row: from a shot to every other. */
static vs_status fill_row(waits_work *w, const size_t *twin, size_t i, vs_waits *waits) {
    size_t n = waits->count;
    double *row = waits->between_s + i * n;
    vs_status status = VS_OK;
    for (size_t j = 0; j < n && status == VS_OK; j++) {
        if (twin[j] != j) {
            row[j] = row[twin[j]];
        } else {
            rewind_to(w, w->left, true);
            status = reach_shot(w, j, &row[j]);
        }
    }
    return status;
}

static vs_status fill(waits_work *w, size_t *twin, vs_waits *waits) {
    vs_status status = VS_OK;
    size_t n = waits->count;
    bool warm = !any_haze(&w->dwell);
    for (size_t i = 0; i < n && status == VS_OK; i++) {
        twin[i] = twin_of(w, i);
    }
    for (size_t i = 0; i < n && status == VS_OK; i++) {
        if (twin[i] != i) {
            waits->first_s[i] = waits->first_s[twin[i]];
            memcpy(waits->between_s + i * n, waits->between_s + twin[i] * n,
                   n * sizeof *waits->between_s);
            continue;
        }
        rewind_to(w, NULL, warm);
        status = reach_shot(w, i, &waits->first_s[i]);
        if (status == VS_OK) {
            hold_steady(w, i);
            status = fill_row(w, twin, i, waits);
        }
    }
    return status;
}

vs_status vs_waits_init(vs_waits *waits, const vs_scene *scene, const vs_haze *haze,
                        const double *extinction_per_m, size_t *culprit) {
    const vs_waits blank = {.count = scene->shot_count};
    size_t n = scene->shot_count;
    *waits = blank;
    *culprit = VS_NONE;
    if (n > VS_ORDER_SHOTS_MAX) {
        return VS_ERR_DOMAIN;
    }
    waits_work w;
    vs_status status =
        vs_dwell_planner_init(&w.planner, scene, haze, NULL, extinction_per_m, &w.dwell);
    *culprit = w.dwell.culprit;
    size_t *twin = NULL;
    w.left = NULL;
    if (status == VS_OK) {
        waits->first_s = calloc(n + 1, sizeof *waits->first_s);
        waits->between_s = calloc(n * n + 1, sizeof *waits->between_s);
        w.left = calloc(vs_rooms_state_size(w.planner.closed->count), sizeof *w.left);
        twin = calloc(n + 1, sizeof *twin);
        status = waits->first_s && waits->between_s && w.left && twin ? VS_OK : VS_ERR_MEMORY;
    }
    if (status == VS_OK) {
        status = fill(&w, twin, waits);
    }
    free(w.left);
    free(twin);
    vs_dwell_planner_free(&w.planner);
    vs_dwell_free(&w.dwell);
    if (status != VS_OK) {
        vs_waits_free(waits);
    }
    return status;
}

void vs_waits_free(vs_waits *waits) {
    const vs_waits blank = {0};
    free(waits->first_s);
    free(waits->between_s);
    *waits = blank;
}

double vs_waits_total_s(const vs_waits *waits, const size_t *order) {
    double total_s = waits->count > 0 ? waits->first_s[order[0]] : 0;
    for (size_t i = 1; i < waits->count; i++) {
        total_s += waits->between_s[order[i - 1] * waits->count + order[i]];
    }
    return total_s;
}
