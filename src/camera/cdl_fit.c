/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fit of a CDL's ten numbers to pairs of signals: each channel on its own from several powers,
 * then all ten numbers together. */
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "cdl_model.h"
#include "veilstop/base/fit.h"
#include "veilstop/base/minimum.h"

#define POLISH_ROUNDS 3     /* over the four parts: our choice */
#define POLISH_MOST   160   /* evaluations of a part: our choice */
#define VALLEY_SLOPE  0.04  /* [1] how far along its valley a part is also tried: our choice */
#define VALLEY_POWER  0.025 /* [1] the power's share of that */
#define ON_CLAMP      1e-4  /* [signal] as near to a clamp as this is on it */

/* Clamps of a fit's descents, one after the other. */
static const vs_cdl_clamping stage[] = {{1e-6, true},  {1e-3, true},  {1e-3, false},
                                        {1e-4, false}, {1e-5, false}, {0, false}};
#define STAGES (sizeof stage / sizeof stage[0])

/* How far the scale moves for a step of the signal before the power, at a wanted signal. */
static double steepness(const vs_cdl_problem *p, double to, double power) {
    double h = 1e-4, low = fmax(0, to - h), high = fmin(1, to + h);
    double of_scale = (vs_cdl_on_scale(p, high) - vs_cdl_on_scale(p, low)) / (high - low);
    return of_scale * power * pow(fmax(to, h), 1 - 1 / power);
}

/* The straight line that a power asks of its channel, to^(1/power) = slope from + offset, each
 * sample weighted by what it counts on the scale: within a step or two of that power's best. */
static void channel_start(const vs_cdl_channel *c, double power, double *parameter) {
    double w = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (size_t i = 0; i < c->of->count; i++) {
        double from = c->of->sample[i].from.v[c->band];
        double to = fmax(0, fmin(1, c->of->sample[i].to.v[c->band]));
        double steep = steepness(c->of, to, power), weight = steep * steep;
        double root = pow(to, 1 / power);
        w += weight;
        x += weight * from;
        y += weight * root;
        xx += weight * from * from;
        xy += weight * from * root;
    }
    double spread = xx - x * x / w;
    double slope = spread > 0 ? (xy - x * y / w) / spread : 1;
    slope = slope > exp(-VS_CDL_LOG_MOST) && slope < exp(VS_CDL_LOG_MOST) ? slope : 1;
    double offset = (y - slope * x) / w;
    parameter[0] = log(slope);
    parameter[1] = isfinite(offset) ? offset : 0;
    parameter[2] = log(power);
}

/* [1] powers that a channel is tried from: a decode and an encode apart on either side */
static const double power_tried[] = {0.2, 0.35, 0.6, 1, 1.7, 3};
#define POWERS_TRIED (sizeof power_tried / sizeof power_tried[0])

/* Keeps a channel's numbers if they are the best so far. */
static void keep_channel(const vs_cdl_channel *c, const double *parameter, double *best,
                         double *least) {
    double sum = vs_cdl_channel_sum(c, parameter);
    if (sum < *least) {
        memcpy(best, parameter, VS_CDL_CHANNEL_PARAMETERS * sizeof *best);
        *least = sum;
    }
}

/* Slope, offset and power of one band by itself; the identity where nothing is nearer. A descent
 * that does not end leaves the line it came from. */
static vs_status fit_channel(const vs_cdl_problem *p, size_t band, double *best) {
    vs_cdl_channel c = {p, band};
    best[0] = best[1] = best[2] = 0;
    double least = vs_cdl_channel_sum(&c, best);
    for (size_t k = 0; k < POWERS_TRIED; k++) {
        double parameter[VS_CDL_CHANNEL_PARAMETERS];
        channel_start(&c, power_tried[k], parameter);
        keep_channel(&c, parameter, best, &least);
        vs_status status =
            vs_fit_least_squares(vs_cdl_channel_residuals, vs_cdl_channel_slopes, &c,
                                 p->count + VS_CDL_CHANNEL_PARAMETERS, VS_CDL_CHANNEL_PARAMETERS,
                                 p->goal->tolerance, parameter, NULL, NULL);
        if (status == VS_OK) {
            keep_channel(&c, parameter, best, &least);
        } else if (status != VS_ERR_CONVERGENCE) {
            return status;
        }
    }
    return VS_OK;
}

/* ---- all ten numbers ---- */

/* Keeps a set of numbers if it is the best so far, the pull on its saturation counted. */
static void keep_best(const vs_cdl_problem *p, const double *parameter, vs_cdl *best,
                      double *best_sum) {
    vs_cdl cdl = vs_cdl_from_parameters(parameter);
    double pull = vs_cdl_saturation_pull(p, parameter[VS_CDL_SATURATION]);
    double sum = vs_cdl_sum(p, &cdl) + pull * pull;
    if (sum < *best_sum) {
        *best = cdl;
        *best_sum = sum;
    }
}

