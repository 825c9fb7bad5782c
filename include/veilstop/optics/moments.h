/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Legendre moments of a phase function, and its mean over small patches of sky.
 * Source: Chandrasekhar 1950, Radiative Transfer, ch. I, 3 (expansion in Legendre polynomials). */
#ifndef VEILSTOP_OPTICS_MOMENTS_H
#define VEILSTOP_OPTICS_MOMENTS_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/optics/phase.h"

#ifdef __cplusplus
extern "C" {
#endif

/** chi_l = 2 pi times the integral of p(mu) P_l(mu) from -1 to 1, l = 0 to count - 1 [1]; chi_0 is
 *  1, chi_1 the mean cosine.
 *  phase   borrowed
 *  moment  out, count of them
 *  Method: Henyey-Greenstein: g^l (Henyey & Greenstein 1941); table: Gauss-Legendre, four points a
 *  cell of the table, good to 1e-5 for count up to 128.
 *  Checked: tests/unit/test_moments.c against Garcia & Siewert 1985. */
void vs_phase_moments(const vs_phase *phase, size_t count, double *moment);

/* Angles to a cap's centre, evenly spaced in vs_phase_table_place; sizes of caps, evenly spaced in
 * the square root of solid angle over 2 pi. */
#define VS_CAP_ANGLES 129
#define VS_CAP_SIZES  17

/** The mean of a phase function over a circular cap of directions, by the angle to its centre and
 *  by its solid angle up to a hemisphere [1/sr]: value[size][angle], linear in between. */
typedef struct {
    float value[VS_CAP_SIZES][VS_CAP_ANGLES];
} vs_cap_phase;

/** Method: averaging over a cap scales the l-th moment by (P_(l-1)(c) - P_(l+1)(c))/((2l + 1)(1 -
 *  c)), c the cosine of its half angle (Sloan, Kautz & Snyder 2002, ACM Trans. Graph. 21, 527:
 *  zonal harmonics); the smallest size is the phase function itself.
 *  Checked: tests/unit/test_moments.c. */
void vs_cap_phase_make(const vs_phase *phase, vs_cap_phase *cap);

#ifdef __cplusplus
}
#endif
#endif
