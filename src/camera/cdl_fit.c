/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fit of a CDL's ten numbers to pairs of signals: each channel on its own from several powers,
 * then all ten numbers together. */
#include "veilstop/camera/cdl.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/fit.h"
#include "veilstop/base/minimum.h"

#define PARAMETER_COUNT    10 /* three slopes, offsets, powers; one saturation */
#define CHANNEL_PARAMETERS 3  /* slope, offset, power */
#define SATURATION         9  /* place of the last */
#define RIDGE              1e-6 /* [1] pull to the identity: decides only what the samples leave open */
#define LOG_MOST           4.0  /* [1] slopes, powers and saturation stay within e^-4 to e^4 */
#define CREEP              1e-6 /* [1] of the squared errors: smaller gains are invisible */
#define POLISH_ROUNDS      3    /* over the four parts: our choice */
#define POLISH_MOST        160  /* evaluations of a part: our choice */
#define ON_CLAMP           1e-4 /* [signal] as near to a clamp as this is on it */
#define FAR                40.0 /* [1] from here 1 + e^-x is 1 to every digit */
#define LEAST              1e-6 /* [signal] stands for one on the clamp, which has no logarithm */

static double clamp(double signal) {
    return signal < 0 ? 0 : signal > 1 ? 1 : signal;
}

/* How a descent takes the clamps. A hard clamp has no slope beyond its corner, where a sample has
 * no influence on the fit, and the corner itself stops gradient methods. So a fit begins with
 * corners rounded and a penalty for what lies beyond them; then the penalty goes, then the corners
 * become sharp. */
typedef struct {
    double rounded; /* [signal] how far corners are; 0: not at all */
    bool felt;      /* what lies beyond counts */
} clamping;
static const clamping stage[] = {{1e-6, true},  {1e-3, true},  {1e-3, false},
                                 {1e-4, false}, {1e-5, false}, {0, false}};
#define STAGES (sizeof stage / sizeof stage[0])
static const clamping hard = {0, false};

/* One channel of every sample through slope, offset and power, until one of these or the clamps
 * change: a descent moves one number at a time, and most of its time goes into powers. */
typedef struct {
    bool full;
    clamping how;
    double slope, offset, power;
    double *out, *beyond; /* of each sample */
} worked_out;

typedef struct {
    const vs_cdl_sample *sample;
    size_t count;
    worked_out *channel; /* VS_BAND_COUNT */
    const vs_cdl_goal *goal;
    double tolerance; /* the goal's, or CREEP: in a flat valley, as noise has, less never ends */
    clamping how;     /* in this descent */
    double reach;     /* [scale per signal] what it counts for */
    double lowest;    /* [signal] of all that is wanted */
    double *wanted;   /* count x 3: scale(to) */
    double unchanged[PARAMETER_COUNT]; /* of the identity */
    double pivot[VS_BAND_COUNT];       /* [signal] of `from` */
} problem;

static double on_scale(const problem *p, double signal) {
    return p->goal->scale ? p->goal->scale(signal, p->goal->context) : signal;
}

/* A hard stop beyond anything a grade needs keeps exp() finite on wild trial steps. */
static double positive(double logarithm) {
    return exp(fmax(-LOG_MOST, fmin(LOG_MOST, logarithm)));
}

/* A channel's numbers as descents have them: what comes out at its pivot, a bright signal, and how
 * steeply that rises there, both as logarithms, and the power's. Slope, offset and power make one
 * long bent valley, along which the first two hardly change. */
enum { LEVEL, STEEPNESS, POWER };

static void channel_numbers(const problem *p, size_t b, const double *parameter, vs_cdl *cdl) {
    double power = positive(parameter[POWER]);
    double level = exp(fmax(-FAR, fmin(FAR, parameter[LEVEL] / power)));
    double slope = positive(log(level / power) + parameter[STEEPNESS]);
    cdl->slope.v[b] = slope;
    cdl->offset.v[b] = level - slope * p->pivot[b];
    cdl->power.v[b] = power;
}

static void channel_parameters(const problem *p, size_t b, const vs_cdl *cdl, double *parameter) {
    double slope = cdl->slope.v[b], power = cdl->power.v[b];
    double level = fmax(slope * p->pivot[b] + cdl->offset.v[b], LEAST);
    parameter[LEVEL] = power * log(level);
    parameter[STEEPNESS] = log(power * slope / level);
    parameter[POWER] = log(power);
}

static vs_cdl from_parameters(const problem *p, const double *parameter) {
    vs_cdl cdl;
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        channel_numbers(p, b, parameter + CHANNEL_PARAMETERS * b, &cdl);
    }
    cdl.saturation = positive(parameter[SATURATION]);
    return cdl;
}