static vs_status descend_all(vs_cdl_problem *p, double *parameter) {
    return vs_fit_least_squares(vs_cdl_residuals, vs_cdl_slopes, p,
                                VS_BAND_COUNT * p->count + VS_CDL_PARAMETERS, VS_CDL_PARAMETERS,
                                p->goal->tolerance, parameter, NULL, NULL);
}

/* Fits from one start, stage after stage; one that does not end is left out. */
static vs_status try_start(vs_cdl_problem *p, const double *start, vs_cdl *best, double *best_sum) {
    double parameter[VS_CDL_PARAMETERS], before[VS_CDL_PARAMETERS];
    memcpy(parameter, start, sizeof parameter);
    keep_best(p, parameter, best, best_sum);
    vs_status found = VS_ERR_CONVERGENCE;
    for (size_t k = 0; k < STAGES; k++) {
        p->how = stage[k];
        memcpy(before, parameter, sizeof before);
        vs_status status = descend_all(p, parameter);
        if (status == VS_OK) {
            keep_best(p, parameter, best, best_sum);
            found = VS_OK;
        } else if (status == VS_ERR_CONVERGENCE) {
            memcpy(parameter, before, sizeof before);
        } else {
            return status;
        }
    }
    return found;
}

/* Saturations that the ten are tried from, by their logarithm; 0: as the channels are. */
static const double saturation_tried[] = {0, -0.4, 0.4};
#define SATURATIONS_TRIED (sizeof saturation_tried / sizeof saturation_tried[0])

/* [1] over the mean power of the best */
static const double alike_tried[] = {1, 1.06, 0.94};
#define ALIKE_TRIED (sizeof alike_tried / sizeof alike_tried[0])

typedef struct {
    vs_cdl cdl;
    double sum;
} best_of;

static void place_channel(double *parameter, size_t band, const double *one) {
    for (size_t k = 0; k < VS_CDL_CHANNEL_PARAMETERS; k++) {
        parameter[3 * k + band] = one[k];
    }
}

static bool prepare(vs_cdl_problem *p) {
    double least = INFINITY, most = -INFINITY;
    p->lowest = INFINITY;
    for (size_t i = 0; i < p->count; i++) {
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            double wanted = vs_cdl_on_scale(p, p->sample[i].to.v[b]);
            if (!isfinite(wanted) || !isfinite(p->sample[i].from.v[b])) {
                return false;
            }
            p->wanted[VS_BAND_COUNT * i + b] = wanted;
            p->lowest = fmin(p->lowest, p->sample[i].to.v[b]);
            least = fmin(least, wanted);
            most = fmax(most, wanted);
        }
    }
    p->reach = fmax(most - least, 1);
    return true;
}

/* Tries a start; *found: whether any has led to a minimum. */
static vs_status try_and_note(vs_cdl_problem *p, const double *start, best_of *best, bool *found) {
    vs_status status = try_start(p, start, &best->cdl, &best->sum);
    *found = *found || status == VS_OK;
    return status == VS_ERR_CONVERGENCE ? VS_OK : status;
}

/* From each channel by itself, at several saturations. */
static vs_status try_channels(vs_cdl_problem *p, best_of *best, bool *found) {
    double start[VS_CDL_PARAMETERS] = {0};
    vs_status status = VS_OK;
    for (size_t b = 0; b < VS_BAND_COUNT && status == VS_OK; b++) {
        double one[VS_CDL_CHANNEL_PARAMETERS];
        status = fit_channel(p, b, one);
        place_channel(start, b, one);
    }
    for (size_t k = 0; k < SATURATIONS_TRIED && status == VS_OK; k++) {
        start[VS_CDL_SATURATION] = saturation_tried[k];
        status = try_and_note(p, start, best, found);
    }
    return status;
}

/* Once more from the best, and from the lines of one power for all channels near it: corners hold
 * descents, and channels held at different ones drift apart. */
static vs_status try_again(vs_cdl_problem *p, best_of *best, bool *found) {
    double start[VS_CDL_PARAMETERS], one[VS_CDL_CHANNEL_PARAMETERS];
    vs_cdl_to_parameters(&best->cdl, start);
    vs_status status = try_and_note(p, start, best, found);
    for (size_t k = 0; k < ALIKE_TRIED && status == VS_OK; k++) {
        const vs_cdl *at = &best->cdl;
        double power = cbrt(at->power.v[0] * at->power.v[1] * at->power.v[2]);
        vs_cdl_to_parameters(at, start);
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            vs_cdl_channel c = {p, b};
            channel_start(&c, alike_tried[k] * power, one);
            place_channel(start, b, one);
        }
        status = try_and_note(p, start, best, found);
    }
    return status;
}

/* A channel's worth of the ten numbers, the others held. */
typedef struct {
    const vs_cdl_problem *of;
    double *all;         /* VS_CDL_PARAMETERS */
    const size_t *place; /* VS_CDL_CHANNEL_PARAMETERS */
} part;

