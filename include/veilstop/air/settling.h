/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How fast a droplet, or a haze of many droplet sizes, falls through still air.
 * Source: Hinds 1999, Aerosol Technology, 2nd ed., ch. 3 (Stokes' law with Cunningham slip); a
 * second set of constants by Seinfeld & Pandis 2006, Atmospheric Chemistry and Physics, ch. 9. */
#ifndef VEILSTOP_AIR_SETTLING_H
#define VEILSTOP_AIR_SETTLING_H

#ifdef __cplusplus
extern "C" {
#endif

/** The air a droplet falls through, and the slip formula that goes with it:
 *  Cc = 1 + (l/d) (a + b exp(-c d/l)). */
typedef struct {
    double viscosity_pa_s;
    double mean_free_path_m; /* l */
    double slip_a, slip_b, slip_c;
    double gravity_m_per_s2;
} vs_air_gas;

/** Air at 20 C and 101.3 kPa with Hinds' slip formula: used throughout this program. */
vs_air_gas vs_air_gas_hinds(void);

/** Air at 298 K with the slip formula and the constants of Seinfeld & Pandis: for comparison. */
vs_air_gas vs_air_gas_seinfeld_pandis(void);

/** Cunningham's slip correction [1]: the factor by which a sphere falls faster than by Stokes' law.
 *  gas         all over 0
 *  diameter_m  [m]  over 0; empirical formulas for 0.01 um and larger at one atmosphere
 *  Returns NaN outside these ranges.  Method: Hinds eq. 3.20.
 *  Checked: tests/reference/slip_seinfeld_pandis.csv, slip and velocity in settling_hinds.csv. */
double vs_settling_slip(const vs_air_gas *gas, double diameter_m);

/** Terminal velocity [m/s] of one sphere, downwards.
 *  density_kg_per_m3  of the droplet, over 0 (1 g/ml = 1000)
 *  Returns NaN outside the ranges.  Method: rho d^2 g Cc / (18 mu), Hinds eq. 3.21.
 *  Leaves out: inertia of the air (1 % at 30 um and unit density, more above), the air's own
 *  density (0.1 %), draughts.  Checked: tests/reference/settling_hinds.csv. */
double vs_settling_m_per_s(const vs_air_gas *gas, double diameter_m, double density_kg_per_m3);

/** Velocity [m/s] at which the mass of a lognormal haze settles: the mass-weighted mean.
 *  count_median_m     count median diameter [m], over 0
 *  gsd                geometric standard deviation [1], 1 to 10
 *  density_kg_per_m3  of the droplets, over 0
 *  Returns NaN outside the ranges.
 *  Method: the mass is lognormal about the mass median with the same gsd (Hatch-Choate); the means
 *  of the terms in d^2 and d of Stokes' law with slip have closed forms, that of the exponential
 *  term is integrated over ln d by the trapezoidal rule, which converges exponentially here
 *  (Trefethen & Weideman 2014, SIAM Rev. 56, 385).  Leaves out: that the haze grows finer as its
 *  large droplets fall first.
 *  Checked: tests/unit/test_settling.c against adaptive quadrature and the one-size limit. */
double vs_settling_lognormal_m_per_s(const vs_air_gas *gas, double count_median_m, double gsd,
                                     double density_kg_per_m3);

#ifdef __cplusplus
}
#endif
#endif
