/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Robust statistics, on GSL's sorting and weighted linear fit. */
#include "veilstop/base/robust.h"

#include <float.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#define BIWEIGHT     4.685 /* [deviations] 95 % efficiency on normal errors (Holland & Welsch 1977) */
#define MAD_TO_SIGMA 1.4826 /* [1] 1/Phi^-1(3/4): normal errors */
#define ROUND_MAX    50     /* reweightings: about ten are usual */
#define STANDS_STILL 1e-9   /* [1] relative change of the line at which they end: our choice */
#define SCALE_LEAST  1e-12  /* [of y's spread] points on a line have no scatter to divide by */

double vs_median(double *value, size_t count) {
    return count > 0 ? gsl_stats_median(value, 1, count) : (double)NAN;
}

typedef struct {
    const double *x, *y;
    size_t count;
    double *work, *weight;
    size_t *order;
} problem;

static vs_status start(const problem *p, vs_line *line) {
    gsl_sort_index(p->order, p->x, 1, p->count);
    size_t half = p->count / 2, slopes = 0;
    for (size_t i = 0; i + half < p->count; i++) {
        size_t a = p->order[i], b = p->order[i + half];
        if (p->x[b] > p->x[a]) {
            p->work[slopes++] = (p->y[b] - p->y[a]) / (p->x[b] - p->x[a]);
        }
    }
    if (slopes == 0) {
        return VS_ERR_DOMAIN;
    }
    line->slope = vs_median(p->work, slopes);
    for (size_t i = 0; i < p->count; i++) {
        p->work[i] = p->y[i] - line->slope * p->x[i];
    }
    line->intercept = vs_median(p->work, p->count);
    return VS_OK;
}

static double residual(const problem *p, const vs_line *line, size_t i) {
    return p->y[i] - line->intercept - line->slope * p->x[i];
}

static double scale_of(const problem *p, const vs_line *line) {
    for (size_t i = 0; i < p->count; i++) {
        p->work[i] = fabs(residual(p, line, i));
    }
    return MAD_TO_SIGMA * vs_median(p->work, p->count);
}

/* One reweighting; false where the weights leave no line. */
static int reweight(const problem *p, double least, vs_line *line) {
    line->scale = scale_of(p, line);
    double reach = BIWEIGHT * fmax(line->scale, least);
    for (size_t i = 0; i < p->count; i++) {
        double u = residual(p, line, i) / reach;
        p->weight[i] = fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
    }
    double intercept, slope, c00, c01, c11, chi;
    gsl_fit_wlinear(p->x, 1, p->weight, 1, p->y, 1, p->count, &intercept, &slope, &c00, &c01, &c11,
                    &chi);
    if (!isfinite(intercept) || !isfinite(slope)) {
        return 0;
    }
    line->intercept = intercept;
    line->slope = slope;
    return 1;
}

static vs_status find_line(const problem *p, vs_line *line) {
    vs_status status = start(p, line);
    if (status != VS_OK) {
        return status;
    }
    double spread = gsl_stats_max(p->y, 1, p->count) - gsl_stats_min(p->y, 1, p->count);
    double least = fmax(SCALE_LEAST * spread, DBL_MIN); /* never divide by zero */
    for (int round = 0; round < ROUND_MAX; round++) {
        vs_line before = *line;
        if (!reweight(p, least, line)) {
            *line = before;
            break;
        }
        if (fabs(line->slope - before.slope) <= STANDS_STILL * fabs(line->slope) &&
            fabs(line->intercept - before.intercept) <= STANDS_STILL * fabs(line->intercept)) {
            break;
        }
    }
    line->scale = scale_of(p, line);
    return VS_OK;
}

vs_status vs_robust_line(const double *x, const double *y, size_t count, vs_line *line) {
    line->slope = line->intercept = line->scale = NAN;
    if (count < 3) {
        return VS_ERR_DOMAIN;
    }
    problem p = {x,
                 y,
                 count,
                 malloc(count * sizeof *p.work),
                 malloc(count * sizeof *p.weight),
                 malloc(count * sizeof *p.order)};
    vs_status status = p.work && p.weight && p.order ? find_line(&p, line) : VS_ERR_MEMORY;
    free(p.work);
    free(p.weight);
    free(p.order);
    return status;
}
