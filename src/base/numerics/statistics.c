/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Statistics on GSL. */
#include "veilstop/base/statistics.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

void vs_sort(double *sample, size_t count) {
    gsl_sort(sample, 1, count);
}

double vs_quantile(const double *sorted, size_t count, double share) {
    if (count == 0 || !(share >= 0 && share <= 1)) {
        return NAN;
    }
    return gsl_stats_quantile_from_sorted_data(sorted, 1, count, share);
}

static bool all_equal(const double *sample, size_t count) {
    for (size_t i = 1; i < count; i++) {
        if (sample[i] != sample[0]) {
            return false;
        }
    }
    return true;
}

vs_status vs_rank_correlation(const double *x, const double *y, size_t count, double *correlation) {
    *correlation = NAN;
    if (count < 2 || all_equal(x, count) || all_equal(y, count)) {
        return VS_OK;
    }
    double *work = malloc(2 * count * sizeof *work);
    if (!work) {
        return VS_ERR_MEMORY;
    }
    *correlation = gsl_stats_spearman(x, 1, y, 1, count, work);
    free(work);
    return VS_OK;
}

double vs_student_quantile(double share, double freedom) {
    return share > 0 && share < 1 && freedom > 0 ? gsl_cdf_tdist_Pinv(share, freedom) : (double)NAN;
}
