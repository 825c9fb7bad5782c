/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How errors are spread: sorted, with quantiles. */
#ifndef VEILSTOP_TESTS_SPREAD_H
#define VEILSTOP_TESTS_SPREAD_H

#include <stddef.h>

/* Sorts, and returns a quantile from 0 to 1; NaN where there are no values. */
double spread_quantile(double *value, size_t count, double share);

#endif
