/* The day's plan played again: what the hazer's runs and bursts give in rooms that lose haze at
 * other rates, and the rates and the output that agree best with the readings. */
#include "shot/reading_day.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/dwell_plan.h"
#include "shot/reading_fit.h"
#include "veilstop/base/fit.h"

#define TOLERANCE      1e-8                /* [1] of the sum of squares */
#define RATE_LEAST     (0.01 / VS_S_PER_H) /* [1/s] where a fitted rate starts from nothing */
#define LOG_RATIO_MOST 5.0 /* [1] outputs and rates stay within e^-5 to e^5 of these */

void vs_room_loss_to_rates(const vs_scene_room *room, double floor_loss_per_s, double loss_per_s,
                           double *air_change_per_s, double *deposition_per_s, bool *exact) {
    double ways = loss_per_s - floor_loss_per_s;
    *deposition_per_s = fmax(0, fmin(room->deposition_per_s, ways));
    *air_change_per_s = fmax(0, ways - *deposition_per_s);
    if (exact) {
        *exact = ways >= 0;
    }
}

/* A moment's walk through the points: where the play stands. */
typedef struct {
    const vs_reading_day *day;
    vs_dwell_planner *planner;
    double now_s;
    size_t next; /* point not yet told */
    double *extinction_per_m;
} walk;

static void pass_to(walk *w, const vs_rooms_model *model, double output_g_per_s, double to_s) {
    const vs_reading_day *d = w->day;
    while (w->next < d->count && d->point[w->next].at_s <= to_s) {
        double at_s = d->point[w->next].at_s;
        if (at_s > w->now_s) {
            vs_rooms_advance(model, output_g_per_s, at_s - w->now_s, w->planner->state);
            w->now_s = at_s;
        }
        size_t room = d->room[w->next];
        w->extinction_per_m[w->next++] = w->planner->state[room] / w->planner->volume_m3[room] *
                                         w->planner->out->extinction_m2_per_g;
    }
    if (to_s > w->now_s && w->next < d->count) {
        vs_rooms_advance(model, output_g_per_s, to_s - w->now_s, w->planner->state);
        w->now_s = to_s;
    }
}

static void play(walk *w, double until_s) {
    const vs_dwell *plan = w->day->plan;
    vs_dwell_planner *p = w->planner;
    for (size_t i = 0; i < plan->event_count && plan->event[i].at_s < until_s; i++) {
        const vs_dwell_event *e = &plan->event[i];
        bool blows = e->act == VS_DWELL_RUN || e->act == VS_DWELL_BURST;
        if (blows || e->act == VS_DWELL_PURGE) {
            pass_to(w, p->closed, 0, e->at_s);
            bool open = e->act == VS_DWELL_PURGE && p->can_purge;
            pass_to(w, open ? p->purged : p->closed, blows ? p->output_g_per_s : 0,
                    fmin(until_s, e->at_s + e->length_s));
        }
    }
    if (w->day->count > 0) {
        pass_to(w, p->closed, 0, w->day->point[w->day->count - 1].at_s);
    }
}

/* The scene with other losses; rooms is the caller's copy. */
static vs_scene changed_scene(const vs_reading_day *d, const double *loss_per_s,
                              vs_scene_room *rooms) {
    vs_scene scene = *d->scene;
    memcpy(rooms, scene.room, scene.room_count * sizeof *rooms);
    for (size_t i = 0; i < scene.room_count; i++) {
        if (!isnan(loss_per_s[i])) {
            vs_room_loss_to_rates(&scene.room[i], d->floor_loss_per_s[i], loss_per_s[i],
                                  &rooms[i].air_change_per_s, &rooms[i].deposition_per_s, NULL);
        }
    }
    scene.room = rooms;
    scene.shot_count = 0; /* the plan stands: nothing is to be steered */
    return scene;
}

vs_status vs_reading_replay(const vs_reading_day *d, const double *loss_per_s, double until_s,
                            double *extinction_per_m) {
    vs_scene_room *rooms = malloc((d->scene->room_count + 1) * sizeof *rooms);
    if (!rooms) {
        return VS_ERR_MEMORY;
    }
    vs_dwell scratch;
    vs_dwell_planner planner;
    vs_scene scene = changed_scene(d, loss_per_s, rooms);
    vs_status status = vs_dwell_planner_init(&planner, &scene, d->haze, NULL, NULL, &scratch);
    if (status == VS_OK) {
        walk w = {d, &planner, 0, 0, extinction_per_m};
        play(&w, until_s);
    }
    vs_dwell_planner_free(&planner);
    vs_dwell_free(&scratch);
    free(rooms);
    return status;
}

/* Parameters: ln of the output's ratio, ln of a fitted room's rates over their start, shared looks.
 */
typedef struct {
    const vs_reading_day *day;
    size_t *fitted; /* rooms whose loss is fitted */
    size_t fitted_count;
    double *rate_start;              /* [1/s] one a fitted room */
    double *loss_per_s, *extinction; /* work: one a room, one a point */
    vs_clear_looks looks;
} problem;

