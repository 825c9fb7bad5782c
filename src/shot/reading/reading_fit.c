/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The two models of a day's readings, fitted to ln q by least squares with prior knowledge: the
 * scene's output and losses are over 0 and right within a factor. Each parameter is the logarithm
 * of a ratio, with a normal prior; the error of a clear reading that several readings share is a
 * parameter of unit deviation. The deviations are those of the posterior, to first order (Gelman et
 * al. 2013, Bayesian Data Analysis, ch. 4). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/reading/reading_fit.h"
#include "veilstop/base/fit.h"

#define TOLERANCE    1e-8
#define LOG_MOST     6.0 /* [1] ratios stay within e^-6 to e^6 of the scene's */
#define RISE_SIGMAS  3.0 /* [deviations] a rise not due to the meter: once in 700 */
#define START_SD     1.5 /* [1] of ln density as a period begins, about the reading: weak */
#define UNREAD_SD    1.0 /* [1] the same for an unread room, about the plan's share: our choice */
#define UNREAD_SHARE 0.3 /* [1] of the read room's density, without a plan: our choice */
#define FAR_SIGMAS   1.5 /* [deviations] of the output, beyond which they count less: our choice */
/* [1] factor on the first-order deviations of ratios, because the weights come from the same meter;
 * set on 6000 simulated days, judged on others */
#define WEIGHTS_READ 1.06
#define STEP         1e-4 /* [1] of a parameter, for derivatives */

typedef struct {
    const vs_reading_day *day;
    bool as_plan;
    size_t *fitted; /* rooms whose losses are fitted: those read, and their neighbours */
    size_t fitted_count;
    size_t *period; /* one per point */
    size_t periods; /* of a decay */
    double *centre; /* period x fitted: prior mean of ln density [1/m] at its start */
    double *spread;
    size_t *clear; /* one per point: its shared clear reading, or VS_NONE */
    size_t clear_count;
    double *own_per_s, *start_per_m, *extinction; /* work */
    bool starved; /* memory ran out while a day was played, which the solver does not learn */
} problem;

/* ---- layout of the parameters: output | losses | starts | clear readings ---- */

static size_t at_loss(const problem *p, size_t i) {
    return (p->as_plan ? 1 : 0) + i;
}
static size_t at_start(const problem *p, size_t period, size_t i) {
    return p->fitted_count + period * p->fitted_count + i;
}
static size_t start_count(const problem *p) {
    return p->as_plan ? 0 : p->periods * p->fitted_count;
}
static size_t at_clear(const problem *p, size_t clear) {
    return at_loss(p, p->fitted_count) + start_count(p) + clear;
}
static size_t parameter_count(const problem *p) {
    return at_clear(p, p->clear_count);
}

static double ratio(double logarithm) {
    return exp(fmax(-LOG_MOST, fmin(LOG_MOST, logarithm)));
}

/* ---- the model ---- */

static vs_status play(problem *p, const double *parameter) {
    const vs_reading_day *d = p->day;
    size_t n = d->scene->room_count;
    memcpy(p->own_per_s, d->own_per_s, n * sizeof *p->own_per_s);
    for (size_t i = 0; i < p->fitted_count; i++) {
        p->own_per_s[p->fitted[i]] *= ratio(parameter[at_loss(p, i)]);
    }
    if (p->as_plan) {
        vs_status status = vs_reading_replay(d, p->own_per_s, p->extinction);
        for (size_t i = 0; i < d->count; i++) {
            p->extinction[i] *= ratio(parameter[0]);
        }
        return status;
    }
    for (size_t s = 0; s < p->periods; s++) {
        for (size_t i = 0; i < p->fitted_count; i++) {
            double centre = p->centre[s * p->fitted_count + i];
            p->start_per_m[s * n + p->fitted[i]] =
                exp(centre) * ratio(parameter[at_start(p, s, i)]);
        }
    }
    return vs_reading_decay(d, p->own_per_s, p->period, p->start_per_m, p->extinction);
}

