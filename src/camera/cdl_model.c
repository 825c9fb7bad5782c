/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Residuals of a CDL against the signals wanted, and their derivatives by its numbers. */
#include "cdl_model.h"

#include <math.h>

#define RIDGE        1e-6 /* [1] pull to the identity: decides only what the samples leave open */
#define SOFTPLUS_FAR 40.0 /* [1] from here 1 + e^-x is 1 to every digit */
#define SCALE_STEP   1e-6 /* [signal] over which the scale's slope is taken */
#define HELD_LEAST   1e-9 /* [signal] what powers under 1 are steepest at; far below a code value */

static const vs_cdl_clamping hard = {0, false};

double vs_cdl_on_scale(const vs_cdl_problem *p, double signal) {
    return p->goal->scale ? p->goal->scale(signal, p->goal->context) : signal;
}

static double scale_slope(const vs_cdl_problem *p, double signal) {
    double up = vs_cdl_on_scale(p, signal + SCALE_STEP);
    return (up - vs_cdl_on_scale(p, signal - SCALE_STEP)) / (2 * SCALE_STEP);
}

/* A hard stop beyond anything a grade needs keeps exp() finite on wild trial steps. */
static double positive(double logarithm) {
    return exp(fmax(-VS_CDL_LOG_MOST, fmin(VS_CDL_LOG_MOST, logarithm)));
}

static double positive_slope(double logarithm) {
    return fabs(logarithm) < VS_CDL_LOG_MOST ? positive(logarithm) : 0;
}

vs_cdl vs_cdl_from_parameters(const double *parameter) {
    vs_cdl cdl;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        cdl.slope.v[b] = positive(parameter[b]);
        cdl.offset.v[b] = parameter[3 + b];
        cdl.power.v[b] = positive(parameter[6 + b]);
    }
    cdl.saturation = positive(parameter[VS_CDL_SATURATION]);
    return cdl;
}

void vs_cdl_to_parameters(const vs_cdl *cdl, double *parameter) {
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        parameter[b] = log(cdl->slope.v[b]);
        parameter[3 + b] = cdl->offset.v[b];
        parameter[6 + b] = log(cdl->power.v[b]);
    }
    parameter[VS_CDL_SATURATION] = log(cdl->saturation);
}

/* ---- clamps ---- */

/* log(1 + e^x) without overflow, and without work where it is one of its two lines. */
static double softplus(double x) {
    if (fabs(x) > SOFTPLUS_FAR) {
        return x > 0 ? x : 0;
    }
    return x > 0 ? x + log1p(exp(-x)) : log1p(exp(x));
}

static double softplus_slope(double x) {
    if (fabs(x) > SOFTPLUS_FAR) {
        return x > 0 ? 1 : 0;
    }
    return 1 / (1 + exp(-x));
}

/* A clamp as the descent takes it; adds to *beyond what the signal beyond it counts for. */
static double squeeze(const vs_cdl_problem *p, double signal, double *beyond) {
    double r = p->how.rounded;
    double held = signal < 0 ? 0 : signal > 1 ? 1 : signal;
    if (r > 0) {
        held = r * (softplus(signal / r) - softplus((signal - 1) / r));
    }
    if (p->how.felt) {
        *beyond += p->reach * (signal - held);
    }
    return held;
}

/* What squeeze and *beyond gain per signal. */
static double squeeze_slope(const vs_cdl_problem *p, double signal, double *beyond) {
    double r = p->how.rounded;
    double slope = signal > 0 && signal < 1 ? 1 : 0;
    if (r > 0) {
        slope = softplus_slope(signal / r) - softplus_slope((signal - 1) / r);
    }
    *beyond = p->how.felt ? p->reach * (1 - slope) : 0;
    return slope;
}

/* A scale may have no slope either where nothing should be: under the lowest signal wanted. */
static double miss(const vs_cdl_problem *p, double out, double beyond, size_t i, size_t b) {
    if (p->how.felt) {
        beyond -= p->reach * p->how.rounded * softplus((p->lowest - out) / p->how.rounded);
    }
    return vs_cdl_on_scale(p, out) + beyond - p->wanted[VS_BAND_COUNT * i + b];
}

