/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Medians, and straight lines through points many of which may be outliers.
 * Sources: Sen 1968 (J. Am. Stat. Assoc. 63, 1379) for the first estimate; Beaton & Tukey 1974
 * (Technometrics 16, 147), biweight, for its refinement. */
#ifndef VEILSTOP_BASE_ROBUST_H
#define VEILSTOP_BASE_ROBUST_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The median of an array, which is reordered. NaN if it is empty. */
double vs_median(double *value, size_t count);

typedef struct {
    double slope, intercept; /* y = intercept + slope x */
    double scale; /* standard deviation of the good points, from the median absolute deviation */
} vs_line;

/** The line along which most points lie.
 *  x, y   finite, `count` of them, at least 3 with two distinct values of x
 *  line   out, NaN on error
 *  Method: median of slopes between points half the sorted list apart, then weighted least squares
 *  with the biweight at 4.685 deviations until it converges. Tolerates outliers in up to about a
 *  quarter of the points.
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.   Checked: tests/unit/test_robust.c */
VS_WARN_UNUSED vs_status vs_robust_line(const double *x, const double *y, size_t count,
                                        vs_line *line);

#ifdef __cplusplus
}
#endif
#endif
