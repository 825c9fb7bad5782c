/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light scattered by one homogeneous sphere: efficiencies, asymmetry, amplitudes.
 * Source: Bohren & Huffman 1983, Absorption and Scattering of Light by Small Particles, ch. 4;
 * Wiscombe 1980, Appl. Opt. 19, 1505 (number of terms, angular functions). Time factor exp(-iwt).
 */
#ifndef VEILSTOP_OPTICS_MIE_H
#define VEILSTOP_OPTICS_MIE_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_MIE_SIZE_MIN  1e-4 /* [1] smallest size parameter taken */
#define VS_MIE_SIZE_MAX  2e4  /* [1] largest */
#define VS_MIE_INDEX_MAX 100  /* [1] largest n and k taken */

/** Workspace for spheres up to a size: made once, used for one sphere at a time. It keeps the
 *  coefficients of the last sphere for vs_mie_amplitudes_at. */
typedef struct {
    double size_max; /* [1] largest size parameter it holds */
    size_t terms;    /* of the last sphere; 0 before any */
    /* Of the last sphere, one per term, n = 1 .. terms at [n - 1]: the coefficients a_n and b_n
     * times (2 n + 1)/(n (n + 1)). */
    double *a_re, *a_im, *b_re, *b_im;
    double *memory; /* all of the above and scratch; owned */
} vs_mie_workspace;

/** Room for spheres up to a size parameter.
 *  size_max  [1] VS_MIE_SIZE_MIN to VS_MIE_SIZE_MAX.   Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_mie_workspace_init(vs_mie_workspace *work, double size_max);
/** Safe to call twice, or on a zeroed one. */
void vs_mie_workspace_free(vs_mie_workspace *work);

/** Terms of the series that matter at a size parameter: x + 4.05 x^(1/3) + 2, rounded up
 *  (Wiscombe 1980). */
size_t vs_mie_terms(double size_parameter);

/** A whole sphere; cross-section = efficiency x pi radius^2. */
typedef struct {
    double extinction; /* efficiency [1] */
    double scattering; /* efficiency [1], at most the extinction, save for rounding */
    double back;       /* radar backscattering efficiency [1]: 4 |S(180 deg)|^2 / x^2 */
    double asymmetry;  /* mean cosine of scattering [1] */
    double forward_re; /* S(0), the forward amplitude [1], real part */
    double forward_im; /* and imaginary part */
} vs_mie;

/** Efficiencies and asymmetry of one homogeneous sphere.
 *  work            made for this size or a larger one; then holds the coefficients for
 *                  vs_mie_amplitudes_at. Nothing is allocated.
 *  size_parameter  2 pi radius / wavelength                              [1] VS_MIE_SIZE_MIN ..
 *                  VS_MIE_SIZE_MAX, at most the workspace's
 *  n, k            refractive index n + ik relative to the air           [1] 0 < n, 0 <= k, both at
 *                  most VS_MIE_INDEX_MAX
 *  out             finite on VS_OK, all NaN otherwise
 *  Errors: VS_ERR_DOMAIN.
 *  Method: Bohren & Huffman 1983 eqs. 4.88 (a_n, b_n with the logarithmic derivative), 4.61, 4.62
 *  (efficiencies), 4.82 ff. (back), p. 120 (asymmetry). The logarithmic derivative at the inner
 *  argument is computed by downward recurrence, stable for every k. The outer Riccati-Bessel psi
 *  runs upwards to n = x and by downward ratios above, so that no digits are lost at small x and no
 *  small-x series is needed.
 *  Accuracy: about 1e-12 relative at moderate size, 1e-10 at x = 1e4; the asymmetry of tiny spheres
 *  is good to 1e-15 absolute. For an index within d of 1 errors grow by 1/d.
 *  Left out: coated, rough or charged droplets.
 *  Checked: tests/reference/mie_*.csv, limits and identities in tests/unit/test_mie.c. */
VS_WARN_UNUSED vs_status vs_mie_sphere(vs_mie_workspace *work, double size_parameter, double n,
                                       double k, vs_mie *out);

/** Amplitudes S1 (across the scattering plane) and S2 (in it), dimensionless. */
typedef struct {
    double s1_re, s1_im, s2_re, s2_im;
} vs_amplitudes;

/** Amplitudes of the last sphere of a workspace at one angle.
 *  cos_angle  [1] -1 to 1, 1 is forward
 *  Method: Bohren & Huffman 1983 eq. 4.74; angular functions by Wiscombe 1980 eqs. 15.
 *  Cost: one pass over the terms. */
vs_amplitudes vs_mie_amplitudes_at(const vs_mie_workspace *work, double cos_angle);

/** Intensity of unpolarised light: (|S1|^2 + |S2|^2)/2, Bohren & Huffman's S11 [1]. Divided by pi
 *  x^2 Qsca it is the phase function in 1/sr. */
double vs_mie_intensity(vs_amplitudes amplitudes);

#ifdef __cplusplus
}
#endif
#endif
