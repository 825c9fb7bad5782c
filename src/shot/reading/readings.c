/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All readings of a scene: each alone, those at one time pooled, then the model that fits them
 * best, then the next top-up. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/day/dwell_plan.h"
#include "shot/reading/reading_day.h"
#include "shot/reading/reading_fit.h"
#include "veilstop/shot/density.h"

#define FAR_LIKELIER  6.0                 /* [1] of Akaike's criterion: e^3 to 1; our choice */
#define RATE_LEAST    (0.01 / VS_S_PER_H) /* [1/s] least loss of a room: none is that tight */
#define UNLEARNT      1.0     /* [1] of the prior deviation: above it the readings added nothing */
#define TOP_UP_WITHIN 86400.0 /* [s] a day: nobody waits longer for it */

/* State shared by the steps below. Arrays of `count` are in order of time. */
typedef struct {
    const vs_scene *scene;
    const vs_haze *haze;
    vs_readings *out;
    size_t *order; /* indices of the scene's readings */
    vs_reading_point *point;
    double *own_per_s, *doors_per_s; /* planned losses, one per room: its own, and through doors */
    double *extinction;              /* one per point */
    vs_dwell plan;
} work;

static vs_status read_each(const vs_scene *scene, vs_readings *out) {
    for (size_t i = 0; i < scene->reading_count; i++) {
        const vs_scene_reading *given = &scene->reading[i];
        const vs_camera *camera = given->camera == VS_NONE ? NULL : &scene->camera[given->camera];
        vs_status status =
            given->lit_by == VS_NONE
                ? vs_reading_of(given, camera, vs_reading_longest_m(&scene->room[given->room]),
                                &out->reading[i])
                : vs_reading_by_lamp(scene, given, &out->reading[i]);
        if (status != VS_OK) {
            out->culprit = i;
            return status;
        }
    }
    return VS_OK;
}

static bool same_clear_reading(const vs_scene_reading *a, const vs_scene_reading *b) {
    return a->room == b->room && a->camera == b->camera && a->percent == b->percent &&
           a->distance_m == b->distance_m && a->clear_white == b->clear_white &&
           a->clear_black == b->clear_black;
}

/* The readings as points of a decay, in order of time, then of the file. */
static void make_points(work *w) {
    const vs_scene_reading *given = w->scene->reading;
    size_t count = w->scene->reading_count;
    for (size_t i = 0; i < count; i++) {
        size_t place = i;
        for (; place > 0 && given[w->order[place - 1]].at_s > given[i].at_s; place--) {
            w->order[place] = w->order[place - 1];
        }
        w->order[place] = i;
    }
    for (size_t i = 0; i < count; i++) {
        size_t from = w->order[i], look = 0;
        while (!same_clear_reading(&given[look], &given[from])) {
            look++;
        }
        const vs_reading *r = &w->out->reading[from];
        w->point[i] = (vs_reading_point){.at_s = given[from].at_s,
                                         .room = given[from].room,
                                         .log_kept = r->log_kept,
                                         .path_m = r->path_m,
                                         .clear_variance = r->clear_variance,
                                         .hazed_variance = r->hazed_variance,
                                         .clear = look};
    }
}

/* The scene's losses, and the part of them that no key of a room can lower. */
static vs_status read_losses(work *w) {
    vs_scene bare = *w->scene;
    vs_dwell dwell;
    vs_dwell_planner planner;
    bare.shot_count = 0;
    vs_status status = vs_dwell_planner_init(&planner, &bare, w->haze, NULL, NULL, &dwell);
    for (size_t i = 0; status == VS_OK && i < bare.room_count; i++) {
        const vs_scene_room *room = &bare.room[i];
        double through_doors = 0;
        for (size_t k = 0; k < bare.opening_count; k++) {
            const vs_scene_opening *o = &bare.opening[k];
            if (o->room[1] != VS_OUTSIDE && (o->room[0] == i || o->room[1] == i)) {
                through_doors += vs_dwell_exchange_m3_per_s(o) / planner.volume_m3[i];
            }
        }
        double total = dwell.room[i].loss.total + through_doors;
        w->out->room[i].planned_loss_per_s = total;
        w->own_per_s[i] = fmax(RATE_LEAST, dwell.room[i].loss.total);
        w->doors_per_s[i] = through_doors;
        w->out->room[i].floor_loss_per_s = total - room->air_change_per_s - room->deposition_per_s;
    }
    vs_dwell_planner_free(&planner);
    vs_dwell_free(&dwell);
    return status;
}

