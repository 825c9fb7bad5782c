/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a CDL is from what a fit wants, and what each of its ten numbers changes of that: one
 * channel by itself, or all ten together. Slopes, powers and the saturation are taken as
 * logarithms, so that they stay positive. */
#ifndef VEILSTOP_CAMERA_CDL_MODEL_H
#define VEILSTOP_CAMERA_CDL_MODEL_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/camera/cdl.h"

#define VS_CDL_PARAMETERS         10  /* three slopes, offsets, powers; one saturation */
#define VS_CDL_CHANNEL_PARAMETERS 3   /* slope, offset, power */
#define VS_CDL_SATURATION         9   /* place of the last */
#define VS_CDL_LOG_MOST           4.0 /* [1] slopes, powers, saturation stay in e^-4 to e^4 */

/* How a descent takes the clamps. A hard clamp has no slope beyond its corner, where a sample has
 * no influence on the fit, and the corner itself stops gradient methods. So a fit begins with
 * corners rounded and a penalty for what lies beyond them; then the penalty goes, then the corners
 * become sharp. */
typedef struct {
    double rounded; /* [signal] how far corners are; 0: not at all */
    bool felt;      /* what lies beyond counts */
} vs_cdl_clamping;

/* One channel of every sample through slope, offset and power, until one of these or the clamps
 * change: a simplex moves one channel at a time, and most of its time goes into powers. */
typedef struct {
    bool full;
    vs_cdl_clamping how;
    double slope, offset, power;
    double *out, *beyond; /* of each sample */
} vs_cdl_worked_out;

typedef struct {
    const vs_cdl_sample *sample;
    size_t count;
    vs_cdl_worked_out *channel; /* VS_BAND_COUNT */
    const vs_cdl_goal *goal;
    vs_cdl_clamping how; /* in this descent */
    double reach;        /* [scale per signal] what it counts for */
    double lowest;       /* [signal] of all that is wanted */
    double *wanted;      /* count x 3: scale(to) */
} vs_cdl_problem;

typedef struct {
    const vs_cdl_problem *of;
    size_t band;
} vs_cdl_channel;

/* A signal on the goal's scale. */
double vs_cdl_on_scale(const vs_cdl_problem *p, double signal);

vs_cdl vs_cdl_from_parameters(const double *parameter);
void vs_cdl_to_parameters(const vs_cdl *cdl, double *parameter);

/* What a saturation off 1 is held to cost where the samples have little colour; a residual. */
double vs_cdl_saturation_pull(const vs_cdl_problem *p, double logarithm);

/* Residuals of all ten numbers, 3 x count and the pull on each number; what each number changes of
 * them (base/fit.h). context: a vs_cdl_problem. */
void vs_cdl_residuals(const double *parameter, double *residual, void *context);
void vs_cdl_slopes(const double *parameter, double *slope, void *context);

/* The same of slope, offset and power of one channel, the saturation left at 1: count and the pull
 * on each of the three. context: a vs_cdl_channel. */
void vs_cdl_channel_residuals(const double *parameter, double *residual, void *context);
void vs_cdl_channel_slopes(const double *parameter, double *slope, void *context);

/* Squared errors under hard clamps, nothing pulled. */
double vs_cdl_sum(const vs_cdl_problem *p, const vs_cdl *cdl);
double vs_cdl_channel_sum(const vs_cdl_channel *c, const double *parameter);

#endif
