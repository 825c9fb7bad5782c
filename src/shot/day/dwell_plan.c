/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's planner: the rooms' models and each shot's target. */
#include "shot/day/dwell_plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/day/dwell_rooms.h"
#include "veilstop/shot/density.h"

#define FOREVER_S 2.592e6 /* [s] 30 days of full output: all that losses allow */

static void tell_losses(vs_dwell *out, const vs_rooms *rooms) {
    for (size_t i = 0; i < rooms->count; i++) {
        out->room[i].loss = vs_rooms_loss_of(rooms, i);
        out->room[i].volume_m3 = rooms->volume_m3[i];
        double loss = out->room[i].loss.total;
        out->room[i].half_life_s = loss > 0 ? log(2) / loss : (double)INFINITY;
    }
}

/* The air model with these openings; air_count if there is none. */
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

/* Adds models of the rooms with these openings, unless they exist. */
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

/* From camera to the farthest point of any shot; without points, the longest diagonal of a room. */
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

/* Whether air, and with it haze, gets from one room to another through openings. */
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

/* Whether any machine's haze reaches a room. */
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

/* Sets each shot's target; refuses what no plan can reach. */
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

void vs_dwell_copy(const vs_dwell_planner *planner, const double *from, double *to) {
    memcpy(to, from, vs_rooms_state_size(planner->closed->count) * sizeof *to);
}

double vs_dwell_mass_g(const vs_dwell_planner *planner, size_t room, double extinction_per_m) {
    return extinction_per_m / planner->out->extinction_m2_per_g * planner->volume_m3[room];
}

double vs_dwell_most_g(const vs_dwell_planner *p, size_t room) {
    vs_rooms_trace trace;
    vs_rooms_trace_begin(p->closed, p->state, room, &trace);
    vs_rooms_trace_advance(&trace, p->output_g_per_s, FOREVER_S);
    return vs_rooms_trace_mass_g(&trace);
}
