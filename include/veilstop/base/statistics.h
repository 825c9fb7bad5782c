/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Statistics of samples: quantiles, rank correlation.
 * Source: GSL reference manual, "Statistics". */
#ifndef VEILSTOP_BASE_STATISTICS_H
#define VEILSTOP_BASE_STATISTICS_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Sorts samples, smallest first; none may be NaN. */
void vs_sort(double *sample, size_t count);

/** The value below which a share of the samples lie, by linear interpolation.
 *  sorted  count samples, smallest first
 *  share   0 to 1
 *  Returns NaN without samples.  Checked: tests/unit/test_statistics.c */
double vs_quantile(const double *sorted, size_t count, double share);

/** Spearman's rank correlation, -1 to 1; equal samples share their mean rank.
 *  x, y         count samples each, finite
 *  correlation  out; NaN with fewer than two samples, or where all of one set are equal
 *  Errors: VS_ERR_MEMORY.  Checked: tests/unit/test_statistics.c against a worked example. */
VS_WARN_UNUSED vs_status vs_rank_correlation(const double *x, const double *y, size_t count,
                                             double *correlation);

/** The value that Student's t exceeds with a probability of 1 - share.
 *  share    over 0, under 1
 *  freedom  degrees of freedom, over 0
 *  Returns NaN outside.  Source: GSL reference manual, "The t-distribution".
 *  Checked: tests/unit/test_statistics.c against a printed table. */
double vs_student_quantile(double share, double freedom);

#ifdef __cplusplus
}
#endif
#endif
