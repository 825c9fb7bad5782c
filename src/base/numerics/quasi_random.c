/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sobol's sequence (quasi-random numbers) on GSL, which starts after the origin. */
#include "veilstop/base/quasi_random.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_qrng.h>

vs_status vs_sobol_points(size_t dimensions, size_t count, double *point) {
    if (dimensions < 1 || dimensions > VS_SOBOL_DIMENSIONS_MAX) {
        return VS_ERR_DOMAIN;
    }
    gsl_qrng *sequence = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)dimensions);
    if (!sequence) {
        return VS_ERR_MEMORY;
    }
    vs_status status = VS_OK;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        if (gsl_qrng_get(sequence, point + i * dimensions) != GSL_SUCCESS) {
            status = VS_ERR_DOMAIN;
        }
    }
    gsl_qrng_free(sequence);
    return status;
}
