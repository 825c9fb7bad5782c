/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Integrals: adaptive Gauss-Kronrod as the reference, Gauss-Legendre rules for fixed orders.
 * Source: GSL reference manual, "Numerical Integration" (QUADPACK, Piessens et al. 1983). */
#ifndef VEILSTOP_BASE_QUADRATURE_H
#define VEILSTOP_BASE_QUADRATURE_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef double (*vs_integrand)(double x, void *context);

/** Workspace for adaptive integration: made once, used for many integrals, one at a time. */
typedef struct {
    void *workspace; /* GSL's, opaque */
    size_t limit;    /* most subintervals */
} vs_quadrature;

/** limit  most subintervals of one integral, 1 to 1e6.  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_quadrature_init(vs_quadrature *quadrature, size_t limit);
void vs_quadrature_free(vs_quadrature *quadrature);

/** Integral of f from a to b, by adaptive 21-point Gauss-Kronrod.
 *  relative, absolute  tolerance; met when the error estimate is under either
 *  value               out; NaN on error
 *  error               out, GSL's estimate of the absolute error; may be NULL
 *  Errors: VS_ERR_DOMAIN for bounds or tolerances that are not finite, VS_ERR_CONVERGENCE where the
 *  tolerance is not met within the limit or the integrand is not finite.
 *  A tolerance that only rounding prevents is accepted if the estimate is under 1e-10 relative. */
VS_WARN_UNUSED vs_status vs_quadrature_adaptive(vs_quadrature *quadrature, vs_integrand f,
                                                void *context, double a, double b, double relative,
                                                double absolute, double *value, double *error);

/** Nodes and weights of the n-point Gauss-Legendre rule on [-1, 1], nodes ascending.
 *  n  1 to 512.  node, weight  out, arrays of n.  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_gauss_legendre(size_t n, double *node, double *weight);

#ifdef __cplusplus
}
#endif
#endif