static vs_reading_day day_of(const work *w) {
    vs_reading_day day = {.scene = w->scene,
                          .haze = w->haze,
                          .plan = w->out->planned ? &w->plan : NULL,
                          .point = w->point,
                          .count = w->scene->reading_count,
                          .own_per_s = w->own_per_s};
    return day;
}

/* Plans the day; readings also work for a scene that cannot be planned. */
static vs_status make_plan(work *w) {
    vs_status status = vs_dwell_plan(w->scene, w->haze, NULL, NULL, &w->plan);
    if (status == VS_ERR_MEMORY) {
        return status;
    }
    w->out->planned = status == VS_OK && w->scene->hazer.room != VS_NONE;
    if (!w->out->planned) {
        return VS_OK;
    }
    vs_reading_day day = day_of(w);
    status = vs_reading_replay(&day, w->own_per_s, w->extinction);
    for (size_t i = 0; status == VS_OK && i < day.count; i++) {
        w->out->planned_per_m[w->order[i]] = w->extinction[i];
    }
    return status;
}

/* ---- readings at one time ---- */

/* Pools the readings from `first` on in its room and at its time, by clear reading: those that
 * share one share its error, which counts once. */
static vs_pooled_reading pool_from(const work *w, size_t first, bool *taken) {
    const vs_reading_point *p = w->point;
    vs_pooled_reading pool = {.room = p[first].room, .at_s = p[first].at_s};
    double weight_sum = 0, sum = 0;
    for (size_t i = first; i < w->scene->reading_count; i++) {
        double clear_weight = 0, clear_sum = 0, clear = 0;
        for (size_t k = i; k < w->scene->reading_count; k++) {
            if (!taken[k] && p[k].room == pool.room && p[k].clear == p[i].clear &&
                p[k].at_s <= pool.at_s + VS_READING_TOGETHER_S) {
                double weight = p[k].path_m * p[k].path_m / p[k].hazed_variance;
                clear_weight += weight;
                clear_sum += weight * -p[k].log_kept / p[k].path_m;
                clear = p[k].clear_variance / (p[k].path_m * p[k].path_m);
                taken[k] = true;
                pool.count++;
            }
        }
        if (clear_weight > 0) {
            double weight = 1 / (1 / clear_weight + clear);
            weight_sum += weight;
            sum += weight * clear_sum / clear_weight;
        }
    }
    pool.extinction_per_m = fmax(0, sum / weight_sum);
    pool.sd_per_m = 1 / sqrt(weight_sum);
    return pool;
}

/* Pools readings, and finds the uncertainty of a density from all of a room's readings together. */
static vs_status pool_readings(work *w) {
    size_t count = w->scene->reading_count;
    bool *taken = calloc(count + 1, sizeof *taken);
    if (!taken) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        if (!taken[i]) {
            w->out->pool[w->out->pool_count++] = pool_from(w, i, taken);
        }
    }
    free(taken);
    for (size_t room = 0; room < w->scene->room_count; room++) {
        double precision = 0;
        for (size_t i = 0; i < w->out->pool_count; i++) {
            const vs_pooled_reading *pool = &w->out->pool[i];
            double sigmas = pool->extinction_per_m / pool->sd_per_m;
            precision += pool->room == room ? sigmas * sigmas : 0;
        }
        w->out->room[room].share = precision > 0 ? 1 / sqrt(precision) : (double)INFINITY;
    }
    return VS_OK;
}

/* ---- the two models ---- */