static void to_parameters(const problem *p, const vs_cdl *cdl, double *parameter) {
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        channel_parameters(p, b, cdl, parameter + CHANNEL_PARAMETERS * b);
    }
    parameter[SATURATION] = log(cdl->saturation);
}

/* log(1 + e^x) without overflow, and without work where it is one of its two lines. */
static double softplus(double x) {
    if (fabs(x) > FAR) {
        return x > 0 ? x : 0;
    }
    return x > 0 ? x + log1p(exp(-x)) : log1p(exp(x));
}

/* A clamp as the descent takes it; adds to *beyond what the signal beyond it counts for. */
static double squeeze(const problem *p, double signal, double *beyond) {
    double held = clamp(signal);
    double r = p->how.rounded;
    if (r > 0) {
        held = r * (softplus(signal / r) - softplus((signal - 1) / r));
    }
    if (p->how.felt) {
        *beyond += p->reach * (signal - held);
    }
    return held;
}

static bool is_worked_out(const worked_out *w, const problem *p, const vs_cdl *cdl, int b) {
    return w->full && w->how.rounded == p->how.rounded && w->how.felt == p->how.felt &&
           w->slope == cdl->slope.v[b] && w->offset == cdl->offset.v[b] &&
           w->power == cdl->power.v[b];
}

static void work_out(const problem *p, const vs_cdl *cdl) {
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        worked_out *w = &p->channel[b];
        if (is_worked_out(w, p, cdl, b)) {
            continue;
        }
        w->full = true;
        w->how = p->how;
        w->slope = cdl->slope.v[b];
        w->offset = cdl->offset.v[b];
        w->power = cdl->power.v[b];
        for (size_t i = 0; i < p->count; i++) {
            double signal = p->sample[i].from.v[b] * w->slope + w->offset;
            w->beyond[i] = 0;
            w->out[i] = pow(squeeze(p, signal, &w->beyond[i]), w->power);
        }
    }
}

/* A scale may have no slope either where nothing should be: under the lowest signal wanted. */
static double miss(const problem *p, double out, double beyond, size_t i, size_t b) {
    if (p->how.felt) {
        beyond -= p->reach * p->how.rounded * softplus((p->lowest - out) / p->how.rounded);
    }
    return on_scale(p, out) + beyond - p->wanted[VS_BAND_COUNT * i + b];
}

/* What a saturation off 1 is held to cost where the samples have little colour; a residual. */
static double saturation_pull(const problem *p, double logarithm) {
    return p->goal->colour_least * sqrt(3.0 * (double)p->count) * logarithm;
}

static void residuals(const double *parameter, double *residual, void *context) {
    const problem *p = context;
    vs_cdl cdl = from_parameters(p, parameter);
    work_out(p, &cdl);
    for (size_t i = 0; i < p->count; i++) {
        vs_bands sop, beyond;
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            sop.v[b] = p->channel[b].out[i];
            beyond.v[b] = p->channel[b].beyond[i];
        }
        double luma = vs_bands_luminance(sop);
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            double out = luma + cdl.saturation * (sop.v[b] - luma);
            out = squeeze(p, out, &beyond.v[b]);
            residual[VS_BAND_COUNT * i + b] = miss(p, out, beyond.v[b], i, b);
        }
    }
    double ridge = RIDGE * sqrt((double)p->count);
    double *pull = residual + VS_BAND_COUNT * p->count;
    for (size_t k = 0; k < PARAMETER_COUNT; k++) {
        pull[k] = ridge * (parameter[k] - p->unchanged[k]);
    }
    pull[SATURATION] += saturation_pull(p, parameter[SATURATION]);
}

static double sum_of_squares(const problem *p, const vs_cdl *cdl) {
    problem as_it_is = *p;
    as_it_is.how = hard;
    double sum = 0;
    work_out(&as_it_is, cdl);
    for (size_t i = 0; i < p->count; i++) {
        vs_bands sop = {{p->channel[0].out[i], p->channel[1].out[i], p->channel[2].out[i]}};
        double luma = vs_bands_luminance(sop);
        for (size_t b = 0; b < VS_BAND_COUNT; b++) { /* as vs_cdl_apply */
            double out = clamp(luma + cdl->saturation * (sop.v[b] - luma));
            double error = miss(&as_it_is, out, 0, i, b);
            sum += error * error;
        }
    }
    return sum;
}

/* ---- one channel by itself, saturation left at 1 ---- */

typedef struct {
    const problem *of;
    size_t band;
} channel;

static double channel_out(const channel *c, const vs_cdl *cdl, size_t i, double *beyond) {
    size_t b = c->band;
    double signal = c->of->sample[i].from.v[b] * cdl->slope.v[b] + cdl->offset.v[b];
    *beyond = 0;
    return pow(squeeze(c->of, signal, beyond), cdl->power.v[b]);
}

