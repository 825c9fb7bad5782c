/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A grid of scattering angles on which the light of many spheres is summed, and the cosine series
 * of the sum. Source: Bohren & Huffman 1983 eq. 4.74; the series is a discrete cosine transform. */
#ifndef VEILSTOP_OPTICS_ANGLES_H
#define VEILSTOP_OPTICS_ANGLES_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/optics/mie.h"

/** Angles pi j / K, j = 0 .. K, K = 2 terms. The intensity of a sphere of N terms is a polynomial
 *  of degree 2 N in the cosine of the angle, so for N <= terms the grid determines it
 *  completely. */
typedef struct {
    size_t terms;      /* even; most terms of a sphere */
    size_t half;       /* angles from 0 to 90 deg: terms + 1 */
    double *pi, *tau;  /* angular functions, term n from 1 at [(n - 1) half + j] */
    double *sum;       /* 8 x half: scratch of one sphere */
    double *intensity; /* K + 1: the weighted sum so far */
    double *memory;    /* owned */
} vs_angles;

/** terms  2 or more, rounded up to even.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_angles_init(vs_angles *angles, size_t terms);
void vs_angles_free(vs_angles *angles);

/** Adds weight x (|S1|^2 + |S2|^2)/2 of the last sphere in a workspace, which must have at most
 *  angles->terms terms. One pass; the plain form of it is vs_mie_amplitudes_at at each angle. */
void vs_angles_add(vs_angles *angles, const vs_mie_workspace *sphere, double weight);

/** Adds the series of the sum so far, sum over m of c_m cos(m angle), m = 0 .. 2 terms, onto
 *  `series`.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_angles_add_series(const vs_angles *angles, double *series);

/** A cosine series of `count` terms at many angles (Clenshaw 1955, MTAC 9, 118).
 *  cos_angle, value  arrays of `points`; may not overlap */
void vs_angles_series_at(const double *series, size_t count, const double *cos_angle, double *value,
                         size_t points);

#endif
