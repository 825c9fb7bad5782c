/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Distributions of droplet sizes: lognormal; for checks also modified gamma and tables.
 * Sources: Hinds 1999, Aerosol Technology, 2nd ed., ch. 4 (lognormal; its mean diameters are in
 * base); Deirmendjian 1969, Electromagnetic Scattering on Spherical Polydispersions (modified
 * gamma). */
#ifndef VEILSTOP_OPTICS_SIZES_H
#define VEILSTOP_OPTICS_SIZES_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum { VS_SIZES_LOGNORMAL, VS_SIZES_MODIFIED_GAMMA, VS_SIZES_TABLE } vs_sizes_kind;

/** A distribution of droplets over diameter, by number. Its scale does not matter: only ratios are
 *  used. */
typedef struct {
    vs_sizes_kind kind;
    /* LOGNORMAL */
    double median_m; /* count median diameter */
    double gsd;      /* geometric standard deviation, 1 (all of one size) or over */
    /* MODIFIED_GAMMA: n(r) ~ r^alpha exp(-b r^gamma), r the radius in um */
    double alpha, b, gamma;
    /* TABLE: borrowed; linear in between, 0 outside */
    const double *diameter_m; /* ascending, over 0 */
    const double *density;    /* number per diameter, any scale, 0 or over */
    size_t count;             /* 2 or more */
} vs_sizes;

/** Number density by diameter, n(d) [any scale per m], 0 or over.
 *  diameter_m  over 0.  NaN for a LOGNORMAL with gsd 1, which has no density.
 *  Checked: tests/unit/test_sizes.c */
double vs_sizes_density(const vs_sizes *sizes, double diameter_m);

#ifdef __cplusplus
}
#endif
#endif