static void channel_residuals(const double *parameter, double *residual, void *context) {
    const channel *c = context;
    size_t count = c->of->count;
    vs_cdl cdl;
    channel_numbers(c->of, c->band, parameter, &cdl);
    const double *unchanged = c->of->unchanged + CHANNEL_PARAMETERS * c->band;
    for (size_t i = 0; i < count; i++) {
        double beyond, out = channel_out(c, &cdl, i, &beyond);
        residual[i] = miss(c->of, out, beyond, i, c->band);
    }
    for (size_t k = 0; k < CHANNEL_PARAMETERS; k++) {
        residual[count + k] = RIDGE * sqrt((double)count) * (parameter[k] - unchanged[k]);
    }
}

static double channel_sum(const channel *c, const double *parameter) {
    problem as_it_is = *c->of;
    as_it_is.how = hard;
    channel plain = {&as_it_is, c->band};
    double sum = 0;
    vs_cdl cdl;
    channel_numbers(c->of, c->band, parameter, &cdl);
    for (size_t i = 0; i < c->of->count; i++) {
        double beyond, out = channel_out(&plain, &cdl, i, &beyond);
        double error = miss(&as_it_is, out, 0, i, c->band);
        sum += error * error;
    }
    return sum;
}

/* How far the scale moves for a step of the signal before the power, at a wanted signal. */
static double steepness(const problem *p, double to, double power) {
    double h = 1e-4, low = fmax(0, to - h), high = fmin(1, to + h);
    double of_scale = (on_scale(p, high) - on_scale(p, low)) / (high - low);
    return of_scale * power * pow(fmax(to, h), 1 - 1 / power);
}

/* The straight line that a power asks of its channel, to^(1/power) = slope from + offset, each
 * sample weighted by what it counts on the scale: within a step or two of that power's best. */
