/* The ladder of exponentials. A day is thousands of short stretches under the same few matrices, so
 * each costs a handful of matrix-vector products instead of an integration. */
#include "veilstop/base/flow.h"

#include <gsl/gsl_blas.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STEP_MAX     1.0    /* [time] the longest first rung: our choice */
#define REACH        4096.0 /* [time] the longest rung; longer stretches repeat it */
#define NORM_MAX     1e6    /* [1/time] keeps the ladder short enough to be accurate: our choice */
#define TERM_MAX     40     /* Taylor terms; with |A| t <= 1/2 about 15 suffice */
#define TERM_SMALL   1e-18  /* [1] relative size of a term that no longer counts */
#define WORK_VECTORS 3      /* of the state's size: two for steps, one for making the ladder */

static double row_norm(const double *rate, size_t size) {
    double norm = 0;
    for (size_t i = 0; i < size; i++) {
        double sum = 0;
        for (size_t k = 0; k < size; k++) {
            sum += fabs(rate[i * size + k]);
        }
        if (!(sum <= norm)) {
            norm = sum;
        }
    }
    return norm;
}

static double *rung(const vs_flow *flow, size_t level) {
    return flow->memory + (1 + level) * flow->size * flow->size;
}

/* Room to work in: 0 and 1 for the steps of an advance, 2 for making the ladder. */
static double *work_vector(const vs_flow *flow, size_t i) {
    return rung(flow, flow->levels) + i * flow->size;
}

void vs_flow_free(vs_flow *flow) {
    free(flow->memory);
    memset(flow, 0, sizeof *flow);
}

static void multiply(const double *matrix, const double *x, size_t n, double *y) {
    for (size_t i = 0; i < n; i++) {
        double sum = 0;
        for (size_t k = 0; k < n; k++) {
            sum += matrix[i * n + k] * x[k];
        }
        y[i] = sum;
    }
}

static void apply_rung(vs_flow *flow, size_t level, double *x) {
    double *work = work_vector(flow, 0);
    multiply(rung(flow, level), x, flow->size, work);
    memcpy(x, work, flow->size * sizeof *x);
}

/* x + A t x + (A t)^2 x / 2 + ... */
static void apply_series(vs_flow *flow, double time, double *x) {
    size_t n = flow->size;
    double *term = work_vector(flow, 0), *next = work_vector(flow, 1);
    memcpy(term, x, n * sizeof *x);
    for (int k = 1; k <= TERM_MAX; k++) {
        multiply(flow->memory, term, n, next);
        double largest = 0, scale = 0;
        for (size_t i = 0; i < n; i++) {
            term[i] = next[i] * time / k;
            x[i] += term[i];
            largest = fmax(largest, fabs(term[i]));
            scale = fmax(scale, fabs(x[i]));
        }
        if (largest <= TERM_SMALL * scale) {
            return;
        }
    }
}

/* exp(A h), a column at a time: the series of each unit vector. */
static void make_first_rung(vs_flow *flow, double *column) {
    size_t n = flow->size;
    double *out = rung(flow, 0);
    for (size_t k = 0; k < n; k++) {
        memset(column, 0, n * sizeof *column);
        column[k] = 1;
        apply_series(flow, flow->step, column);
        for (size_t i = 0; i < n; i++) {
            out[i * n + k] = column[i];
        }
    }
}

/* exp(2 A t) = exp(A t)^2. GSL's own matrix exponential is the same method, but it crashes where
 * memory runs out. */
static void square_rung(vs_flow *flow, size_t level) {
    size_t n = flow->size;
    gsl_matrix_view from = gsl_matrix_view_array(rung(flow, level - 1), n, n);
    gsl_matrix_view to = gsl_matrix_view_array(rung(flow, level), n, n);
    gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, &from.matrix, &from.matrix, 0, &to.matrix);
}

vs_status vs_flow_init(vs_flow *flow, const double *rate, size_t size) {
    memset(flow, 0, sizeof *flow);
    if (size < 1 || size > VS_FLOW_SIZE_MAX) {
        return VS_ERR_DOMAIN;
    }
    double norm = row_norm(rate, size);
    if (!(norm <= NORM_MAX)) {
        return VS_ERR_DOMAIN;
    }
    double step = STEP_MAX;
    while (norm * step > 0.5) {
        step /= 2;
    }
    size_t levels = 1;
    while (ldexp(step, (int)levels) <= REACH) {
        levels++;
    }
    size_t square = size * size;
    double *memory = calloc((1 + levels) * square + WORK_VECTORS * size, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    memcpy(memory, rate, square * sizeof *memory);
    *flow = (vs_flow){size, levels, step, memory};
    make_first_rung(flow, work_vector(flow, 2));
    for (size_t level = 1; level < levels; level++) {
        square_rung(flow, level);
    }
    return VS_OK;
}

void vs_flow_advance(vs_flow *flow, double time, double *x) {
    if (!(time >= 0) || !isfinite(time)) {
        for (size_t i = 0; i < flow->size; i++) {
            x[i] = NAN;
        }
        return;
    }
    for (size_t level = flow->levels; level-- > 0;) {
        double length = ldexp(flow->step, (int)level);
        for (; time >= length; time -= length) {
            apply_rung(flow, level, x);
        }
    }
    if (time > 0) {
        apply_series(flow, time, x);
    }
}

double vs_flow_slope(const vs_flow *flow, size_t row, const double *x) {
    double sum = 0;
    for (size_t k = 0; k < flow->size; k++) {
        sum += flow->memory[row * flow->size + k] * x[k];
    }
    return sum;
}
