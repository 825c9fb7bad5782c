/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See spread.h. */
#include "spread.h"

#include <math.h>
#include <stdlib.h>

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double spread_quantile(double *value, size_t count, double share) {
    if (count == 0) {
        return (double)NAN;
    }
    qsort(value, count, sizeof *value, ascending);
    return value[(size_t)(share * (double)(count - 1) + 0.5)];
}
