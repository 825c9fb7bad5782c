/* A room's loss rate through its readings: least squares on ln q, where the extinction falls as
 * exp(-loss t) and readings that share one look at the clear card share that look's error. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/reading_fit.h"
#include "veilstop/base/fit.h"

#define RISE_SIGMAS 3.0   /* [deviations] a rise that is not the meter: once in 700 */
#define TOLERANCE   1e-10 /* [1] of the sum of squares */

/* Parameters: the loss over the whole span, an optical depth a stretch, an error a shared look. */
typedef struct {
    const vs_decay_point *point;
    size_t count;
    double span_s, path_m; /* scales that bring the parameters to order 1 */
    size_t *stretch;       /* one a point */
    double *from_s;        /* one a stretch: its first point */
    size_t stretches;
    vs_clear_looks looks;
} problem;

vs_status vs_clear_looks_init(vs_clear_looks *looks, const vs_decay_point *point, size_t count) {
    looks->count = 0;
    looks->of = malloc((count + 1) * sizeof *looks->of);
    if (!looks->of) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        size_t uses = 0, first = i;
        for (size_t j = count; j-- > 0;) {
            if (point[j].clear == point[i].clear) {
                uses++;
                first = j;
            }
        }
        looks->of[i] = uses < 2 ? VS_NONE : first < i ? looks->of[first] : looks->count++;
    }
    return VS_OK;
}

void vs_clear_looks_free(vs_clear_looks *looks) {
    free(looks->of);
    looks->of = NULL;
}

double vs_clear_looks_residual(const vs_clear_looks *looks, const vs_decay_point *point, size_t i,
                               double extinction_per_m, const double *look_error) {
    double off = point[i].path_m * extinction_per_m + point[i].log_kept;
    if (looks->of[i] == VS_NONE) {
        return off / sqrt(point[i].clear_variance + point[i].hazed_variance);
    }
    off += sqrt(point[i].clear_variance) * look_error[looks->of[i]];
    return off / sqrt(point[i].hazed_variance);
}

static double extinction_at(const problem *p, const double *parameter, size_t stretch,
                            double at_s) {
    double age = (at_s - p->from_s[stretch]) / p->span_s;
    return parameter[1 + stretch] / p->path_m * exp(-parameter[0] * age);
}

static void residuals(const double *parameter, double *residual, void *context) {
    const problem *p = context;
    const double *look_error = parameter + 1 + p->stretches;
    for (size_t i = 0; i < p->count; i++) {
        double k = extinction_at(p, parameter, p->stretch[i], p->point[i].at_s);
        residual[i] = vs_clear_looks_residual(&p->looks, p->point, i, k, look_error);
    }
    memcpy(residual + p->count, look_error, p->looks.count * sizeof *residual);
}

static double measured(const vs_decay_point *point) {
    return -point->log_kept / point->path_m;
}

/* Whether haze was added between two points: a shared look at the clear card cancels. */
static bool rises(const vs_decay_point *a, const vs_decay_point *b) {
    double own = a->clear == b->clear ? 0 : 1;
    double variance = (a->hazed_variance + own * a->clear_variance) / (a->path_m * a->path_m) +
                      (b->hazed_variance + own * b->clear_variance) / (b->path_m * b->path_m);
    return measured(b) - measured(a) > RISE_SIGMAS * sqrt(variance);
}

/* Cuts the points into stretches; whether one of them tells a loss. */
static bool cut(problem *p) {
    bool tells = false;
    double path = 0;
    for (size_t i = 0; i < p->count; i++) {
        bool fresh = i == 0 || rises(&p->point[i - 1], &p->point[i]);
        if (fresh) {
            p->from_s[p->stretches++] = p->point[i].at_s;
        }
        p->stretch[i] = p->stretches - 1;
        double age = p->point[i].at_s - p->from_s[p->stretch[i]];
        tells = tells || age > 0;
        p->span_s = fmax(p->span_s, age);
        path += p->point[i].path_m / (double)p->count;
    }
    p->path_m = path;
    return tells;
}

/* Starts at the first point of each stretch and a loss of one over the span. */
static void start(const problem *p, double *parameter) {
    parameter[0] = 1;
    for (size_t i = p->count; i-- > 0;) {
        parameter[1 + p->stretch[i]] = measured(&p->point[i]) * p->path_m;
    }
}

/* Standard deviation of the extinction at a time, from the fit's covariance. */
static double sd_at(const problem *p, const double *parameter, const double *covariance, size_t n,
                    size_t stretch, double at_s) {
    double age = (at_s - p->from_s[stretch]) / p->span_s;
    double by_depth = exp(-parameter[0] * age) / p->path_m;
    double by_loss = -age * extinction_at(p, parameter, stretch, at_s);
    size_t d = 1 + stretch;
    double variance = by_depth * by_depth * covariance[d * n + d] +
                      by_loss * by_loss * covariance[0] + 2 * by_depth * by_loss * covariance[d];
    return sqrt(fmax(0, variance));
}

static void tell(const problem *p, const double *parameter, const double *covariance, size_t n,
                 vs_decay *out) {
    out->loss_per_s = parameter[0] / p->span_s;
    out->loss_sd_per_s = sqrt(covariance[0]) / p->span_s;
    out->first_s = p->point[0].at_s;
    out->first_per_m = parameter[1] / p->path_m;
    out->first_sd_per_m = sqrt(covariance[n + 1]) / p->path_m;
    out->first_loss_covariance = covariance[1] / (p->path_m * p->span_s);
    size_t last = p->count - 1;
    out->last_s = p->point[last].at_s;
    out->last_per_m = extinction_at(p, parameter, p->stretch[last], out->last_s);
    out->last_sd_per_m = sd_at(p, parameter, covariance, n, p->stretch[last], out->last_s);
    out->stretches = p->stretches;
    out->parameters = 1 + p->stretches;
}

static vs_status fit(problem *p, vs_decay *out) {
    if (!cut(p)) {
        return VS_ERR_DOMAIN;
    }
    size_t n = 1 + p->stretches + p->looks.count;
    double *parameter = calloc(n, sizeof *parameter);
    double *covariance = calloc(n * n, sizeof *covariance);
    vs_status status = parameter && covariance ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        start(p, parameter);
        status = vs_fit_least_squares(residuals, p, p->count + p->looks.count, n, TOLERANCE,
                                      parameter, covariance, &out->chi_square);
    }
    if (status == VS_OK) {
        tell(p, parameter, covariance, n, out);
    }
    free(parameter);
    free(covariance);
    return status;
}

vs_status vs_decay_fit(const vs_decay_point *point, size_t count, vs_decay *out) {
    memset(out, 0, sizeof *out);
    out->loss_per_s = out->loss_sd_per_s = out->chi_square = NAN;
    if (count < 2) {
        return VS_ERR_DOMAIN;
    }
    problem p = {.point = point,
                 .count = count,
                 .stretch = calloc(count, sizeof *p.stretch),
                 .from_s = calloc(count, sizeof *p.from_s)};
    vs_status status =
        p.stretch && p.from_s ? vs_clear_looks_init(&p.looks, point, count) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = fit(&p, out);
    }
    vs_clear_looks_free(&p.looks);
    free(p.stretch);
    free(p.from_s);
    return status;
}
