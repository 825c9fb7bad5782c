/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's plan from a scene: its rooms as plain numbers, its shots one after the other, the
 * clearing at the end. */
#include "veilstop/shot/dwell.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/day/dwell_plan.h"
#include "shot/day/dwell_rooms.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/held.h"

#define CLEAR_HORIZON_S 604800.0 /* [s] 7 days: what takes longer never clears */

#define WORD(member, word) [member] = word,
const char *vs_dwell_do_word(vs_dwell_do act) {
    static const char *const words[] = {VS_DWELL_DO_LIST(WORD)};
    return (size_t)act < sizeof words / sizeof words[0] ? words[act] : "unknown";
}

const char *vs_dwell_trouble_word(vs_dwell_trouble trouble) {
    static const char *const words[] = {VS_DWELL_TROUBLE_LIST(WORD)};
    return (size_t)trouble < sizeof words / sizeof words[0] ? words[trouble] : "unknown";
}

static void tell_losses(vs_dwell *out, const vs_rooms *rooms) {
    for (size_t i = 0; i < rooms->count; i++) {
        out->room[i].loss = vs_rooms_loss_of(rooms, i);
        out->room[i].volume_m3 = rooms->volume_m3[i];
        double loss = out->room[i].loss.total;
        out->room[i].half_life_s = loss > 0 ? log(2) / loss : (double)INFINITY;
    }
}

/* The air with openings set that way; air_count where there is none. */
static size_t find_air(const vs_dwell_planner *p, const double *open) {
    size_t air = 0;
    for (; air < p->out->air_count; air++) {
        const double *other = p->out->air[air].open;
        size_t i = 0;
        while (i < p->scene->opening_count && (open ? open[i] : 1) == (other ? other[i] : 1)) {
            i++;
        }
        if (i == p->scene->opening_count) {
            break;
        }
    }
    return air;
}

/* Models of the rooms with the openings set one way, where there are none yet. */
static vs_status add_air(vs_dwell_planner *p, const double *open, const vs_dwell_figures *f) {
    if (find_air(p, open) < p->out->air_count) {
        return VS_OK;
    }
    vs_dwell_air *air = &p->out->air[p->out->air_count++];
    air->open = open;
    vs_dwell_figures_open(p->scene, open, f);
    vs_rooms rooms = vs_dwell_rooms(p->scene, f);
    if (!open) {
        tell_losses(p->out, &rooms);
    }
    vs_status status = vs_rooms_model_init(&air->closed, &rooms);
    if (status == VS_OK && p->can_purge) {
        rooms.air_change_per_s = f->purge;
        status = vs_rooms_model_init(&air->purging, &rooms);
    }
    return status;
}

static vs_status make_models(vs_dwell_planner *p, const vs_dwell_figures *f) {
    vs_status status = add_air(p, NULL, f);
    for (size_t i = 0; i < p->scene->shot_count && status == VS_OK; i++) {
        status = add_air(p, p->scene->shot[i].open, f);
    }
    vs_dwell_set_openings(p, VS_NONE);
    return status;
}

size_t vs_dwell_air_of(const vs_dwell_planner *p, size_t shot) {
    return find_air(p, shot == VS_NONE ? NULL : p->scene->shot[shot].open);
}

void vs_dwell_set_openings(vs_dwell_planner *p, size_t shot) {
    p->air = vs_dwell_air_of(p, shot);
    p->closed = &p->out->air[p->air].closed;
    p->purged = p->can_purge ? &p->out->air[p->air].purging : p->closed;
}

/* Camera to the farthest point of any shot; without points, the longest diagonal of a room. */
static double longest_sight_m(const vs_scene *scene) {
    double longest = 0, diagonal = 0;
    for (size_t i = 0; i < scene->shot_count; i++) {
        const vs_scene_shot *shot = &scene->shot[i];
        vs_vec3 camera_m = scene->camera[shot->camera].at_m;
        for (size_t k = 0; k < shot->point_count; k++) {
            longest = fmax(longest, vs_vec3_length(vs_vec3_sub(shot->point[k].at_m, camera_m)));
        }
    }
    for (size_t i = 0; i < scene->room_count; i++) {
        diagonal = fmax(diagonal, vs_vec3_length(scene->room[i].size_m));
    }
    return longest > 0 ? longest : diagonal;
}

/* Whether air, and so haze, gets from a room to another through openings. */
static bool linked(const vs_dwell_figures *f, size_t n, size_t from, size_t to, bool *seen) {
    memset(seen, 0, n * sizeof *seen);
    seen[from] = true;
    for (bool grown = true; grown && !seen[to];) {
        grown = false;
        for (size_t i = 0; i < n * n; i++) {
            if (seen[i / n] && !seen[i % n] && f->exchange[i] > 0) {
                seen[i % n] = grown = true;
            }
        }
    }
    return seen[to];
}

/* Whether haze gets to a room from any machine. */
static bool haze_reaches(const vs_scene *scene, const vs_dwell_figures *f, size_t room,
                         bool *seen) {
    if (!scene->hazer.share) {
        return linked(f, scene->room_count, scene->hazer.room, room, seen);
    }
    for (size_t i = 0; i < scene->room_count; i++) {
        if (scene->hazer.share[i] > 0 && linked(f, scene->room_count, i, room, seen)) {
            return true;
        }
    }
    return false;
}

