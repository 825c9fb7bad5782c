/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far exit signs can be seen through haze.
 * Source: T. Jin, Visibility through fire smoke, as in the SFPE Handbook of Fire Protection
 * Engineering; CIBSE Guide E eq. 10.7. */
#ifndef VEILSTOP_SAFETY_EXITS_H
#define VEILSTOP_SAFETY_EXITS_H

#include "veilstop/base/source.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_EXIT_LIT_NEPERS        8.0 /* [1] Jin: a self-luminous sign; extinction x range */
#define VS_EXIT_REFLECTING_NEPERS 3.0 /* [1] Jin: a sign lit from outside, or a door */

/** Distances [m] at which a sign can just be seen in haze of an extinction [1/m, 0 or over]:
 *  INFINITY in clear air.  Method: Jin, 8/k and 3/k. Measured with letters whose size grew with
 *  their distance, by healthy adults, in smoke of about 0.3 /m and over; thinner haze is outside
 *  that range. Later work gives less for reflecting signs.
 *  Checked: tests/unit/test_exits.c against CIBSE Guide E. */
double vs_exit_lit_m(double extinction_per_m);
double vs_exit_reflecting_m(double extinction_per_m);

/** How far people need to see to find their way out. Borrowed texts. */
typedef struct {
    double needed_m;
    const char *where; /* "large or unfamiliar places" */
    vs_source_status status;
    const char *source;
} vs_exit_criterion;

#ifdef __cplusplus
}
#endif
#endif
