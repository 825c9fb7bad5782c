/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roots of polynomials.
 * Source: GSL reference manual, "General Polynomial Equations" (eigenvalues of the companion
 * matrix). */
#ifndef VEILSTOP_BASE_POLYNOMIAL_H
#define VEILSTOP_BASE_POLYNOMIAL_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_POLYNOMIAL_DEGREE_MAX 8 /* our choice */

/** The real roots of coefficient[0] + coefficient[1] x + ... + coefficient[degree] x^degree.
 *  coefficient  finite, degree + 1 of them; leading ones that are 0 to rounding are left out
 *  degree       1 to VS_POLYNOMIAL_DEGREE_MAX
 *  root         out, room for `degree`; a root whose imaginary part is within 1e-3 of its size
 *               counts as real, for noise parts a double root
 *  count        out, how many; 0 on error
 *  Errors: VS_ERR_DOMAIN (degree, a figure not finite, nothing but a constant), VS_ERR_MEMORY,
 *  VS_ERR_CONVERGENCE.   Checked: tests/unit/test_match.c */
VS_WARN_UNUSED vs_status vs_polynomial_real_roots(const double *coefficient, size_t degree,
                                                  double *root, size_t *count);

#ifdef __cplusplus
}
#endif
#endif
