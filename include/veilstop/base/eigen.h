/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eigenvalues and eigenvectors of small symmetric matrices.
 * Source: GSL reference manual, "Real Symmetric Matrices" (Golub & Van Loan, section 8.3). */
#ifndef VEILSTOP_BASE_EIGEN_H
#define VEILSTOP_BASE_EIGEN_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_EIGEN_SIZE_MAX 256 /* rows: far more rooms than a day uses; our choice */

/** A symmetric matrix as vectors and values: matrix = sum_j value[j] vector_j vector_j'.
 *  matrix  size x size, row by row, finite, symmetric; borrowed, not kept
 *  size    1 to VS_EIGEN_SIZE_MAX
 *  value   out, size, in no order
 *  vector  out, size x size: column j belongs to value[j]; orthonormal
 *  Errors: VS_ERR_DOMAIN (size, a figure not finite), VS_ERR_MEMORY, VS_ERR_CONVERGENCE. Outputs
 *  are NaN then.  Checked: tests/unit/test_rooms.c, through the linked rooms. */
VS_WARN_UNUSED vs_status vs_eigen_symmetric(const double *matrix, size_t size, double *value,
                                            double *vector);

#ifdef __cplusplus
}
#endif
#endif
