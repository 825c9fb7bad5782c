/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The refractive index of a liquid at a wavelength: constant, by band, or by Cauchy's formula.
 * Source: Born & Wolf 1999, Principles of Optics, 2.3.4 (Cauchy's dispersion formula). */
#ifndef VEILSTOP_OPTICS_INDEX_H
#define VEILSTOP_OPTICS_INDEX_H

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum { VS_INDEX_CONSTANT, VS_INDEX_BANDS, VS_INDEX_CAUCHY } vs_index_kind;

/** Refractive index relative to air, n + ik, k >= 0 absorbs. */
typedef struct {
    vs_index_kind kind;
    double n[3]; /* CONSTANT: n[0]; BANDS: red, green, blue; CAUCHY: A, B [um2], C [um4] of
                  * n = A + B/L^2 + C/L^4, L the wavelength in um */
    double k;    /* [1] the same at all wavelengths; 0 for fluids from files */
} vs_refractive_index;

#define VS_WAVELENGTH_MIN_M 200e-9  /* [m] shortest wavelength accepted */
#define VS_WAVELENGTH_MAX_M 2500e-9 /* [m] longest */

/** Real part n [1] at a wavelength.
 *  wavelength_m  [m] in air; VS_WAVELENGTH_MIN_M to VS_WAVELENGTH_MAX_M, else NaN
 *  BANDS: linear in wavelength between 611, 549 and 464 nm, constant outside. CAUCHY: as given,
 *  even outside the range in which it was measured.
 *  Checked: tests/unit/test_index.c against Rheims et al. 1997 for glycerol. */
double vs_index_real_at(const vs_refractive_index *index, double wavelength_m);

#ifdef __cplusplus
}
#endif
#endif
