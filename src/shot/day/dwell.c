/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's plan from a scene: its shots one after another, then the clearing at the end. */
#include "veilstop/shot/dwell.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/day/dwell_fill.h"
#include "shot/day/dwell_hold.h"
#include "shot/day/dwell_log.h"
#include "shot/day/dwell_plan.h"
#include "shot/day/dwell_rooms.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/held.h"

#define CLEAR_HORIZON_S 604800.0 /* [s] 7 days: what takes longer counts as never clearing */

#define WORD(member, word) [member] = word,
const char *vs_dwell_do_word(vs_dwell_do act) {
    static const char *const words[] = {VS_DWELL_DO_LIST(WORD)};
    return (size_t)act < sizeof words / sizeof words[0] ? words[act] : "unknown";
}

const char *vs_dwell_trouble_word(vs_dwell_trouble trouble) {
    static const char *const words[] = {VS_DWELL_TROUBLE_LIST(WORD)};
    return (size_t)trouble < sizeof words / sizeof words[0] ? words[trouble] : "unknown";
}

/* The hazer is switched on at minute 0, if it is needed at all. */
static vs_status switch_on(vs_dwell_planner *p) {
    for (size_t i = 0; i < p->out->shot_count; i++) {
        if (p->out->shot[i].target_extinction_per_m > 0 && p->scene->hazer.warm_up_s > 0) {
            p->ready_s = p->scene->hazer.warm_up_s;
            return vs_dwell_book(p, VS_DWELL_WARM_UP, VS_NONE, p->ready_s);
        }
    }
    return VS_OK;
}

/* Plans one shot: reach its density, hold it. */
static vs_status shoot(vs_dwell_planner *p, vs_dwell_shot *shot) {
    vs_status status = vs_dwell_fill(p, shot);
    if (status == VS_OK) {
        status = vs_dwell_work_out_hold(p, shot);
    }
    return status == VS_OK ? vs_dwell_play(p, shot) : status;
}

static vs_status play_shots(vs_dwell_planner *p) {
    vs_status status = switch_on(p);
    for (size_t i = 0; i < p->out->shot_count && status == VS_OK; i++) {
        status = shoot(p, &p->out->shot[i]);
    }
    p->out->end_s = p->now_s;
    vs_dwell_set_openings(p, VS_NONE);
    return status;
}

/* Time until every room is clear; NaN if not within the horizon. */
static double clearing_s(const vs_dwell_planner *p, const vs_rooms_model *model) {
    double longest = 0;
    for (size_t i = 0; i < p->out->room_count; i++) {
        double clear_g = vs_dwell_mass_g(p, i, p->out->clear_extinction_per_m);
        vs_rooms_trace trace;
        vs_rooms_trace_begin(model, p->state, i, &trace);
        double fall_s = vs_rooms_fall_s(&trace, clear_g, CLEAR_HORIZON_S);
        if (!(fall_s <= longest)) {
            longest = fall_s;
        }
        if (isnan(longest)) {
            return longest;
        }
    }
    return longest;
}

static vs_status clear_rooms(vs_dwell_planner *p) {
    vs_dwell *out = p->out;
    out->clear_closed_s = clearing_s(p, p->closed);
    out->clear_s = out->clear_closed_s;
    const vs_rooms_model *model = p->closed;
    if (p->can_purge && !(out->clear_s <= 0)) {
        out->purged = true;
        out->clear_s = clearing_s(p, p->purged);
        model = p->purged;
    }
    vs_status status = VS_OK;
    double length_s = isnan(out->clear_s) ? VS_DWELL_LIMIT_S : out->clear_s;
    if (length_s > 0) {
        status = vs_dwell_book(p, out->purged ? VS_DWELL_PURGE : VS_DWELL_WAIT, VS_NONE, length_s);
    }
    if (status == VS_OK) {
        status = vs_dwell_pass(p, model, 0, length_s);
    }
    if (status == VS_OK && !isnan(out->clear_s)) {
        status = vs_dwell_book(p, VS_DWELL_CLEAR, VS_NONE, 0);
    }
    return status;
}

/* The density of every room in each shot's steady hold. */
static vs_status hold_rooms(const vs_scene *scene, const vs_haze *haze, vs_dwell *dwell) {
    dwell->held_per_m =
        calloc(dwell->shot_count * dwell->room_count + 1, sizeof *dwell->held_per_m);
    vs_status status = dwell->held_per_m ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < dwell->shot_count && status == VS_OK; i++) {
        status = vs_held_rooms(scene, &scene->shot[dwell->shot[i].shot], haze,
                               dwell->shot[i].target_extinction_per_m,
                               dwell->held_per_m + i * dwell->room_count);
    }
    return status;
}

vs_status vs_dwell_plan(const vs_scene *scene, const vs_haze *haze, const size_t *order,
                        const double *extinction_per_m, vs_dwell *dwell) {
    vs_dwell_planner p;
    vs_status status = vs_dwell_planner_init(&p, scene, haze, order, extinction_per_m, dwell);
    if (status == VS_OK) {
        status = hold_rooms(scene, haze, dwell);
    }
    if (status == VS_OK) {
        status = play_shots(&p);
    }
    if (status == VS_OK) {
        status = clear_rooms(&p);
    }
    if (status == VS_OK) {
        dwell->budget = vs_rooms_budget_of(p.closed, p.state);
    }
    vs_dwell_planner_free(&p);
    if (status != VS_OK) {
        size_t culprit = dwell->culprit;
        vs_dwell_free(dwell);
        dwell->culprit = culprit;
    }
    return status;
}

void vs_dwell_free(vs_dwell *dwell) {
    free(dwell->room);
    free(dwell->shot);
    free(dwell->held_per_m);
    free(dwell->event);
    free(dwell->sample_s);
    free(dwell->sample_g_per_m3);
    free(dwell->way);
    for (size_t i = 0; i < dwell->air_count; i++) {
        vs_rooms_model_free(&dwell->air[i].closed);
        vs_rooms_model_free(&dwell->air[i].purging);
    }
    free(dwell->air);
    memset(dwell, 0, sizeof *dwell);
}

bool vs_dwell_too_early(const vs_dwell *dwell, const vs_scene *scene, size_t place, size_t which) {
    size_t other = scene->shot[dwell->shot[place].shot].after[which];
    for (size_t i = 0; i < place; i++) {
        if (dwell->shot[i].shot == other) {
            return false;
        }
    }
    return true;
}

bool vs_dwell_met(const vs_dwell *dwell) {
    for (size_t i = 0; i < dwell->shot_count; i++) {
        if (dwell->shot[i].fill_trouble != VS_DWELL_FINE ||
            dwell->shot[i].hold_trouble != VS_DWELL_FINE) {
            return false;
        }
    }
    return !isnan(dwell->clear_s);
}