static void channel_start(const channel *c, double power, double *parameter) {
    double w = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (size_t i = 0; i < c->of->count; i++) {
        double from = c->of->sample[i].from.v[c->band];
        double to = clamp(c->of->sample[i].to.v[c->band]);
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
    slope = slope > exp(-LOG_MOST) && slope < exp(LOG_MOST) ? slope : 1;
    double offset = (y - slope * x) / w;
    vs_cdl cdl;
    cdl.slope.v[c->band] = slope;
    cdl.offset.v[c->band] = isfinite(offset) ? offset : 0;
    cdl.power.v[c->band] = power;
    channel_parameters(c->of, c->band, &cdl, parameter);
}

/* [1] powers that a channel is tried from: a decode and an encode apart on either side */
static const double power_tried[] = {0.2, 0.35, 0.6, 1, 1.7, 3};
#define POWERS_TRIED (sizeof power_tried / sizeof power_tried[0])

/* Keeps a channel's numbers if they are the best so far. */
static void keep_channel(const channel *c, const double *parameter, double *best, double *least) {
    double sum = channel_sum(c, parameter);
    if (sum < *least) {
        memcpy(best, parameter, CHANNEL_PARAMETERS * sizeof *best);
        *least = sum;
    }
}

/* Slope, offset and power of one band by itself; the identity where nothing is nearer. A descent
 * that does not end leaves the line it came from. */
static vs_status fit_channel(const problem *p, size_t band, double *best) {
    channel c = {p, band};
    memcpy(best, p->unchanged + CHANNEL_PARAMETERS * band, CHANNEL_PARAMETERS * sizeof *best);
    double least = channel_sum(&c, best);
    for (size_t k = 0; k < POWERS_TRIED; k++) {
        double parameter[CHANNEL_PARAMETERS];
        channel_start(&c, power_tried[k], parameter);
        keep_channel(&c, parameter, best, &least);
        vs_status status =
            vs_fit_least_squares(channel_residuals, &c, p->count + CHANNEL_PARAMETERS,
                                 CHANNEL_PARAMETERS, p->tolerance, parameter, NULL, NULL);
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
static void keep_best(const problem *p, const double *parameter, vs_cdl *best, double *best_sum) {
    vs_cdl cdl = from_parameters(p, parameter);
    double pull = saturation_pull(p, parameter[SATURATION]);
    double sum = sum_of_squares(p, &cdl) + pull * pull;
    if (sum < *best_sum) {
        *best = cdl;
        *best_sum = sum;
    }
}

static vs_status descend_all(problem *p, double *parameter) {
    return vs_fit_least_squares(residuals, p, VS_BAND_COUNT * p->count + PARAMETER_COUNT,
                                PARAMETER_COUNT, p->tolerance, parameter, NULL, NULL);
}

/* Fits from one start, stage after stage; one that does not end is left out. */
static vs_status try_start(problem *p, const double *start, vs_cdl *best, double *best_sum) {
    double parameter[PARAMETER_COUNT], before[PARAMETER_COUNT];
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

typedef struct {
    vs_cdl cdl;
    double sum;
} best_of;

static bool prepare(problem *p) {
    double least = INFINITY, most = -INFINITY;
    p->lowest = INFINITY;
    for (size_t i = 0; i < p->count; i++) {
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            p->pivot[b] = fmax(i > 0 ? p->pivot[b] : LEAST, p->sample[i].from.v[b]);
            double wanted = on_scale(p, p->sample[i].to.v[b]);
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
    const vs_cdl identity = vs_cdl_identity();
    to_parameters(p, &identity, p->unchanged);
    return true;
}

/* Tries a start; *found: whether any has led to a minimum. */
static vs_status try_and_note(problem *p, const double *start, best_of *best, bool *found) {
    vs_status status = try_start(p, start, &best->cdl, &best->sum);
    *found = *found || status == VS_OK;
    return status == VS_ERR_CONVERGENCE ? VS_OK : status;
}

/* From each channel by itself, at several saturations. */
static vs_status try_channels(problem *p, best_of *best, bool *found) {
    double start[PARAMETER_COUNT] = {0};
    vs_status status = VS_OK;
    for (size_t b = 0; b < VS_BAND_COUNT && status == VS_OK; b++) {
        status = fit_channel(p, b, start + CHANNEL_PARAMETERS * b);
    }
    for (size_t k = 0; k < SATURATIONS_TRIED && status == VS_OK; k++) {
        start[SATURATION] = saturation_tried[k];
        status = try_and_note(p, start, best, found);
    }
    return status;
}

/* A channel's worth of the ten numbers, the others held. */
typedef struct {
    const problem *of;
    double *all;         /* PARAMETER_COUNT */
    const size_t *place; /* CHANNEL_PARAMETERS */
} part;

static double part_cost(const double *x, void *context) {
    const part *p = context;
    for (size_t k = 0; k < CHANNEL_PARAMETERS; k++) {
        p->all[p->place[k]] = x[k];
    }
    vs_cdl cdl = from_parameters(p->of, p->all);
    double pull = saturation_pull(p->of, p->all[SATURATION]);
    return sum_of_squares(p->of, &cdl) + pull * pull;
}

/* Where clamps make corners, descents by slopes end on them, each channel on its own. A simplex
 * goes round corners: it takes each channel by itself, then what all have in common. */
static vs_status polish(const problem *p, best_of *best) {
    static const size_t place[][CHANNEL_PARAMETERS] = {{0, 1, 2}, {3, 4, 5}, {6, 7, 8}, {9, 4, 5}};
    static const double step[CHANNEL_PARAMETERS] = {0.03, 0.03, 0.03};
    double all[PARAMETER_COUNT];
    to_parameters(p, &best->cdl, all);
    for (size_t k = 0; k < POLISH_ROUNDS * sizeof place / sizeof place[0]; k++) {
        part of = {p, all, place[k % (sizeof place / sizeof place[0])]};
        double value, x[CHANNEL_PARAMETERS];
        for (size_t i = 0; i < CHANNEL_PARAMETERS; i++) {
            x[i] = all[of.place[i]];
        }
        vs_status status =
            vs_minimum_simplex(part_cost, &of, CHANNEL_PARAMETERS, step, POLISH_MOST, x, &value);
        if (status != VS_OK) {
            return status;
        }
        part_cost(x, &of); /* leaves them in `all` */
    }
    keep_best(p, all, &best->cdl, &best->sum);
    return VS_OK;
}

/* Whether a CDL leaves a sample beyond one of its clamps, or on it. */
static bool clamps(const problem *p, const vs_cdl *cdl) {
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

static vs_status fit_best(problem *p, vs_cdl *cdl) {
    if (!prepare(p)) {
        return VS_ERR_DOMAIN;
    }
    p->how = stage[0];
    best_of best = {*cdl, sum_of_squares(p, cdl)};
    bool found = false;
    vs_status status = try_channels(p, &best, &found);
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
    if (VS_BAND_COUNT * count < PARAMETER_COUNT || !(goal->colour_least >= 0)) {
        return VS_ERR_DOMAIN;
    }
    worked_out bands[VS_BAND_COUNT] = {{.full = false}};
    problem p = {.sample = sample, .count = count, .channel = bands, .goal = goal};
    p.tolerance = fmax(goal->tolerance, CREEP);
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
        *rms = sqrt(sum_of_squares(&p, cdl) / (3.0 * (double)count));
    }
    free(memory);
    return status;
}
