/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roots of polynomials on GSL. */
#include "veilstop/base/polynomial.h"

#include <gsl/gsl_poly.h>
#include <math.h>

#define REAL_ENOUGH 1e-3  /* [1] imaginary part over size: noise parts a double root; our choice */
#define NOTHING     1e-14 /* [1] of the largest coefficient: rounding */

vs_status vs_polynomial_real_roots(const double *coefficient, size_t degree, double *root,
                                   size_t *count) {
    double largest = 0, z[2 * VS_POLYNOMIAL_DEGREE_MAX];
    *count = 0;
    if (degree < 1 || degree > VS_POLYNOMIAL_DEGREE_MAX) {
        return VS_ERR_DOMAIN;
    }
    for (size_t i = 0; i <= degree; i++) {
        if (!isfinite(coefficient[i])) {
            return VS_ERR_DOMAIN;
        }
        largest = fmax(largest, fabs(coefficient[i]));
    }
    while (degree > 0 && !(fabs(coefficient[degree]) > NOTHING * largest)) {
        degree--;
    }
    if (degree == 0) {
        return VS_ERR_DOMAIN;
    }
    gsl_poly_complex_workspace *work = gsl_poly_complex_workspace_alloc(degree + 1);
    if (!work) {
        return VS_ERR_MEMORY;
    }
    int failed = gsl_poly_complex_solve(coefficient, degree + 1, work, z);
    gsl_poly_complex_workspace_free(work);
    for (size_t i = 0; i < degree && !failed; i++) {
        if (fabs(z[2 * i + 1]) <= REAL_ENOUGH * (1 + hypot(z[2 * i], z[2 * i + 1]))) {
            root[(*count)++] = z[2 * i];
        }
    }
    return failed ? VS_ERR_CONVERGENCE : VS_OK;
}
