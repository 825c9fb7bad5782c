/* All readings of a scene: each alone, then the story that fits them best, then the next top-up. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/dwell_plan.h"
#include "shot/reading_day.h"
#include "veilstop/shot/density.h"

#define CLOSE_AIC     1e-3    /* [1] stories this close are as good as each other */
#define TOP_UP_WITHIN 86400.0 /* [s] a day: later than that nobody waits for it */
#define SLOPE_STEP    0.02    /* [1] of a loss, for how the plan's density hangs on it */

/* Work shared by the steps below. Arrays of `count` are in the order of time. */
typedef struct {
    const vs_scene *scene;
    const vs_haze *haze;
    vs_readings *out;
    size_t *order; /* indices of the scene's readings */
    vs_decay_point *point;
    size_t *room;
    double *floor_loss_per_s, *loss, *loss_sd; /* one a room */
    double *extinction;                        /* one a point */
    vs_dwell plan;
} work;

static vs_status read_each(const vs_scene *scene, vs_readings *out) {
    for (size_t i = 0; i < scene->reading_count; i++) {
        const vs_scene_reading *given = &scene->reading[i];
        const vs_camera *camera = given->camera == VS_NONE ? NULL : &scene->camera[given->camera];
        vs_status status = given->lit_by == VS_NONE
                               ? vs_reading_of(given, camera, &out->reading[i])
                               : vs_reading_by_lamp(scene, given, &out->reading[i]);
        if (status != VS_OK) {
            out->culprit = i;
            return status;
        }
    }
    return VS_OK;
}

static bool same_look(const vs_scene_reading *a, const vs_scene_reading *b) {
    return a->room == b->room && a->camera == b->camera && a->percent == b->percent &&
           a->distance_m == b->distance_m && a->clear_white == b->clear_white &&
           a->clear_black == b->clear_black;
}

/* The readings as points of a decay, in the order of time (equal times: of the file). */
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
        while (!same_look(&given[look], &given[from])) {
            look++;
        }
        const vs_reading *r = &w->out->reading[from];
        w->room[i] = given[from].room;
        w->point[i] = (vs_decay_point){.at_s = given[from].at_s,
                                       .log_kept = -r->extinction_per_m * r->path_m,
                                       .path_m = r->path_m,
                                       .clear_variance = r->clear_variance,
                                       .hazed_variance = r->hazed_variance,
                                       .clear = look};
    }
}

/* Losses as the scene has them, and what of them no key of a room can lower. */
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
        w->floor_loss_per_s[i] = total - room->air_change_per_s - room->deposition_per_s;
        w->out->room[i].floor_loss_per_s = w->floor_loss_per_s[i];
    }
    vs_dwell_planner_free(&planner);
    vs_dwell_free(&dwell);
    return status;
}

static vs_reading_day day_of(const work *w) {
    vs_reading_day day = {w->scene,           w->haze, &w->plan,
                          w->point,           w->room, w->scene->reading_count,
                          w->floor_loss_per_s};
    return day;
}

/* Plans the day; a scene that cannot be planned has readings all the same. */
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
    status = vs_reading_replay(&day, w->loss, INFINITY, w->extinction);
    for (size_t i = 0; status == VS_OK && i < day.count; i++) {
        w->out->planned_per_m[w->order[i]] = w->extinction[i];
    }
    return status;
}

/* ---- the two stories ---- */

typedef struct {
    double chi_square;
    size_t parameters;
    bool told;  /* some room tells a loss */
    bool falls; /* and every one that does, by over its deviation */
} story;

/* Gathers a room's points; how many. */
static size_t points_of(const work *w, size_t room, vs_decay_point *out) {
    size_t count = 0;
    for (size_t i = 0; i < w->scene->reading_count; i++) {
        if (w->room[i] == room) {
            out[count++] = w->point[i];
        }
    }
    return count;
}

/* A decay in each room that was read; its results go to decay, one a room. */
static vs_status fit_decays(const work *w, vs_decay *decay, story *s) {
    vs_decay_point *point = malloc((w->scene->reading_count + 1) * sizeof *point);
    if (!point) {
        return VS_ERR_MEMORY;
    }
    vs_status status = VS_OK;
    s->falls = true;
    for (size_t room = 0; room < w->scene->room_count && status == VS_OK; room++) {
        size_t count = points_of(w, room, point);
        status = vs_decay_fit(point, count, &decay[room]);
        if (status == VS_OK) {
            s->told = true;
            s->chi_square += decay[room].chi_square;
            s->parameters += decay[room].parameters;
            s->falls = s->falls && decay[room].loss_per_s > decay[room].loss_sd_per_s;
        } else if (status != VS_ERR_MEMORY) {
            s->parameters += count; /* every point by itself */
            status = VS_OK;
        }
    }
    free(point);
    return status;
}

