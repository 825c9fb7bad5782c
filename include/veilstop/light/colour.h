/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Colour temperature to the three bands: the appearance of a light of one colour temperature to a
 * camera balanced for another. Sources: CIE 15:2004 (colour matching functions, daylight locus),
 * Planck's law, ITU-R BT.709-6 (primaries). */
#ifndef VEILSTOP_LIGHT_COLOUR_H
#define VEILSTOP_LIGHT_COLOUR_H

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_COLOUR_KELVIN_MIN   1000.0  /* [K] about a candle; the locus is outside BT.709 there */
#define VS_COLOUR_KELVIN_MAX   25000.0 /* [K] CIE 15:2004, 3.1: end of the daylight locus */
#define VS_COLOUR_DAYLIGHT_MIN 5000.0  /* [K] from here a temperature means daylight */
#define VS_COLOUR_WHITE_MIN    2000.0  /* [K] lowest camera white: all three bands over 0 there */

/** A chromaticity, CIE 1931 2 degree observer [1]. */
typedef struct {
    double x, y;
} vs_chromaticity;

/** Chromaticity of a black body.
 *  kelvin  [K] 1000 to 25000
 *  out     NaN on error
 *  Errors: VS_ERR_DOMAIN.  Method: Planck's law with c2 = 1.438776877e-2 m K, summed with the 1931
 *  colour matching functions from 380 to 780 nm in steps of 5 nm (CIE 15:2004, 7.2).
 *  Leaves out: the observer beyond 780 nm, under 2e-4 at 1000 K and negligible at 2000 K.
 *  Checked: tests/unit/test_colour.c against illuminant A and Robertson's table. */
VS_WARN_UNUSED vs_status vs_colour_black_body(double kelvin, vs_chromaticity *chromaticity);

/** Chromaticity of a phase of daylight.
 *  kelvin  correlated colour temperature [K] 4000 to 25000
 *  out     NaN on error
 *  Errors: VS_ERR_DOMAIN.  Method: CIE 15:2004, 3.1: the two cubics in 1/T and the locus.
 *  Checked: tests/unit/test_colour.c against D50, D55, D65, D75. */
VS_WARN_UNUSED vs_status vs_colour_daylight(double kelvin, vs_chromaticity *chromaticity);

/** Linear BT.709 bands of a chromaticity at luminance 1. A band is negative if the colour is
 *  outside the triangle of the primaries.
 *  chromaticity  y over 0
 *  Method: X = x/y, Y = 1, Z = (1-x-y)/y; the inverse of the primaries' matrix. */
vs_bands vs_colour_bands(vs_chromaticity chromaticity);

/** The tint of a light seen by a camera balanced for white_kelvin: each band of the light over the
 *  same band of the white, scaled to luminance 1. A light at the camera's white is (1, 1, 1).
 *  kelvin        the light's [K] 1000 to 25000: black body under 5000, CIE daylight from there
 *  white_kelvin  the camera's [K] 2000 to 25000, by the same rule
 *  tint          out: bands at least 0; NaN on error
 *  Errors: VS_ERR_DOMAIN.
 *  Method: white balance as gains on the three bands, which is all that light in three bands can
 *  represent. A negative band (blue, for a light under about 1900 K) means a colour outside the
 *  primaries: it becomes 0 and the others carry the luminance.
 *  Leaves out: a lamp's green or magenta cast off the locus (give it as a tint), and the step
 *  between the two loci at 5000 K, 0.007 in y.
 *  Checked: tests/unit/test_colour.c */
VS_WARN_UNUSED vs_status vs_colour_tint(double kelvin, double white_kelvin, vs_bands *tint);

/** The inverse: the colour temperature of a tint to a camera balanced for white_kelvin.
 *  tint          bands over 0
 *  white_kelvin  [K] 2000 to 25000
 *  kelvin        out: [K] 1000 to 25000, where red over blue is the tint's; the nearer end for a
 *                tint beyond it; NaN on error
 *  cast_stops    out: [stops] green over the mean of red and blue, relative to the locus there:
 *                over 0 greenish, under 0 towards magenta
 *  Errors: VS_ERR_DOMAIN.  Method: bisection over the reciprocal temperature, to 0.1 K at 5600 K.
 *  Near 5000 K, where the two loci do not quite meet, it may be 60 K too low.
 *  Checked: tests/unit/test_colour.c */
VS_WARN_UNUSED vs_status vs_colour_kelvin(vs_bands tint, double white_kelvin, double *kelvin,
                                          double *cast_stops);

#ifdef __cplusplus
}
#endif
#endif
