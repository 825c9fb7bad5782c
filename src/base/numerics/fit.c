/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nonlinear least squares by Levenberg-Marquardt on GSL, with its vectors kept inside. */
#include "veilstop/base/fit.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_multifit.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#define ITERATION_MAX 80   /* Levenberg-Marquardt needs some tens where it converges at all */
#define STEP          6e-6 /* [1] of a parameter of order 1: the cube root of rounding */
#define STEP_LEAST    1e-9 /* [1] of a parameter of order 1: a step so small ends the fit */

#define COSINE_MOST  1e-4  /* [1] residuals orthogonal enough to the Jacobian to stop */
#define NOTHING_LEFT 1e-12 /* [residual] what rounding leaves of each in a perfect fit */

typedef struct {
    vs_fit_model model;
    void *context;
    double tolerance;
    double *residual; /* one column of the Jacobian is not contiguous: written here, then copied */
    double *moved;    /* the parameters with one of them a step off */
    gsl_vector *before; /* residuals one step earlier */
} problem;

static int evaluate(const gsl_vector *x, void *data, gsl_vector *f) {
    const problem *p = data;
    p->model(x->data, p->residual, p->context);
    for (size_t i = 0; i < f->size; i++) {
        if (!isfinite(p->residual[i])) {
            return GSL_EBADFUNC;
        }
        gsl_vector_set(f, i, p->residual[i]);
    }
    return GSL_SUCCESS;
}

/* Central differences with a fixed step. GSL's own step is relative to the parameter, so it would
 * vanish near 0. */
static int differentiate(const gsl_vector *x, void *data, gsl_matrix *jacobian) {
    const problem *p = data;
    int status = GSL_SUCCESS;
    for (size_t i = 0; i < x->size && status == GSL_SUCCESS; i++) {
        double at = gsl_vector_get(x, i), h = STEP * (1 + fabs(at));
        gsl_vector_view column = gsl_matrix_column(jacobian, i);
        for (size_t k = 0; k < x->size; k++) {
            p->moved[k] = gsl_vector_get(x, k);
        }
        gsl_vector_view moved = gsl_vector_view_array(p->moved, x->size);
        p->moved[i] = at - h;
        status = evaluate(&moved.vector, data, p->before);
        p->moved[i] = at + h;
        if (status == GSL_SUCCESS) {
            status = evaluate(&moved.vector, data, &column.vector);
        }
        gsl_vector_sub(&column.vector, p->before);
        gsl_vector_scale(&column.vector, 1 / (2 * h));
    }
    return status;
}

static bool all_finite(const double *value, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(value[i])) {
            return false;
        }
    }
    return true;
}

/* Whether the residuals are orthogonal to every column of the Jacobian (MINPACK's test, Moré 1978),
 * or all but zero: a minimum, as far as finite differences can tell. */
static bool at_minimum(gsl_multifit_nlinear_workspace *w) {
    const gsl_matrix *jacobian = gsl_multifit_nlinear_jac(w);
    const gsl_vector *f = gsl_multifit_nlinear_residual(w);
    double length = gsl_blas_dnrm2(f);
    if (length <= NOTHING_LEFT * sqrt((double)f->size)) {
        return true;
    }
    for (size_t i = 0; i < jacobian->size2; i++) {
        gsl_vector_const_view column = gsl_matrix_const_column(jacobian, i);
        double dot = 0;
        gsl_blas_ddot(&column.vector, f, &dot);
        if (!(fabs(dot) <= COSINE_MOST * gsl_blas_dnrm2(&column.vector) * length)) {
            return false;
        }
    }
    return true;
}

/* Whether the last step moved every parameter by a negligible amount; they are of order 1. */
static bool stands_still(gsl_multifit_nlinear_workspace *w) {
    const gsl_vector *x = gsl_multifit_nlinear_position(w), *step = w->dx;
    for (size_t i = 0; i < x->size; i++) {
        if (!(fabs(gsl_vector_get(step, i)) <= STEP_LEAST * (1 + fabs(gsl_vector_get(x, i))))) {
            return false;
        }
    }
    return true;
}

static double cost_of(gsl_multifit_nlinear_workspace *w) {
    double length = gsl_blas_dnrm2(gsl_multifit_nlinear_residual(w));
    return length * length;
}

/* Runs the solver to its end; its state then holds the fit. */
static vs_status drive(gsl_multifit_nlinear_workspace *w, double tolerance) {
    int idle = 0; /* successive steps that gained next to nothing */
    for (int i = 0; i < ITERATION_MAX; i++) {
        double before = cost_of(w);
        int status = gsl_multifit_nlinear_iterate(w);
        if (status == GSL_ENOPROG) { /* no step lowers the sum any more */
            return at_minimum(w) ? VS_OK : VS_ERR_CONVERGENCE;
        }
        if (status != GSL_SUCCESS) {
            return VS_ERR_CONVERGENCE;
        }
        idle = before - cost_of(w) <= tolerance * before ? idle + 1 : 0;
        if (idle == 2 || stands_still(w)) {
            return VS_OK;
        }
    }
    return VS_ERR_CONVERGENCE;
}