/* Residual of point i, in standard deviations. */
static double point_residual(const problem *p, const double *parameter, size_t i) {
    const vs_reading_point *point = &p->day->point[i];
    double off = point->path_m * p->extinction[i] + point->log_kept;
    if (p->clear[i] == VS_NONE) {
        return off / sqrt(point->clear_variance + point->hazed_variance);
    }
    off += sqrt(point->clear_variance) * parameter[at_clear(p, p->clear[i])];
    return off / sqrt(point->hazed_variance);
}

static vs_status predict(problem *p, const double *parameter) {
    vs_status status = play(p, parameter);
    p->starved = p->starved || status == VS_ERR_MEMORY;
    return status;
}

/* ln of the output over the plan's for a decay: its density over the plan's where it began. */
static double log_output(problem *p, const double *parameter, size_t point) {
    if (predict(p, parameter) != VS_OK) {
        return NAN;
    }
    double began = p->extinction[point];
    vs_status played = vs_reading_replay(p->day, p->own_per_s, p->extinction);
    p->starved = p->starved || played == VS_ERR_MEMORY;
    return played == VS_OK && p->extinction[point] > 0 ? log(began / p->extinction[point])
                                                       : (double)NAN;
}

/* Difference of a decay's output from the scene's, in deviations; large ones count linearly, not
 * squared (Huber 1964, smoothed), because the runs before the first reading may not have been the
 * plan's. */
static double output_residual(problem *p, const double *parameter) {
    double found = p->as_plan || !p->day->plan ? (double)NAN : log_output(p, parameter, 0);
    if (isnan(found)) {
        return 0;
    }
    double z = found / VS_READING_PRIOR_SD;
    double bent = FAR_SIGMAS * sqrt(2 * (hypot(1, z / FAR_SIGMAS) - 1));
    return z < 0 ? -bent : bent;
}

static void residuals(const double *parameter, double *residual, void *context) {
    problem *p = context;
    size_t count = p->day->count, parameters = parameter_count(p);
    bool good = predict(p, parameter) == VS_OK;
    for (size_t i = 0; i < count; i++) {
        residual[i] = good ? point_residual(p, parameter, i) : (double)NAN;
    }
    for (size_t i = 0; i < parameters; i++) {
        double sd = i < at_loss(p, p->fitted_count) ? VS_READING_PRIOR_SD : 1;
        size_t start = i - at_loss(p, p->fitted_count);
        if (i >= at_loss(p, p->fitted_count) && start < start_count(p)) {
            sd = p->spread[start];
        }
        residual[count + i] = parameter[i] / sd;
    }
    residual[count + parameters] = good ? output_residual(p, parameter) : (double)NAN;
}

/* ---- setup ---- */

static double measured(const vs_reading_point *point) {
    return -point->log_kept / point->path_m;
}

/* Whether haze was added between two points of a room; the error of a shared clear reading
 * cancels. */
static bool rises(const vs_reading_point *a, const vs_reading_point *b) {
    double own = a->clear == b->clear ? 0 : 1;
    double variance = (a->hazed_variance + own * a->clear_variance) / (a->path_m * a->path_m) +
                      (b->hazed_variance + own * b->clear_variance) / (b->path_m * b->path_m);
    return measured(b) - measured(a) > RISE_SIGMAS * sqrt(variance);
}

/* Splits a decay where a hazer's room shows that haze was added. */
static void cut(problem *p) {
    const vs_reading_point *point = p->day->point;
    p->periods = p->day->count > 0;
    for (size_t i = 0; i < p->day->count; i++) {
        size_t before = i;
        while (before > 0 && point[before - 1].room != point[i].room) {
            before--;
        }
        bool apart = before > 0 && point[i].at_s > point[before - 1].at_s;
        bool first_then = i > 0 && point[i].at_s > point[i - 1].at_s;
        if (apart && first_then && rises(&point[before - 1], &point[i])) {
            p->periods++;
        }
        p->period[i] = p->periods - 1;
    }
}