static vs_status story_init(vs_reading_story *story, size_t rooms) {
    story->loss_log = calloc(4 * (rooms + 1), sizeof *story->loss_log);
    if (!story->loss_log) {
        return VS_ERR_MEMORY;
    }
    story->loss_sd = story->loss_log + (rooms + 1);
    story->last_per_m = story->loss_log + 2 * (rooms + 1);
    story->last_sd = story->loss_log + 3 * (rooms + 1);
    return VS_OK;
}

/* Whether a room was read at two or more times: only then is its loss known from readings. */
static bool tells_loss(const work *w, size_t room) {
    double first_s = INFINITY, last_s = -INFINITY;
    for (size_t i = 0; i < w->scene->reading_count; i++) {
        if (w->point[i].room == room) {
            first_s = fmin(first_s, w->point[i].at_s);
            last_s = fmax(last_s, w->point[i].at_s);
        }
    }
    return last_s - first_s > VS_READING_TOGETHER_S;
}

static bool any_tells_loss(const work *w) {
    for (size_t room = 0; room < w->scene->room_count; room++) {
        if (tells_loss(w, room)) {
            return true;
        }
    }
    return false;
}

/* Whether the plan's hazer runs at any time between the first and the last reading. */
static bool hazes_between(const work *w) {
    double first_s = w->point[0].at_s, last_s = w->point[w->scene->reading_count - 1].at_s;
    for (size_t i = 0; i < w->plan.event_count; i++) {
        const vs_dwell_event *e = &w->plan.event[i];
        if ((e->act == VS_DWELL_RUN || e->act == VS_DWELL_BURST) && e->at_s < last_s &&
            e->at_s + e->length_s > first_s) {
            return true;
        }
    }
    return false;
}

/* Whether the plan brings any haze to where it was read. */
static bool plan_reaches(const work *w) {
    for (size_t i = 0; i < w->scene->reading_count; i++) {
        if (w->out->planned_per_m[i] > 0) {
            return true;
        }
    }
    return false;
}

static bool was_played(work *w, const vs_reading_story *plan, const vs_reading_story *decay) {
    if (isnan(decay->misfit) || !any_tells_loss(w)) {
        return true;
    }
    if (!hazes_between(w)) {
        return false;
    }
    double less = plan->misfit - decay->misfit - 2 * (double)decay->starts;
    w->out->may_be_decay = less > 0;
    return less <= FAR_LIKELIER;
}

static void keep_losses(work *w, const vs_reading_story *story) {
    for (size_t i = 0; i < w->scene->room_count; i++) {
        vs_room_readings *room = &w->out->room[i];
        if (room->count > 0 && isfinite(story->last_per_m[i]) && isfinite(story->last_sd[i])) {
            room->last_per_m = story->last_per_m[i];
            room->last_sd_per_m = story->last_sd[i];
        }
        if (room->count == 0 || !tells_loss(w, i) ||
            !(story->loss_sd[i] < UNLEARNT * VS_READING_PRIOR_SD)) {
            continue;
        }
        double own = w->own_per_s[i] * exp(story->loss_log[i]), doors = w->doors_per_s[i];
        double reach = VS_READING_NINETIES * story->loss_sd[i];
        room->loss_per_s = own + doors;
        room->loss_sd_per_s = own * story->loss_sd[i];
        room->loss_low_per_s = own * exp(-reach) + doors;
        room->loss_high_per_s = own * exp(reach) + doors;
    }
}

static void keep_output(work *w, const vs_reading_story *story) {
    if (!(story->output_sd < UNLEARNT * VS_READING_PRIOR_SD)) {
        return;
    }
    double reach = VS_READING_NINETIES * story->output_sd;
    w->out->output_ratio = exp(story->output_log);
    w->out->output_ratio_sd = w->out->output_ratio * story->output_sd;
    w->out->output_low = w->out->output_ratio * exp(-reach);
    w->out->output_high = w->out->output_ratio * exp(reach);
}