static vs_status read_fit(gsl_multifit_nlinear_workspace *w, double *parameter, double *covariance,
                          double *sum_of_squares) {
    size_t p = gsl_multifit_nlinear_position(w)->size;
    for (size_t i = 0; i < p; i++) {
        parameter[i] = gsl_vector_get(gsl_multifit_nlinear_position(w), i);
    }
    if (covariance) {
        gsl_matrix_view c = gsl_matrix_view_array(covariance, p, p);
        if (gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(w), 0, &c.matrix) != GSL_SUCCESS) {
            return VS_ERR_CONVERGENCE;
        }
    }
    if (sum_of_squares) {
        gsl_vector *f = gsl_multifit_nlinear_residual(w);
        gsl_blas_ddot(f, f, sum_of_squares);
    }
    bool finite = all_finite(parameter, p) && (!covariance || all_finite(covariance, p * p));
    return finite ? VS_OK : VS_ERR_CONVERGENCE;
}

static void blank(double *value, size_t count) {
    for (size_t i = 0; value && i < count; i++) {
        value[i] = NAN;
    }
}

static vs_status fit(problem *p, size_t n, size_t count, double *parameter, double *covariance,
                     double *sum_of_squares) {
    gsl_multifit_nlinear_parameters options = gsl_multifit_nlinear_default_parameters();
    gsl_multifit_nlinear_workspace *w =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &options, n, count);
    if (!w) {
        return VS_ERR_MEMORY;
    }
    gsl_multifit_nlinear_fdf system = {
        .f = evaluate, .df = differentiate, .n = n, .p = count, .params = p};
    gsl_vector_const_view start = gsl_vector_const_view_array(parameter, count);
    vs_status status = VS_ERR_DOMAIN;
    if (gsl_multifit_nlinear_init(&start.vector, &system, w) == GSL_SUCCESS) {
        status = drive(w, p->tolerance);
    }
    if (status == VS_OK) {
        status = read_fit(w, parameter, covariance, sum_of_squares);
    }
    gsl_multifit_nlinear_free(w);
    return status;
}

static vs_status fit_linear(const double *row, const double *wanted, size_t n, size_t p,
                            double *parameter) {
    gsl_multifit_linear_workspace *w = gsl_multifit_linear_alloc(n, p);
    gsl_matrix *covariance = gsl_matrix_alloc(p, p);
    vs_status status = w && covariance ? VS_OK : VS_ERR_MEMORY;
    if (status == VS_OK) {
        gsl_matrix_const_view x = gsl_matrix_const_view_array(row, n, p);
        gsl_vector_const_view y = gsl_vector_const_view_array(wanted, n);
        gsl_vector_view c = gsl_vector_view_array(parameter, p);
        double sum;
        int failed = gsl_multifit_linear(&x.matrix, &y.vector, &c.vector, covariance, &sum, w);
        status = failed || !all_finite(parameter, p) ? VS_ERR_CONVERGENCE : VS_OK;
    }
    gsl_matrix_free(covariance);
    if (w) {
        gsl_multifit_linear_free(w);
    }
    return status;
}

vs_status vs_fit_linear(const double *row, const double *wanted, size_t equation_count,
                        size_t parameter_count, double *parameter) {
    vs_status status = VS_ERR_DOMAIN;
    if (parameter_count > 0 && equation_count >= parameter_count &&
        all_finite(row, equation_count * parameter_count) && all_finite(wanted, equation_count)) {
        status = fit_linear(row, wanted, equation_count, parameter_count, parameter);
    }
    if (status != VS_OK) {
        blank(parameter, parameter_count);
    }
    return status;
}

vs_status vs_fit_least_squares(vs_fit_model model, void *context, size_t residual_count,
                               size_t parameter_count, double tolerance, double *parameter,
                               double *covariance, double *sum_of_squares) {
    vs_status status = VS_ERR_DOMAIN;
    if (parameter_count > 0 && residual_count >= parameter_count && tolerance >= 0 &&
        all_finite(parameter, parameter_count)) {
        problem p = {model,
                     context,
                     tolerance,
                     malloc(residual_count * sizeof *p.residual),
                     malloc(parameter_count * sizeof *p.moved),
                     gsl_vector_alloc(residual_count)};
        status = p.residual && p.moved && p.before ? fit(&p, residual_count, parameter_count,
                                                         parameter, covariance, sum_of_squares)
                                                   : VS_ERR_MEMORY;
        free(p.residual);
        free(p.moved);
        gsl_vector_free(p.before);
    }
    if (status != VS_OK) {
        blank(parameter, parameter_count);
        blank(covariance, parameter_count * parameter_count);
        blank(sum_of_squares, 1);
    }
    return status;
}
