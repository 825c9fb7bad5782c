/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Least-squares fits, linear and nonlinear.
 * Source: GSL reference manual, "Nonlinear Least-Squares Fitting": the trust-region method of
 * Levenberg and Marquardt (Moré 1978), Jacobian by finite differences. */
#ifndef VEILSTOP_BASE_FIT_H
#define VEILSTOP_BASE_FIT_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Writes the residuals of a set of parameters: model minus measurement, each divided by its
 *  standard deviation where that is known. A residual that is not finite ends the fit. */
typedef void (*vs_fit_model)(const double *parameter, double *residual, void *context);

/** The parameters that make the sum of squared residuals least.
 *  model            borrowed; called for every trial set of parameters
 *  residual_count   n >= parameter_count
 *  parameter_count  p >= 1
 *  tolerance        [1] of the sum of squares: the fit ends when two successive steps gain less;
 *                   1e-10 for parameters as exact as the data allow
 *  parameter        in: starting point, finite; out: the fit, or all NaN on error. Scale them so
 *                   that all are of order 1.
 *  covariance       out, p x p row by row, (J'J)^-1 at the fit: the covariance of the parameters
 *                   where residuals have unit variance; may be NULL
 *  sum_of_squares   out, at the fit; may be NULL
 *  Errors: VS_ERR_DOMAIN (counts, start, or residuals at the start not finite), VS_ERR_MEMORY,
 *  VS_ERR_CONVERGENCE.
 *  Method: Levenberg-Marquardt (GSL), derivatives by central differences.
 *  Left out: bounds (pass a parameter's logarithm instead), minima other than the nearest.
 *  Checked: tests/unit/test_fit.c against NIST StRD, data set Misra1a. */
VS_WARN_UNUSED vs_status vs_fit_least_squares(vs_fit_model model, void *context,
                                              size_t residual_count, size_t parameter_count,
                                              double tolerance, double *parameter,
                                              double *covariance, double *sum_of_squares);

/** The parameters of linear equations with the least sum of squared residuals.
 *  row, wanted      equation i: the sum of row[i p + k] parameter[k] is wanted[i]; finite
 *  equation_count   n >= parameter_count; row has n x p numbers, one equation after another
 *  parameter        out; the shortest solution where the equations leave some undetermined; NaN on
 *                   error
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Method: singular values (GSL).   Checked: tests/unit/test_fit.c */
VS_WARN_UNUSED vs_status vs_fit_linear(const double *row, const double *wanted,
                                       size_t equation_count, size_t parameter_count,
                                       double *parameter);

#ifdef __cplusplus
}
#endif
#endif