static vs_status find_story(work *w, vs_read_as as) {
    vs_reading_story plan = {.misfit = NAN}, decay = {.misfit = NAN};
    vs_reading_day day = day_of(w);
    vs_status status = story_init(&plan, w->scene->room_count);
    if (status == VS_OK) {
        status = story_init(&decay, w->scene->room_count);
    }
    bool may_plan = w->out->planned && as != VS_READ_DECAY && plan_reaches(w);
    if (status == VS_OK && may_plan) {
        vs_status fitted = vs_reading_fit(&day, true, &plan);
        status = fitted == VS_ERR_MEMORY ? fitted : VS_OK;
    }
    if (status == VS_OK && as != VS_READ_PLAN && any_tells_loss(w)) {
        vs_status fitted = vs_reading_fit(&day, false, &decay);
        status = fitted == VS_ERR_MEMORY ? fitted : VS_OK;
    }
    bool by_plan = may_plan && !isnan(plan.misfit) && was_played(w, &plan, &decay);
    const vs_reading_story *kept = by_plan ? &plan : &decay;
    if (status == VS_OK && !isnan(kept->misfit)) {
        w->out->as = by_plan ? VS_READ_PLAN : VS_READ_DECAY;
        w->out->chi_square = kept->chi_square;
        keep_losses(w, kept);
        keep_output(w, kept);
    }
    free(plan.loss_log);
    free(decay.loss_log);
    return status;
}

/* ---- the next top-up ---- */

static double target_of(const work *w, size_t shot, size_t *room) {
    const vs_scene_shot *s = &w->scene->shot[shot];
    *room = vs_dwell_room_at(w->scene, w->scene->camera[s->camera].at_m);
    return *room == VS_OUTSIDE ? (double)NAN : vs_density_extinction_per_m(s, *room, w->haze);
}

/* The shot on at the last reading of its room, or the next one, else the last before. */
static size_t choose_shot(const work *w) {
    size_t chosen = VS_NONE, room;
    for (size_t i = 0; i < w->scene->shot_count; i++) {
        size_t shot = w->out->planned ? w->plan.shot[i].shot : i;
        if (!(target_of(w, shot, &room) > 0) || w->out->room[room].count == 0) {
            continue;
        }
        chosen = shot;
        if (!w->out->planned || w->plan.shot[i].end_s >= w->out->room[room].last_s) {
            break;
        }
    }
    return chosen;
}

/* Time at full output [s] that brings a room from k to a target: dk/dt = gain - drain k. */
static double run_to(double k, double target, double gain, double drain) {
    if (!(gain > drain * target)) {
        return INFINITY;
    }
    double left = drain * (target - k) / (gain - drain * k);
    return drain > 0 ? -log1p(-left) / drain : (target - k) / gain;
}

static void plan_top_up(work *w, size_t shot) {
    vs_top_up *t = &w->out->top_up;
    size_t room;
    t->shot = shot == VS_NONE ? choose_shot(w) : shot;
    t->room = VS_NONE;
    t->target_per_m = t->at_s = t->run_s = t->share = NAN;
    if (t->shot == VS_NONE) {
        return;
    }
    t->target_per_m = target_of(w, t->shot, &room);
    if (!(t->target_per_m > 0) || w->out->room[room].count == 0) {
        return;
    }
    const vs_room_readings *r = &w->out->room[room];
    t->room = room;
    double share = r->last_per_m > 0 ? r->last_sd_per_m / r->last_per_m : (double)INFINITY;
    t->share = fmax(share, r->share);
    if (!(t->share <= VS_READING_PLENTY)) {
        return;
    }
    double drain = fmax(0, isnan(r->loss_per_s) ? r->planned_loss_per_s : r->loss_per_s);
    double low = (1 - VS_DWELL_HOLD_WITHIN) * t->target_per_m;
    double wait_s = r->last_per_m > low ? log(r->last_per_m / low) / drain : 0;
    t->at_s = wait_s <= TOP_UP_WITHIN ? r->last_s + wait_s : (double)NAN;
    double in_room = vs_dwell_share_in(w->scene, room);
    if (in_room > 0) {
        vs_vec3 size = w->scene->room[room].size_m;
        double ratio = isnan(w->out->output_ratio) ? 1 : w->out->output_ratio;
        double gain = ratio * in_room * vs_dwell_output_g_per_s(w->scene) *
                      w->haze->extinction_m2_per_g.v[VS_BAND_GREEN] / (size.x * size.y * size.z);
        t->run_s = run_to(fmin(low, r->last_per_m), t->target_per_m, gain, drain);
    }
}

