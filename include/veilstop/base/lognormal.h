/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mean and median diameters of a lognormal size distribution, from its count median and spread.
 * Source: Hatch & Choate 1929, J. Franklin Inst. 207, 369; Hinds 1999, Aerosol Technology, 4.6. */
#ifndef VEILSTOP_BASE_LOGNORMAL_H
#define VEILSTOP_BASE_LOGNORMAL_H

#ifdef __cplusplus
extern "C" {
#endif

/* The exponent b of vs_lognormal_diameter [1], Hinds 1999, table 4.3. */
#define VS_LOGNORMAL_MEAN         0.5 /* arithmetic mean diameter */
#define VS_LOGNORMAL_SURFACE      1.0 /* diameter of average surface */
#define VS_LOGNORMAL_MASS         1.5 /* diameter of average mass */
#define VS_LOGNORMAL_SAUTER       2.5 /* surface-weighted mean (volume over surface) */
#define VS_LOGNORMAL_MASS_MEDIAN  3.0 /* half the mass is in larger ones */
#define VS_LOGNORMAL_MASS_AVERAGE 3.5 /* mass-weighted mean diameter */

/** A characteristic diameter of a lognormal: count median x exp(b ln^2 gsd).
 *  count_median_m  [m]  over 0 (any unit of length; the result has the same)
 *  gsd             geometric standard deviation [1], at least 1
 *  b               one of the above, or its negative to convert that diameter back to the median
 *  Returns NaN outside these ranges.  Method: Hatch-Choate equations, Hinds 1999 eq. 4.47.
 *  Checked: tests/unit/test_settling.c, by numerical moments and the published exponents. */
double vs_lognormal_diameter(double count_median_m, double gsd, double b);

#ifdef __cplusplus
}
#endif
#endif
