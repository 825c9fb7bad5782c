/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/base/lognormal.h"

#include <math.h>

double vs_lognormal_diameter(double count_median_m, double gsd, double b) {
    if (!(count_median_m > 0) || !(gsd >= 1)) {
        return NAN;
    }
    double spread = log(gsd);
    return count_median_m * exp(b * spread * spread);
}