static double held(double logarithm) {
    return exp(fmax(-LOG_RATIO_MOST, fmin(LOG_RATIO_MOST, logarithm)));
}

static double rate_of(const problem *p, const double *parameter, size_t i) {
    return p->rate_start[i] * held(parameter[1 + i]);
}

static void residuals(const double *parameter, double *residual, void *context) {
    problem *p = context;
    const vs_reading_day *d = p->day;
    const double *look_error = parameter + 1 + p->fitted_count;
    for (size_t i = 0; i < p->fitted_count; i++) {
        size_t room = p->fitted[i];
        p->loss_per_s[room] = d->floor_loss_per_s[room] + rate_of(p, parameter, i);
    }
    bool played = vs_reading_replay(d, p->loss_per_s, INFINITY, p->extinction) == VS_OK;
    for (size_t i = 0; i < d->count; i++) {
        double k = held(parameter[0]) * p->extinction[i];
        residual[i] =
            played ? vs_clear_looks_residual(&p->looks, d->point, i, k, look_error) : (double)NAN;
    }
    memcpy(residual + d->count, look_error, p->looks.count * sizeof *residual);
}

/* Rooms read at two times or more. */
static void choose_rooms(problem *p) {
    const vs_reading_day *d = p->day;
    for (size_t room = 0; room < d->scene->room_count; room++) {
        double first = INFINITY, last = -INFINITY;
        for (size_t i = 0; i < d->count; i++) {
            if (d->room[i] == room) {
                first = fmin(first, d->point[i].at_s);
                last = fmax(last, d->point[i].at_s);
            }
        }
        p->loss_per_s[room] = NAN;
        if (last > first) {
            const vs_scene_room *r = &d->scene->room[room];
            p->rate_start[p->fitted_count] =
                fmax(RATE_LEAST, r->air_change_per_s + r->deposition_per_s);
            p->fitted[p->fitted_count++] = room;
        }
    }
}

/* ln of the output ratio that fits best with the losses as they are: a weighted mean. */
static vs_status start_output(problem *p, double *parameter) {
    const vs_reading_day *d = p->day;
    vs_status status = vs_reading_replay(d, p->loss_per_s, INFINITY, p->extinction);
    double seen = 0, planned = 0;
    for (size_t i = 0; status == VS_OK && i < d->count; i++) {
        double depth = d->point[i].path_m * p->extinction[i];
        double weight = 1 / (d->point[i].clear_variance + d->point[i].hazed_variance);
        seen += weight * depth * -d->point[i].log_kept;
        planned += weight * depth * depth;
    }
    if (status == VS_OK && !(planned > 0 && seen > 0)) {
        return VS_ERR_DOMAIN;
    }
    parameter[0] = log(seen / planned);
    return status;
}

static vs_status fit(problem *p, vs_plan_fit *out) {
    size_t n = 1 + p->fitted_count + p->looks.count;
    double *parameter = calloc(n, sizeof *parameter);
    double *covariance = calloc(n * n, sizeof *covariance);
    vs_status status = parameter && covariance ? start_output(p, parameter) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = vs_fit_least_squares(residuals, p, p->day->count + p->looks.count, n, TOLERANCE,
                                      parameter, covariance, &out->chi_square);
    }
    if (status == VS_OK) {
        out->output_ratio = held(parameter[0]);
        out->output_ratio_sd = out->output_ratio * sqrt(covariance[0]);
        out->parameters = 1 + p->fitted_count;
        for (size_t i = 0; i < p->fitted_count; i++) {
            size_t room = p->fitted[i], at = (1 + i) * (n + 1);
            double rate = rate_of(p, parameter, i);
            out->loss_per_s[room] = p->day->floor_loss_per_s[room] + rate;
            out->loss_sd_per_s[room] = rate * sqrt(covariance[at]);
        }
    }
    free(parameter);
    free(covariance);
    return status;
}

vs_status vs_reading_fit_plan(const vs_reading_day *day, vs_plan_fit *out) {
    size_t rooms = day->scene->room_count;
    out->output_ratio = out->output_ratio_sd = out->chi_square = NAN;
    for (size_t i = 0; i < rooms; i++) {
        out->loss_per_s[i] = out->loss_sd_per_s[i] = NAN;
    }
    problem p = {.day = day,
                 .fitted = malloc((rooms + 1) * sizeof *p.fitted),
                 .rate_start = malloc((rooms + 1) * sizeof *p.rate_start),
                 .loss_per_s = malloc((rooms + 1) * sizeof *p.loss_per_s),
                 .extinction = malloc((day->count + 1) * sizeof *p.extinction)};
    vs_status status = VS_ERR_MEMORY;
    if (p.fitted && p.rate_start && p.loss_per_s && p.extinction) {
        choose_rooms(&p);
        status = vs_clear_looks_init(&p.looks, day->point, day->count);
    }
    if (status == VS_OK) {
        status = fit(&p, out);
    }
    vs_clear_looks_free(&p.looks);
    free(p.fitted);
    free(p.rate_start);
    free(p.loss_per_s);
    free(p.extinction);
    return status;
}