static double part_cost(const double *x, void *context) {
    const part *p = context;
    for (size_t k = 0; k < VS_CDL_CHANNEL_PARAMETERS; k++) {
        p->all[p->place[k]] = x[k];
    }
    vs_cdl cdl = vs_cdl_from_parameters(p->all);
    double pull = vs_cdl_saturation_pull(p->of, p->all[VS_CDL_SATURATION]);
    return vs_cdl_sum(p->of, &cdl) + pull * pull;
}

/* One part, from where it stands and from either side along its valley, in which slope, offset and
 * power go up together; `all` keeps the best. */
static vs_status polish_part(part *of, const double *step) {
    double least = INFINITY;
    const double centre[VS_CDL_CHANNEL_PARAMETERS] = {of->all[of->place[0]], of->all[of->place[1]],
                                                      of->all[of->place[2]]};
    double kept[VS_CDL_CHANNEL_PARAMETERS] = {centre[0], centre[1],
                                              centre[2]}; /* where none is less */
    for (int side = -1; side <= 1; side++) {
        double value, x[VS_CDL_CHANNEL_PARAMETERS] = {centre[0] + VALLEY_SLOPE * side,
                                                      centre[1] * (1 + VALLEY_SLOPE * side),
                                                      centre[2] + VALLEY_POWER * side};
        vs_status status = vs_minimum_simplex(part_cost, of, VS_CDL_CHANNEL_PARAMETERS, step,
                                              POLISH_MOST, x, &value);
        if (status != VS_OK) {
            return status;
        }
        if (value < least) {
            least = value;
            memcpy(kept, x, sizeof kept);
        }
    }
    part_cost(kept, of); /* leaves them in `all` */
    return VS_OK;
}

/* Where clamps make corners, descents by slopes end on them, each channel on its own. A simplex
 * goes round corners: it takes each channel by itself, then what all have in common. */
static vs_status polish(const vs_cdl_problem *p, best_of *best) {
    static const size_t place[][VS_CDL_CHANNEL_PARAMETERS] = {
        {0, 3, 6}, {1, 4, 7}, {2, 5, 8}, {9, 4, 7}};
    static const double step[VS_CDL_CHANNEL_PARAMETERS] = {0.03, 0.01, 0.03};
    double all[VS_CDL_PARAMETERS];
    vs_cdl_to_parameters(&best->cdl, all);
    for (size_t k = 0; k < POLISH_ROUNDS * sizeof place / sizeof place[0]; k++) {
        part of = {p, all, place[k % (sizeof place / sizeof place[0])]};
        vs_status status = polish_part(&of, step);
        if (status != VS_OK) {
            return status;
        }
    }
    keep_best(p, all, &best->cdl, &best->sum);
    return VS_OK;
}

/* Whether a CDL leaves a sample beyond one of its clamps, or on it. */
static bool clamps(const vs_cdl_problem *p, const vs_cdl *cdl) {
    for (size_t i = 0; i < p->count; i++) {
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            double signal = p->sample[i].from.v[b] * cdl->slope.v[b] + cdl->offset.v[b];
            if (!(signal > ON_CLAMP && signal < 1 - ON_CLAMP)) {
                return true;
            }
        }
    }
    return false;
}

static vs_status fit_best(vs_cdl_problem *p, vs_cdl *cdl) {
    if (!prepare(p)) {
        return VS_ERR_DOMAIN;
    }
    p->how = stage[0];
    best_of best = {*cdl, vs_cdl_sum(p, cdl)};
    bool found = false;
    vs_status status = try_channels(p, &best, &found);
    if (status == VS_OK) {
        status = try_again(p, &best, &found);
    }
    if (status == VS_OK && clamps(p, &best.cdl)) {
        status = polish(p, &best);
    }
    *cdl = best.cdl;
    return status == VS_OK && !found ? VS_ERR_CONVERGENCE : status;
}

vs_status vs_cdl_fit(const vs_cdl_sample *sample, size_t count, const vs_cdl_goal *goal,
                     vs_cdl *cdl, double *rms) {
    *cdl = vs_cdl_identity();
    if (rms) {
        *rms = NAN;
    }
    if (VS_BAND_COUNT * count < VS_CDL_PARAMETERS || !(goal->colour_least >= 0)) {
        return VS_ERR_DOMAIN;
    }
    vs_cdl_worked_out bands[VS_BAND_COUNT] = {{.full = false}};
    vs_cdl_problem p = {.sample = sample, .count = count, .channel = bands, .goal = goal};
    double *memory = malloc(count * 3 * VS_BAND_COUNT * sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    p.wanted = memory;
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        bands[b].out = memory + (VS_BAND_COUNT + 2 * b) * count;
        bands[b].beyond = bands[b].out + count;
    }
    vs_status status = fit_best(&p, cdl);
    if (status != VS_OK) {
        *cdl = vs_cdl_identity();
    } else if (rms) {
        *rms = sqrt(vs_cdl_sum(&p, cdl) / (3.0 * (double)count));
    }
    free(memory);
    return status;
}