/* ---- putting it together ---- */

static vs_status allocate(work *w) {
    size_t readings = w->scene->reading_count + 1, rooms = w->scene->room_count + 1;
    w->order = calloc(readings, sizeof *w->order);
    w->point = calloc(readings, sizeof *w->point);
    w->extinction = calloc(readings, sizeof *w->extinction);
    w->own_per_s = calloc(2 * rooms, sizeof *w->own_per_s);
    w->doors_per_s = w->own_per_s ? w->own_per_s + rooms : NULL;
    w->out->reading = calloc(readings, sizeof *w->out->reading);
    w->out->pool = calloc(readings, sizeof *w->out->pool);
    w->out->planned_per_m = calloc(readings, sizeof *w->out->planned_per_m);
    w->out->room = calloc(rooms, sizeof *w->out->room);
    bool good = w->order && w->point && w->extinction && w->own_per_s && w->out->reading &&
                w->out->pool && w->out->planned_per_m && w->out->room;
    return good ? VS_OK : VS_ERR_MEMORY;
}

static void free_work(work *w) {
    vs_dwell_free(&w->plan);
    free(w->order);
    free(w->point);
    free(w->extinction);
    free(w->own_per_s);
}

/* No advice yet: NaN, and each room's last reading as read. */
static void set_blank(work *w) {
    vs_readings *out = w->out;
    for (size_t i = 0; i < out->room_count; i++) {
        vs_room_readings *room = &out->room[i];
        room->loss_per_s = room->loss_sd_per_s = NAN;
        room->loss_low_per_s = room->loss_high_per_s = NAN;
        room->last_s = room->last_per_m = room->last_sd_per_m = NAN;
    }
    for (size_t i = 0; i < out->count; i++) {
        vs_room_readings *room = &out->room[w->point[i].room];
        room->count++;
        room->last_s = w->point[i].at_s;
        out->planned_per_m[i] = NAN;
    }
    for (size_t i = 0; i < out->pool_count; i++) {
        vs_room_readings *room = &out->room[out->pool[i].room];
        room->last_per_m = out->pool[i].extinction_per_m;
        room->last_sd_per_m = out->pool[i].sd_per_m;
    }
}

vs_status vs_readings_init(const vs_scene *scene, const vs_haze *haze, vs_reading_ask ask,
                           vs_readings *out) {
    memset(out, 0, sizeof *out);
    out->count = scene->reading_count;
    out->room_count = scene->room_count;
    out->culprit = VS_NONE;
    out->chi_square = out->output_ratio = out->output_ratio_sd = NAN;
    out->output_low = out->output_high = NAN;
    work w = {.scene = scene, .haze = haze, .out = out};
    vs_status status = allocate(&w);
    if (status == VS_OK) {
        status = read_each(scene, out);
    }
    if (status == VS_OK) {
        make_points(&w);
        status = pool_readings(&w);
    }
    if (status == VS_OK) {
        set_blank(&w);
        status = read_losses(&w);
    }
    if (status == VS_OK) {
        status = make_plan(&w);
    }
    if (status == VS_OK) {
        status = find_story(&w, ask.as);
    }
    if (status == VS_OK) {
        plan_top_up(&w, ask.shot);
    } else {
        size_t culprit = out->culprit;
        vs_readings_free(out);
        out->culprit = culprit;
    }
    free_work(&w);
    return status;
}

void vs_readings_free(vs_readings *readings) {
    free(readings->reading);
    free(readings->room);
    free(readings->planned_per_m);
    free(readings->pool);
    memset(readings, 0, sizeof *readings);
}