static bool was_read(const problem *p, size_t room) {
    for (size_t i = 0; i < p->day->count; i++) {
        if (p->day->point[i].room == room) {
            return true;
        }
    }
    return false;
}

static void choose_rooms(problem *p) {
    const vs_scene *scene = p->day->scene;
    for (size_t room = 0; room < scene->room_count; room++) {
        bool taken = was_read(p, room);
        for (size_t i = 0; i < scene->opening_count && !taken; i++) {
            const vs_scene_opening *o = &scene->opening[i];
            bool here = o->room[0] == room || o->room[1] == room;
            size_t other = o->room[0] == room ? o->room[1] : o->room[0];
            taken = here && other != VS_OUTSIDE && was_read(p, other) &&
                    vs_dwell_exchange_m3_per_s(o) > 0;
        }
        if (taken) {
            p->fitted[p->fitted_count++] = room;
        }
    }
}

static void share_clear_readings(problem *p) {
    const vs_reading_point *point = p->day->point;
    for (size_t i = 0; i < p->day->count; i++) {
        size_t uses = 0, first = i;
        for (size_t k = p->day->count; k-- > 0;) {
            if (point[k].clear == point[i].clear) {
                uses++;
                first = k;
            }
        }
        p->clear[i] = uses < 2 ? VS_NONE : first < i ? p->clear[first] : p->clear_count++;
    }
}

/* Prior of the density at the start of a decay's period: the room's first reading in it, but not
 * below what a reading can resolve; for an unread room, by the plan's ratio to one that was
 * read. */
static void centre_starts(problem *p) {
    const vs_reading_point *point = p->day->point;
    for (size_t s = 0; s < p->periods; s++) {
        double *centre = p->centre + s * p->fitted_count, *spread = p->spread + s * p->fitted_count;
        double thickest = 0;
        for (size_t i = 0; i < p->fitted_count; i++) {
            centre[i] = NAN;
            for (size_t k = p->day->count; k-- > 0;) {
                if (p->period[k] == s && point[k].room == p->fitted[i]) {
                    double sd = sqrt(point[k].clear_variance + point[k].hazed_variance);
                    centre[i] = fmax(measured(&point[k]), sd / point[k].path_m);
                }
            }
            thickest = fmax(thickest, centre[i]);
        }
        for (size_t i = 0; i < p->fitted_count; i++) {
            spread[i] = isnan(centre[i]) ? UNREAD_SD : START_SD;
            centre[i] = log(isnan(centre[i]) ? UNREAD_SHARE * thickest : centre[i]);
        }
    }
}

static vs_status problem_init(problem *p, const vs_reading_day *day, bool as_plan) {
    size_t rooms = day->scene->room_count + 1, points = day->count + 1;
    const problem blank = {.day = day, .as_plan = as_plan};
    *p = blank;
    p->fitted = calloc(rooms, sizeof *p->fitted);
    p->period = calloc(points, sizeof *p->period);
    p->clear = calloc(points, sizeof *p->clear);
    p->centre = calloc(2 * rooms * points, sizeof *p->centre);
    p->own_per_s = calloc(rooms, sizeof *p->own_per_s);
    p->start_per_m = calloc(rooms * points, sizeof *p->start_per_m);
    p->extinction = calloc(points, sizeof *p->extinction);
    if (!p->fitted || !p->period || !p->clear || !p->centre || !p->own_per_s || !p->start_per_m ||
        !p->extinction) {
        return VS_ERR_MEMORY;
    }
    p->spread = p->centre + rooms * points;
    choose_rooms(p);
    share_clear_readings(p);
    if (!as_plan) {
        cut(p);
        centre_starts(p);
    }
    return VS_OK;
}

static void problem_free(problem *p) {
    free(p->fitted);
    free(p->period);
    free(p->clear);
    free(p->centre);
    free(p->own_per_s);
    free(p->start_per_m);
    free(p->extinction);
}

/* ---- results of the fit ---- */

/* A function of the parameters; NaN if undefined. */
typedef double (*figure)(problem *p, const double *parameter, size_t which);