static double aic(double chi_square, size_t parameters) {
    return chi_square + 2 * (double)parameters;
}

static bool plan_is_better(const story *decay, const vs_plan_fit *plan) {
    double of_decay = aic(decay->chi_square, decay->parameters);
    double of_plan = aic(plan->chi_square, plan->parameters);
    return decay->told && decay->falls ? of_plan + CLOSE_AIC < of_decay
                                       : of_plan < of_decay + CLOSE_AIC;
}

/* Output that a decay's first reading tells, where the plan's runs before it were followed: its
 * extinction over the plan's then, with this loss. */
static vs_status output_from_decay(work *w, const vs_decay *decay) {
    size_t hazer = w->scene->hazer.room;
    const vs_decay *d = hazer == VS_NONE ? NULL : &decay[hazer];
    if (!w->out->planned || !d || !(d->first_per_m > 0) || !isfinite(d->loss_per_s)) {
        return VS_OK;
    }
    vs_reading_day day = day_of(w);
    size_t first = 0;
    while (w->room[first] != hazer) {
        first++;
    }
    double loss = fmax(d->loss_per_s, w->floor_loss_per_s[hazer]), planned[2];
    double step = SLOPE_STEP * fmax(loss, 1 / VS_S_PER_H);
    vs_status status = VS_OK;
    for (int i = 0; i < 2 && status == VS_OK; i++) {
        w->loss[hazer] = loss + i * step;
        status = vs_reading_replay(&day, w->loss, d->first_s, w->extinction);
        planned[i] = w->extinction[first];
    }
    w->loss[hazer] = NAN;
    if (status != VS_OK || !(planned[0] > 0)) {
        return status;
    }
    double slope = log(planned[1] / planned[0]) / step; /* d ln planned / d loss */
    double share = d->first_sd_per_m / d->first_per_m;
    double variance = share * share + slope * slope * d->loss_sd_per_s * d->loss_sd_per_s -
                      2 * slope * d->first_loss_covariance / d->first_per_m;
    w->out->output_ratio = d->first_per_m / planned[0];
    w->out->output_ratio_sd = w->out->output_ratio * sqrt(fmax(0, variance));
    return VS_OK;
}

static vs_status keep_decays(work *w, const vs_decay *decay, const story *s) {
    w->out->as = s->told ? VS_READ_DECAY : VS_READ_ALONE;
    w->out->chi_square = s->chi_square;
    for (size_t room = 0; room < w->scene->room_count; room++) {
        if (isfinite(decay[room].loss_per_s)) {
            w->out->room[room].loss_per_s = decay[room].loss_per_s;
            w->out->room[room].loss_sd_per_s = decay[room].loss_sd_per_s;
            w->out->room[room].last_per_m = decay[room].last_per_m;
        }
    }
    return output_from_decay(w, decay);
}

static vs_status keep_plan(work *w, const vs_plan_fit *fit) {
    w->out->as = VS_READ_PLAN;
    w->out->chi_square = fit->chi_square;
    w->out->output_ratio = fit->output_ratio;
    w->out->output_ratio_sd = fit->output_ratio_sd;
    vs_reading_day day = day_of(w);
    vs_status status = vs_reading_replay(&day, fit->loss_per_s, INFINITY, w->extinction);
    for (size_t i = 0; status == VS_OK && i < day.count; i++) {
        w->out->room[w->room[i]].last_per_m = fit->output_ratio * w->extinction[i];
    }
    for (size_t room = 0; status == VS_OK && room < w->scene->room_count; room++) {
        w->out->room[room].loss_per_s = fit->loss_per_s[room];
        w->out->room[room].loss_sd_per_s = fit->loss_sd_per_s[room];
    }
    return status;
}

static vs_status find_story(work *w, vs_read_as as) {
    story decays = {0};
    vs_decay *decay = calloc(w->scene->room_count + 1, sizeof *decay);
    double *losses = calloc(w->scene->room_count + 1, sizeof *losses);
    vs_plan_fit plan = {.loss_per_s = losses, .loss_sd_per_s = w->loss_sd};
    vs_status status = decay && losses ? fit_decays(w, decay, &decays) : VS_ERR_MEMORY;
    bool by_plan = false;
    if (status == VS_OK && w->out->planned && as != VS_READ_DECAY) {
        vs_reading_day day = day_of(w);
        vs_status fitted = vs_reading_fit_plan(&day, &plan);
        status = fitted == VS_ERR_MEMORY ? fitted : VS_OK;
        by_plan = fitted == VS_OK && (as == VS_READ_PLAN || plan_is_better(&decays, &plan));
    }
    if (status == VS_OK) {
        status = by_plan ? keep_plan(w, &plan) : keep_decays(w, decay, &decays);
    }
    free(decay);
    free(losses);
    return status;
}

