/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brent's minimiser and Nelder and Mead's simplex on GSL. */
#include "veilstop/base/minimum.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_min.h>
#include <gsl/gsl_multimin.h>
#include <math.h>

#define SIMPLEX_LEAST 1e-7 /* [1] a simplex this small gains nothing more */

#define ITERATION_MAX 200 /* golden section alone needs about 80 for full double precision */

static vs_status iterate(gsl_min_fminimizer *search, double relative, double stop_under,
                         vs_minimum *out) {
    for (int i = 0; i < ITERATION_MAX; i++) {
        int code = gsl_min_fminimizer_iterate(search);
        double low = gsl_min_fminimizer_x_lower(search);
        double high = gsl_min_fminimizer_x_upper(search);
        out->x = gsl_min_fminimizer_x_minimum(search);
        out->value = gsl_min_fminimizer_f_minimum(search);
        if (code != GSL_SUCCESS || !isfinite(out->value)) {
            return VS_ERR_CONVERGENCE;
        }
        if (out->value < stop_under ||
            gsl_min_test_interval(low, high, 0, relative) == GSL_SUCCESS) {
            return VS_OK;
        }
    }
    return VS_ERR_CONVERGENCE;
}

vs_status vs_minimum_brent(vs_function f, void *context, double a, double middle, double b,
                           double relative, double stop_under, vs_minimum *out) {
    const vs_minimum none = {NAN, NAN};
    double at_a = f(a, context), at_middle = f(middle, context), at_b = f(b, context);
    *out = none;
    if (!(a < middle && middle < b && relative >= VS_MINIMUM_RELATIVE_MIN) || !isfinite(at_a) ||
        !isfinite(at_middle) || !isfinite(at_b) || !(at_middle < at_a && at_middle < at_b)) {
        return VS_ERR_DOMAIN;
    }
    gsl_min_fminimizer *search = gsl_min_fminimizer_alloc(gsl_min_fminimizer_brent);
    if (!search) {
        return VS_ERR_MEMORY;
    }
    gsl_function function = {f, context};
    vs_status status = VS_ERR_DOMAIN;
    if (gsl_min_fminimizer_set_with_values(search, &function, middle, at_middle, a, at_a, b,
                                           at_b) == GSL_SUCCESS) {
        status = iterate(search, relative, stop_under, out);
    }
    gsl_min_fminimizer_free(search);
    if (status != VS_OK) {
        *out = none;
    }
    return status;
}

typedef struct {
    vs_function_of_many f;
    void *context;
} many;

static double of_vector(const gsl_vector *x, void *context) {
    const many *m = context;
    double value = m->f(x->data, m->context);
    return isfinite(value) ? value : HUGE_VAL;
}

/* Runs the solver until its simplex is too small to matter or the evaluations are used up. */
static void shrink(gsl_multimin_fminimizer *solver, size_t count, int most) {
    int round = (int)count + 1; /* a step evaluates once or twice, the start at each corner */
    while (round < most && gsl_multimin_fminimizer_iterate(solver) == GSL_SUCCESS &&
           gsl_multimin_fminimizer_size(solver) > SIMPLEX_LEAST) {
        round += 2;
    }
}

vs_status vs_minimum_simplex(vs_function_of_many f, void *context, size_t count, const double *step,
                             int most, double *x, double *value) {
    *value = count > 0 ? f(x, context) : (double)NAN;
    if (!isfinite(*value)) {
        *value = NAN;
        return VS_ERR_DOMAIN;
    }
    many m = {f, context};
    gsl_multimin_function function = {of_vector, count, &m};
    gsl_multimin_fminimizer *solver =
        gsl_multimin_fminimizer_alloc(gsl_multimin_fminimizer_nmsimplex2, count);
    if (!solver) {
        return VS_ERR_MEMORY;
    }
    gsl_vector_view at = gsl_vector_view_array(x, count);
    gsl_vector_const_view steps = gsl_vector_const_view_array(step, count);
    if (gsl_multimin_fminimizer_set(solver, &function, &at.vector, &steps.vector) == GSL_SUCCESS) {
        shrink(solver, count, most);
        if (gsl_multimin_fminimizer_minimum(solver) < *value) {
            *value = gsl_multimin_fminimizer_minimum(solver);
            gsl_vector_memcpy(&at.vector, gsl_multimin_fminimizer_x(solver));
        }
    }
    gsl_multimin_fminimizer_free(solver);
    return VS_OK;
}