static double log_last(problem *p, const double *parameter, size_t point) {
    return predict(p, parameter) == VS_OK ? log(p->extinction[point]) : (double)NAN;
}

/* A figure's standard deviation from the parameters' covariance, with derivatives by
 * differences. */
static double deviation(problem *p, figure of, size_t which, double *parameter,
                        const double *covariance, double *slope) {
    size_t n = parameter_count(p);
    double variance = 0;
    for (size_t i = 0; i < n; i++) {
        double at = parameter[i];
        parameter[i] = at + STEP;
        slope[i] = of(p, parameter, which);
        parameter[i] = at - STEP;
        slope[i] = (slope[i] - of(p, parameter, which)) / (2 * STEP);
        parameter[i] = at;
    }
    for (size_t i = 0; i < n * n; i++) {
        variance += slope[i / n] * covariance[i] * slope[i % n];
    }
    return sqrt(fmax(0, variance));
}

static size_t last_point(const problem *p, size_t room) {
    size_t last = VS_NONE;
    for (size_t i = 0; i < p->day->count; i++) {
        last = p->day->point[i].room == room ? i : last;
    }
    return last;
}

static void tell_output(problem *p, double *parameter, const double *covariance, double *slope,
                        vs_reading_story *story) {
    if (p->as_plan) {
        story->output_log = parameter[0];
        story->output_sd = WEIGHTS_READ * sqrt(covariance[0]);
        return;
    }
    story->output_log = p->day->plan ? log_output(p, parameter, 0) : (double)NAN;
    if (!isnan(story->output_log)) {
        story->output_sd = WEIGHTS_READ * deviation(p, log_output, 0, parameter, covariance, slope);
    }
}

static void tell(problem *p, double *parameter, const double *covariance, double *slope,
                 vs_reading_story *story) {
    size_t n = parameter_count(p);
    for (size_t i = 0; i < p->fitted_count; i++) {
        size_t at = at_loss(p, i), room = p->fitted[i], last = last_point(p, room);
        story->loss_log[room] = parameter[at];
        story->loss_sd[room] = WEIGHTS_READ * sqrt(covariance[at * n + at]);
        if (last != VS_NONE) {
            double ln = log_last(p, parameter, last);
            story->last_per_m[room] = exp(ln);
            story->last_sd[room] =
                isfinite(ln) ? exp(ln) * deviation(p, log_last, last, parameter, covariance, slope)
                             : (double)NAN;
        }
    }
    tell_output(p, parameter, covariance, slope, story);
    story->starts = start_count(p);
    story->chi_square = 0;
    for (size_t i = 0; i < p->day->count && predict(p, parameter) == VS_OK; i++) {
        double r = point_residual(p, parameter, i);
        story->chi_square += r * r;
    }
}

static vs_status fit(problem *p, vs_reading_story *story) {
    size_t n = parameter_count(p);
    if (n == 0) {
        return VS_ERR_DOMAIN;
    }
    double *parameter = calloc(2 * n, sizeof *parameter);
    double *covariance = calloc(n * n, sizeof *covariance);
    vs_status status = parameter && covariance ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = vs_fit_least_squares(residuals, p, p->day->count + n + 1, n, TOLERANCE, parameter,
                                      covariance, &story->misfit);
    }
    if (status == VS_OK) {
        tell(p, parameter, covariance, parameter + n, story);
    }
    free(parameter);
    free(covariance);
    return status;
}

vs_status vs_reading_fit(const vs_reading_day *day, bool as_plan, vs_reading_story *story) {
    problem p;
    story->output_log = story->output_sd = story->misfit = story->chi_square = NAN;
    for (size_t i = 0; i < day->scene->room_count; i++) {
        story->loss_log[i] = story->loss_sd[i] = NAN;
        story->last_per_m[i] = story->last_sd[i] = NAN;
    }
    vs_status status = problem_init(&p, day, as_plan);
    if (status == VS_OK) {
        status = fit(&p, story);
        status = p.starved ? VS_ERR_MEMORY : status;
    }
    problem_free(&p);
    return status;
}