static double miss_slope(const vs_cdl_problem *p, double out) {
    double under = p->how.felt ? softplus_slope((p->lowest - out) / p->how.rounded) : 0;
    return scale_slope(p, out) + p->reach * under;
}

/* ---- one channel by itself ---- */

/* What slope, offset and power make of a signal, and what each changes of it. */
typedef struct {
    double out, beyond;
    double out_by[VS_CDL_CHANNEL_PARAMETERS], beyond_by[VS_CDL_CHANNEL_PARAMETERS];
} graded;

static double channel_out(const vs_cdl_problem *p, const double *parameter, double from,
                          double *beyond) {
    *beyond = 0;
    double signal = from * positive(parameter[0]) + parameter[1];
    return pow(squeeze(p, signal, beyond), positive(parameter[2]));
}

static graded channel_graded(const vs_cdl_problem *p, const double *parameter, double from) {
    graded g = {.beyond = 0};
    double signal = from * positive(parameter[0]) + parameter[1], power = positive(parameter[2]);
    double held = squeeze(p, signal, &g.beyond), beyond_by_signal;
    double held_by_signal = squeeze_slope(p, signal, &beyond_by_signal);
    g.out = pow(held, power);
    double by_signal = power * g.out / fmax(held, HELD_LEAST) * held_by_signal;
    const double signal_by[2] = {from * positive_slope(parameter[0]), 1};
    for (size_t k = 0; k < 2; k++) {
        g.out_by[k] = by_signal * signal_by[k];
        g.beyond_by[k] = beyond_by_signal * signal_by[k];
    }
    g.out_by[2] = held > 0 ? g.out * log(held) * positive_slope(parameter[2]) : 0;
    return g;
}

void vs_cdl_channel_residuals(const double *parameter, double *residual, void *context) {
    const vs_cdl_channel *c = context;
    size_t count = c->of->count;
    for (size_t i = 0; i < count; i++) {
        double beyond;
        double out = channel_out(c->of, parameter, c->of->sample[i].from.v[c->band], &beyond);
        residual[i] = miss(c->of, out, beyond, i, c->band);
    }
    for (size_t k = 0; k < VS_CDL_CHANNEL_PARAMETERS; k++) {
        residual[count + k] = RIDGE * sqrt((double)count) * parameter[k];
    }
}

void vs_cdl_channel_slopes(const double *parameter, double *slope, void *context) {
    const vs_cdl_channel *c = context;
    size_t count = c->of->count;
    for (size_t i = 0; i < count; i++, slope += VS_CDL_CHANNEL_PARAMETERS) {
        graded g = channel_graded(c->of, parameter, c->of->sample[i].from.v[c->band]);
        double by_out = miss_slope(c->of, g.out);
        for (size_t k = 0; k < VS_CDL_CHANNEL_PARAMETERS; k++) {
            slope[k] = by_out * g.out_by[k] + g.beyond_by[k];
        }
    }
    for (size_t i = 0; i < VS_CDL_CHANNEL_PARAMETERS; i++, slope += VS_CDL_CHANNEL_PARAMETERS) {
        for (size_t k = 0; k < VS_CDL_CHANNEL_PARAMETERS; k++) {
            slope[k] = i == k ? RIDGE * sqrt((double)count) : 0;
        }
    }
}

double vs_cdl_channel_sum(const vs_cdl_channel *c, const double *parameter) {
    vs_cdl_problem as_it_is = *c->of;
    as_it_is.how = hard;
    double sum = 0;
    for (size_t i = 0; i < c->of->count; i++) {
        double beyond;
        double out = channel_out(&as_it_is, parameter, c->of->sample[i].from.v[c->band], &beyond);
        double error = miss(&as_it_is, out, 0, i, c->band);
        sum += error * error;
    }
    return sum;
}

/* ---- all ten numbers ---- */

static bool is_worked_out(const vs_cdl_worked_out *w, const vs_cdl_problem *p, const vs_cdl *cdl,
                          int b) {
    return w->full && w->how.rounded == p->how.rounded && w->how.felt == p->how.felt &&
           w->slope == cdl->slope.v[b] && w->offset == cdl->offset.v[b] &&
           w->power == cdl->power.v[b];
}