/* ---- the next top-up ---- */

static double target_of(const work *w, size_t shot, size_t *room) {
    const vs_scene_shot *s = &w->scene->shot[shot];
    *room = vs_dwell_room_at(w->scene, w->scene->camera[s->camera].at_m);
    return *room == VS_OUTSIDE ? (double)NAN : vs_density_extinction_per_m(s, *room, w->haze);
}

/* The shot that is on at the last reading of its room, or comes next, else the last before. */
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

/* Full output [s] that brings a room from k to a target: dk/dt = gain - drain k. */
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
    t->target_per_m = t->at_s = t->run_s = NAN;
    if (t->shot == VS_NONE) {
        return;
    }
    t->target_per_m = target_of(w, t->shot, &room);
    if (!(t->target_per_m > 0) || w->out->room[room].count == 0) {
        return;
    }
    const vs_room_readings *r = &w->out->room[room];
    t->room = room;
    double drain = fmax(0, isnan(r->loss_per_s) ? r->planned_loss_per_s : r->loss_per_s);
    double low = (1 - VS_DWELL_HOLD_WITHIN) * t->target_per_m;
    double wait_s = r->last_per_m > low ? log(r->last_per_m / low) / drain : 0;
    t->at_s = wait_s <= TOP_UP_WITHIN ? r->last_s + wait_s : (double)NAN;
    if (w->scene->hazer.room == room) {
        vs_vec3 size = w->scene->room[room].size_m;
        double ratio = isnan(w->out->output_ratio) ? 1 : w->out->output_ratio;
        double gain = ratio * vs_dwell_output_g_per_s(w->scene) *
                      w->haze->extinction_m2_per_g.v[VS_BAND_GREEN] / (size.x * size.y * size.z);
        t->run_s = run_to(fmin(low, r->last_per_m), t->target_per_m, gain, drain);
    }
}

/* ---- all of it ---- */

static vs_status allocate(work *w) {
    size_t readings = w->scene->reading_count + 1, rooms = w->scene->room_count + 1;
    w->order = calloc(readings, sizeof *w->order);
    w->point = calloc(readings, sizeof *w->point);
    w->room = calloc(readings, sizeof *w->room);
    w->extinction = calloc(readings, sizeof *w->extinction);
    w->floor_loss_per_s = calloc(rooms, sizeof *w->floor_loss_per_s);
    w->loss = calloc(rooms, sizeof *w->loss);
    w->loss_sd = calloc(rooms, sizeof *w->loss_sd);
    w->out->reading = calloc(readings, sizeof *w->out->reading);
    w->out->planned_per_m = calloc(readings, sizeof *w->out->planned_per_m);
    w->out->room = calloc(rooms, sizeof *w->out->room);
    bool good = w->order && w->point && w->room && w->extinction && w->floor_loss_per_s &&
                w->loss && w->loss_sd && w->out->reading && w->out->planned_per_m && w->out->room;
    return good ? VS_OK : VS_ERR_MEMORY;
}

static void free_work(work *w) {
    vs_dwell_free(&w->plan);
    free(w->order);
    free(w->point);
    free(w->room);
    free(w->extinction);
    free(w->floor_loss_per_s);
    free(w->loss);
    free(w->loss_sd);
}

/* Nothing told yet: NaN, and each room's last reading as it stands. */
static void set_blank(work *w) {
    vs_readings *out = w->out;
    for (size_t i = 0; i < out->room_count; i++) {
        out->room[i].loss_per_s = out->room[i].loss_sd_per_s = w->loss[i] = NAN;
        out->room[i].last_s = out->room[i].last_per_m = NAN;
    }
    for (size_t i = 0; i < out->count; i++) {
        vs_room_readings *room = &out->room[w->room[i]];
        room->count++;
        room->last_s = w->point[i].at_s;
        room->last_per_m = out->reading[w->order[i]].extinction_per_m;
        out->planned_per_m[i] = NAN;
    }
}

vs_status vs_readings_init(const vs_scene *scene, const vs_haze *haze, vs_reading_ask ask,
                           vs_readings *out) {
    memset(out, 0, sizeof *out);
    out->count = scene->reading_count;
    out->room_count = scene->room_count;
    out->culprit = VS_NONE;
    out->chi_square = out->output_ratio = out->output_ratio_sd = NAN;
    work w = {.scene = scene, .haze = haze, .out = out};
    vs_status status = allocate(&w);
    if (status == VS_OK) {
        status = read_each(scene, out);
    }
    if (status == VS_OK) {
        make_points(&w);
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
    memset(readings, 0, sizeof *readings);
}
