/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brent's method on GSL. */
#include "veilstop/base/root.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>

#define ITERATION_MAX 200 /* bisection alone needs about 60 for full double precision */
#define STATE_SIZE    32  /* numbers of solver state: GSL 2.7 uses 8 */

static vs_status iterate(gsl_root_fsolver *solver, double relative, double absolute, double *root) {
    for (int i = 0; i < ITERATION_MAX; i++) {
        if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS) {
            return VS_ERR_CONVERGENCE;
        }
        double low = gsl_root_fsolver_x_lower(solver);
        double high = gsl_root_fsolver_x_upper(solver);
        if (gsl_root_test_interval(low, high, absolute, relative) == GSL_SUCCESS) {
            *root = gsl_root_fsolver_root(solver);
            return VS_OK;
        }
    }
    return VS_ERR_CONVERGENCE;
}

vs_status vs_root_brent(vs_function f, void *context, double a, double b, double relative,
                        double absolute, double *root) {
    *root = NAN;
    double at_a = f(a, context);
    double at_b = f(b, context);
    if (at_a == 0) {
        *root = a;
        return VS_OK;
    }
    if (at_b == 0) {
        *root = b;
        return VS_OK;
    }
    if (!isfinite(a) || !isfinite(b) || !isfinite(at_a) || !isfinite(at_b) ||
        (at_a > 0) == (at_b > 0)) {
        return VS_ERR_DOMAIN;
    }
    /* The solver lives on the stack, so nested searches cannot run out of memory. */
    double state[STATE_SIZE];
    gsl_root_fsolver solver = {.type = gsl_root_fsolver_brent, .state = state};
    if (solver.type->size > sizeof state) {
        return VS_ERR_MEMORY;
    }
    gsl_function function = {f, context};
    if (gsl_root_fsolver_set(&solver, &function, fmin(a, b), fmax(a, b)) != GSL_SUCCESS) {
        return VS_ERR_DOMAIN;
    }
    return iterate(&solver, relative, absolute, root);
}