static void work_out(const vs_cdl_problem *p, const vs_cdl *cdl) {
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        vs_cdl_worked_out *w = &p->channel[b];
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

double vs_cdl_saturation_pull(const vs_cdl_problem *p, double logarithm) {
    return p->goal->colour_least * sqrt(3.0 * (double)p->count) * logarithm;
}

void vs_cdl_residuals(const double *parameter, double *residual, void *context) {
    const vs_cdl_problem *p = context;
    vs_cdl cdl = vs_cdl_from_parameters(parameter);
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
    for (size_t k = 0; k < VS_CDL_PARAMETERS; k++) {
        pull[k] = ridge * parameter[k];
    }
    pull[VS_CDL_SATURATION] += vs_cdl_saturation_pull(p, parameter[VS_CDL_SATURATION]);
}

/* What each number changes of one sample's residual in band b. */
static void sample_slopes(const vs_cdl_problem *p, const graded *channel, double saturation,
                          double saturation_slope, size_t b, double *slope) {
    static const double luma_of[VS_BAND_COUNT] = {VS_LUMA_RED, VS_LUMA_GREEN, VS_LUMA_BLUE};
    double luma = 0, beyond = 0, beyond_by_mix;
    for (size_t c = 0; c < VS_BAND_COUNT; c++) {
        luma += luma_of[c] * channel[c].out;
    }
    double mix = luma + saturation * (channel[b].out - luma);
    double out = squeeze(p, mix, &beyond);
    double by_mix = miss_slope(p, out) * squeeze_slope(p, mix, &beyond_by_mix) + beyond_by_mix;
    for (size_t c = 0; c < VS_BAND_COUNT; c++) {
        double mix_by = (1 - saturation) * luma_of[c] + (c == b ? saturation : 0);
        for (size_t k = 0; k < VS_CDL_CHANNEL_PARAMETERS; k++) {
            slope[3 * k + c] =
                by_mix * mix_by * channel[c].out_by[k] + (c == b ? channel[c].beyond_by[k] : 0);
        }
    }
    slope[VS_CDL_SATURATION] = by_mix * saturation_slope * (channel[b].out - luma);
}

void vs_cdl_slopes(const double *parameter, double *slope, void *context) {
    const vs_cdl_problem *p = context;
    double logarithm = parameter[VS_CDL_SATURATION];
    for (size_t i = 0; i < p->count; i++) {
        graded channel[VS_BAND_COUNT];
        for (size_t c = 0; c < VS_BAND_COUNT; c++) {
            const double own[] = {parameter[c], parameter[3 + c], parameter[6 + c]};
            channel[c] = channel_graded(p, own, p->sample[i].from.v[c]);
        }
        for (size_t b = 0; b < VS_BAND_COUNT; b++, slope += VS_CDL_PARAMETERS) {
            sample_slopes(p, channel, positive(logarithm), positive_slope(logarithm), b, slope);
        }
    }
    for (size_t i = 0; i < VS_CDL_PARAMETERS; i++, slope += VS_CDL_PARAMETERS) {
        for (size_t k = 0; k < VS_CDL_PARAMETERS; k++) {
            slope[k] = i == k ? RIDGE * sqrt((double)p->count) : 0;
        }
    }
    slope[-1] += vs_cdl_saturation_pull(p, 1); /* the last number's own */
}

double vs_cdl_sum(const vs_cdl_problem *p, const vs_cdl *cdl) {
    vs_cdl_problem as_it_is = *p;
    as_it_is.how = hard;
    double sum = 0;
    work_out(&as_it_is, cdl);
    for (size_t i = 0; i < p->count; i++) {
        vs_bands sop = {{p->channel[0].out[i], p->channel[1].out[i], p->channel[2].out[i]}};
        double luma = vs_bands_luminance(sop);
        for (size_t b = 0; b < VS_BAND_COUNT; b++) { /* as vs_cdl_apply */
            double beyond, out = luma + cdl->saturation * (sop.v[b] - luma);
            double error = miss(&as_it_is, squeeze(&as_it_is, out, &beyond), 0, i, b);
            sum += error * error;
        }
    }
    return sum;
}