/* Sets what each shot asks for; refuses what no plan can give. */
static vs_status set_targets(vs_dwell_planner *p, const vs_haze *haze, const size_t *order,
                             const double *extinction_per_m, const vs_dwell_figures *f,
                             bool *seen) {
    const vs_scene *scene = p->scene;
    double day_s = 0;
    for (size_t i = 0; i < scene->shot_count; i++) {
        vs_dwell_shot *shot = &p->out->shot[i];
        shot->shot = order ? order[i] : i;
        if (shot->shot >= scene->shot_count) {
            return VS_ERR_DOMAIN;
        }
        p->out->culprit = shot->shot;
        const vs_scene_shot *s = &scene->shot[shot->shot];
        shot->room = vs_dwell_room_at(scene, scene->camera[s->camera].at_m);
        day_s += s->length_s;
        if (shot->room == VS_OUTSIDE || !(s->length_s >= 0) || !(day_s <= VS_DWELL_DAY_MAX_S)) {
            return VS_ERR_DOMAIN;
        }
        double target = extinction_per_m ? extinction_per_m[shot->shot]
                                         : vs_density_extinction_per_m(s, shot->room, haze);
        if (isnan(target)) {
            return VS_ERR_INPUT;
        }
        if (!(target >= 0) || !isfinite(target)) {
            return VS_ERR_DOMAIN;
        }
        if (target > 0 && !(p->output_g_per_s > 0)) {
            return VS_ERR_INPUT;
        }
        vs_dwell_figures_open(scene, s->open, f);
        if (target > 0 && !haze_reaches(scene, f, shot->room, seen)) {
            return VS_ERR_UNREACHABLE;
        }
        shot->target_extinction_per_m = shot->held_extinction_per_m = target;
        shot->within_reach_per_m = shot->stop_ratio = NAN;
        shot->lowest_ratio = shot->highest_ratio = NAN;
    }
    p->out->culprit = VS_NONE;
    return VS_OK;
}

static vs_status allocate(vs_dwell_planner *p, size_t rooms, size_t shots) {
    size_t state = vs_rooms_state_size(rooms);
    p->state = calloc(3 * state, sizeof *p->state);
    p->out->room = calloc(rooms, sizeof *p->out->room);
    p->out->shot = calloc(shots ? shots : 1, sizeof *p->out->shot);
    p->out->air = calloc(shots + 1, sizeof *p->out->air);
    if (!p->state || !p->out->room || !p->out->shot || !p->out->air) {
        return VS_ERR_MEMORY;
    }
    p->trial = p->state + state;
    p->begin = p->state + 2 * state;
    p->out->room_count = rooms;
    p->out->shot_count = shots;
    return VS_OK;
}

/* The hazer is switched on first thing, if it is wanted at all. */
static vs_status switch_on(vs_dwell_planner *p) {
    for (size_t i = 0; i < p->out->shot_count; i++) {
        if (p->out->shot[i].target_extinction_per_m > 0 && p->scene->hazer.warm_up_s > 0) {
            p->ready_s = p->scene->hazer.warm_up_s;
            return vs_dwell_book(p, VS_DWELL_WARM_UP, VS_NONE, p->ready_s);
        }
    }
    return VS_OK;
}

vs_status vs_dwell_shoot(vs_dwell_planner *p, vs_dwell_shot *shot) {
    vs_status status = vs_dwell_fill(p, shot);
    if (status == VS_OK) {
        status = vs_dwell_work_out_hold(p, shot);
    }
    return status == VS_OK ? vs_dwell_play(p, shot) : status;
}

static vs_status play_shots(vs_dwell_planner *p) {
    vs_status status = switch_on(p);
    for (size_t i = 0; i < p->out->shot_count && status == VS_OK; i++) {
        status = vs_dwell_shoot(p, &p->out->shot[i]);
    }
    p->out->end_s = p->now_s;
    vs_dwell_set_openings(p, VS_NONE);
    return status;
}

/* How long until every room is clear; NaN if not within the horizon. */
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

vs_status vs_dwell_planner_init(vs_dwell_planner *p, const vs_scene *scene, const vs_haze *haze,
                                const size_t *order, const double *extinction_per_m,
                                vs_dwell *dwell) {
    const vs_dwell_planner blank = {.scene = scene, .out = dwell};
    size_t n = scene->room_count;
    memset(dwell, 0, sizeof *dwell);
    dwell->culprit = VS_NONE;
    *p = blank;
    if (n < 1 || n > VS_ROOMS_MAX) {
        return VS_ERR_DOMAIN;
    }
    p->figures = calloc(vs_dwell_figures_size(n), sizeof *p->figures);
    bool *seen = calloc(n, sizeof *seen);
    vs_status status = allocate(p, n, scene->shot_count);
    if (!p->figures || !seen || status != VS_OK) {
        free(seen);
        return VS_ERR_MEMORY;
    }
    vs_dwell_figures f = vs_dwell_figures_in(p->figures, n);
    p->volume_m3 = f.volume;
    p->output_g_per_s = vs_dwell_output_g_per_s(scene);
    p->can_purge = vs_dwell_figures_fill(scene, &f);
    dwell->extinction_m2_per_g = haze->extinction_m2_per_g.v[VS_BAND_GREEN];
    dwell->longest_sight_m = longest_sight_m(scene);
    dwell->clear_extinction_per_m = -log1p(-VS_DWELL_CLEAR_LOSS) / dwell->longest_sight_m;
    status = set_targets(p, haze, order, extinction_per_m, &f, seen);
    free(seen);
    return status == VS_OK ? make_models(p, &f) : status;
}

void vs_dwell_planner_free(vs_dwell_planner *p) {
    const vs_dwell_planner blank = {0};
    free(p->figures);
    free(p->state);
    *p = blank;
}

/* What every room has in each shot's steady hold. */
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
