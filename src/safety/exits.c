/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/safety/exits.h"

#include <math.h>

/* Jin: extinction x range is constant, 8 for lit signs, 3 for reflecting ones. */
static double range_m(double nepers, double extinction_per_m) {
    return extinction_per_m == 0 ? (double)INFINITY : nepers / extinction_per_m;
}

double vs_exit_lit_m(double extinction_per_m) {
    return range_m(VS_EXIT_LIT_NEPERS, extinction_per_m);
}

double vs_exit_reflecting_m(double extinction_per_m) {
    return range_m(VS_EXIT_REFLECTING_NEPERS, extinction_per_m);
}
