/* ASC CDL 1.2: its arithmetic, and the fit of its ten numbers to pairs of signals. */
#include "veilstop/camera/cdl.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "veilstop/base/fit.h"

#define PARAMETER_COUNT 10   /* three slopes, offsets, powers; one saturation */
#define SATURATION      9    /* place of the last */
#define RIDGE           1e-6 /* [1] pull to the identity: decides only what the samples leave open */
#define LOG_MOST        4.0  /* [1] slopes, powers and saturation stay within e^-4 to e^4 */

vs_cdl vs_cdl_identity(void) {
    vs_cdl cdl = {vs_bands_grey(1), vs_bands_grey(0), vs_bands_grey(1), 1};
    return cdl;
}

static double clamp(double signal) {
    return signal < 0 ? 0 : signal > 1 ? 1 : signal;
}

vs_bands vs_cdl_apply(const vs_cdl *cdl, vs_bands in) {
    vs_bands sop, out;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        sop.v[b] = pow(clamp(in.v[b] * cdl->slope.v[b] + cdl->offset.v[b]), cdl->power.v[b]);
    }
    double luma = vs_bands_luminance(sop);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        out.v[b] = clamp(luma + cdl->saturation * (sop.v[b] - luma));
    }
    return out;
}

typedef struct {
    const vs_cdl_sample *sample;
    size_t count;
    vs_cdl_scale scale;
    void *context;
    double tolerance;
    double *wanted; /* count x 3: scale(to) */
} problem;

static double on_scale(const problem *p, double signal) {
    return p->scale ? p->scale(signal, p->context) : signal;
}

/* A hard stop beyond anything a grade needs keeps exp() finite on wild trial steps. */
static double positive(double logarithm) {
    return exp(fmax(-LOG_MOST, fmin(LOG_MOST, logarithm)));
}

static vs_cdl from_parameters(const double *parameter) {
    vs_cdl cdl;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        cdl.slope.v[b] = positive(parameter[b]);
        cdl.offset.v[b] = parameter[3 + b];
        cdl.power.v[b] = positive(parameter[6 + b]);
    }
    cdl.saturation = positive(parameter[SATURATION]);
    return cdl;
}

static void residuals(const double *parameter, double *residual, void *context) {
    const problem *p = context;
    vs_cdl cdl = from_parameters(parameter);
    for (size_t i = 0; i < p->count; i++) {
        vs_bands out = vs_cdl_apply(&cdl, p->sample[i].from);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            residual[3 * i + (size_t)b] = on_scale(p, out.v[b]) - p->wanted[3 * i + (size_t)b];
        }
    }
    double ridge = RIDGE * sqrt((double)p->count);
    for (size_t k = 0; k < PARAMETER_COUNT; k++) {
        residual[3 * p->count + k] = ridge * parameter[k];
    }
}

static double sum_of_squares(const problem *p, const vs_cdl *cdl) {
    double sum = 0;
    for (size_t i = 0; i < p->count; i++) {
        vs_bands out = vs_cdl_apply(cdl, p->sample[i].from);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            double error = on_scale(p, out.v[b]) - p->wanted[3 * i + (size_t)b];
            sum += error * error;
        }
    }
    return sum;
}

/* Each channel's straight line through its signals, as a start: slope and offset. */
static void start_at_lines(const problem *p, double *parameter) {
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        double x = 0, y = 0, xx = 0, xy = 0;
        for (size_t i = 0; i < p->count; i++) {
            double from = p->sample[i].from.v[b], to = p->sample[i].to.v[b];
            x += from;
            y += to;
            xx += from * from;
            xy += from * to;
        }
        double n = (double)p->count;
        double spread = xx - x * x / n;
        double slope = spread > 0 ? (xy - x * y / n) / spread : 1;
        slope = slope > exp(-LOG_MOST) && slope < exp(LOG_MOST) ? slope : 1;
        parameter[b] = log(slope);
        parameter[3 + b] = (y - slope * x) / n;
    }
}

/* Fits from one start and keeps the result if it is the best so far. */
static vs_status try_start(problem *p, double *parameter, vs_cdl *best, double *best_sum) {
    vs_status status = vs_fit_least_squares(residuals, p, 3 * p->count + PARAMETER_COUNT,
                                            PARAMETER_COUNT, p->tolerance, parameter, NULL, NULL);
    if (status == VS_OK) {
        vs_cdl cdl = from_parameters(parameter);
        double sum = sum_of_squares(p, &cdl);
        if (sum < *best_sum) {
            *best = cdl;
            *best_sum = sum;
        }
    }
    return status;
}

static bool prepare(problem *p) {
    for (size_t i = 0; i < p->count; i++) {
        for (size_t b = 0; b < VS_BAND_COUNT; b++) {
            double wanted = on_scale(p, p->sample[i].to.v[b]);
            if (!isfinite(wanted) || !isfinite(p->sample[i].from.v[b])) {
                return false;
            }
            p->wanted[3 * i + b] = wanted;
        }
    }
    return true;
}

static vs_status fit_best(problem *p, vs_cdl *cdl, double *least) {
    if (!prepare(p)) {
        return VS_ERR_DOMAIN;
    }
    *least = sum_of_squares(p, cdl);
    double lines[PARAMETER_COUNT] = {0}, nothing[PARAMETER_COUNT] = {0};
    start_at_lines(p, lines);
    double before = *least;
    vs_status status = try_start(p, lines, cdl, least);
    if (status == VS_ERR_CONVERGENCE || (status == VS_OK && !(*least < before))) {
        status = try_start(p, nothing, cdl, least);
    }
    return status == VS_ERR_CONVERGENCE ? VS_OK : status; /* the identity stands */
}

vs_status vs_cdl_fit(const vs_cdl_sample *sample, size_t count, vs_cdl_scale scale, void *context,
                     double tolerance, vs_cdl *cdl, double *rms) {
    *cdl = vs_cdl_identity();
    if (rms) {
        *rms = NAN;
    }
    if (3 * count < PARAMETER_COUNT) {
        return VS_ERR_DOMAIN;
    }
    problem p = {sample, count, scale, context, tolerance, malloc(3 * count * sizeof *p.wanted)};
    if (!p.wanted) {
        return VS_ERR_MEMORY;
    }
    double least = NAN;
    vs_status status = fit_best(&p, cdl, &least);
    if (rms && status == VS_OK) {
        *rms = sqrt(least / (3.0 * (double)count));
    }
    free(p.wanted);
    return status;
}
