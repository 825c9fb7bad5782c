/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tridiagonal form and symmetric QR, on GSL. */
#include "veilstop/base/eigen.h"

#include <gsl/gsl_eigen.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* memory  n x n + 4 n, starting with a copy of the matrix. The workspace is laid out by hand
 * because GSL's own allocation leaks when memory runs out half-way. */
static vs_status solve(double *memory, size_t n, double *value, double *vector) {
    double *part = memory + n * n;
    gsl_eigen_symmv_workspace work = {
        .size = n, .d = part, .sd = part + n, .gc = part + 2 * n, .gs = part + 3 * n};
    gsl_matrix_view matrix = gsl_matrix_view_array(memory, n, n);
    gsl_matrix_view vectors = gsl_matrix_view_array(vector, n, n);
    gsl_vector_view values = gsl_vector_view_array(value, n);
    int status = gsl_eigen_symmv(&matrix.matrix, &values.vector, &vectors.matrix, &work);
    return status == 0 ? VS_OK : VS_ERR_CONVERGENCE;
}

static bool all_finite(const double *value, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(value[i])) {
            return false;
        }
    }
    return true;
}

vs_status vs_eigen_symmetric(const double *matrix, size_t size, double *value, double *vector) {
    vs_status status = VS_ERR_DOMAIN;
    if (size >= 1 && size <= VS_EIGEN_SIZE_MAX && all_finite(matrix, size * size)) {
        double *memory = malloc((size + 4) * size * sizeof *memory);
        status = VS_ERR_MEMORY;
        if (memory) {
            memcpy(memory, matrix, size * size * sizeof *memory);
            status = solve(memory, size, value, vector);
        }
        free(memory);
    }
    for (size_t i = 0; i < size * size && status != VS_OK && size <= VS_EIGEN_SIZE_MAX; i++) {
        value[i % size] = vector[i] = NAN;
    }
    return status;
}
