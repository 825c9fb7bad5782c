/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stokes' law with slip, for one droplet and for the mass-weighted mean of a lognormal haze. */
#include "veilstop/air/settling.h"

#include <math.h>

#include "veilstop/base/lognormal.h"
#include "veilstop/base/units.h"

#define STOKES_DIVISOR 18.0 /* [1] Hinds 1999 eq. 3.13 */
#define GSD_MAX        10.0 /* [1] the widest lognormal the integral below is tested for */
#define NODE_STEP      0.1  /* [standard deviations] error far below rounding up to GSD_MAX */
#define NODE_REACH     100  /* steps each side: 10 standard deviations, exp(-50) */

vs_air_gas vs_air_gas_hinds(void) {
    vs_air_gas gas = {
        .viscosity_pa_s = 1.81e-5,    /* Hinds 1999 app. A1 and table A4: 20 C, 101 kPa */
        .mean_free_path_m = 0.066e-6, /* Hinds 1999 eq. 3.20 and table A4: 20 C, 101 kPa */
        .slip_a = 2.34,               /* Hinds 1999 eq. 3.20 */
        .slip_b = 1.05,               /* Hinds 1999 eq. 3.20 */
        .slip_c = 0.39,               /* Hinds 1999 eq. 3.20 */
        .gravity_m_per_s2 = 9.81,     /* Hinds 1999 app. A1 */
    };
    return gas;
}

vs_air_gas vs_air_gas_seinfeld_pandis(void) {
    vs_air_gas gas = {
        .viscosity_pa_s = 1.72e-5,     /* Seinfeld & Pandis 2006, text below eq. 9.42 */
        .mean_free_path_m = 0.0651e-6, /* Seinfeld & Pandis 2006 eq. 9.7: 298 K, 1 atm */
        .slip_a = 2 * 1.257,           /* Seinfeld & Pandis 2006 eq. 9.34, in terms of l/d */
        .slip_b = 2 * 0.4,             /* Seinfeld & Pandis 2006 eq. 9.34 */
        .slip_c = 1.1 / 2,             /* Seinfeld & Pandis 2006 eq. 9.34 */
        .gravity_m_per_s2 = 980.7e-2,  /* Seinfeld & Pandis 2006, text below eq. 9.42 */
    };
    return gas;
}

double vs_settling_slip(const vs_air_gas *gas, double diameter_m) {
    if (!(diameter_m > 0)) {
        return NAN;
    }
    /* Cc = 1 + (l/d) (a + b exp(-c d/l)): Hinds 1999 eq. 3.20 */
    double knudsen = gas->mean_free_path_m / diameter_m;
    return 1 + knudsen * (gas->slip_a + gas->slip_b * exp(-gas->slip_c / knudsen));
}

double vs_settling_m_per_s(const vs_air_gas *gas, double diameter_m, double density_kg_per_m3) {
    if (!(density_kg_per_m3 > 0)) {
        return NAN;
    }
    /* v = rho d^2 g Cc/(18 mu): Hinds 1999 eq. 3.21 */
    return density_kg_per_m3 * diameter_m * diameter_m * gas->gravity_m_per_s2 *
           vs_settling_slip(gas, diameter_m) / (STOKES_DIVISOR * gas->viscosity_pa_s);
}

/* The mass-weighted mean of d exp(-c d/l). */
static double mean_of_exponential_term(const vs_air_gas *gas, double mass_median_m, double spread) {
    double sum = 0;
    for (int i = -NODE_REACH; i <= NODE_REACH; i++) {
        double z = NODE_STEP * i;
        double diameter_m = mass_median_m * exp(spread * z);
        sum += diameter_m * exp(-gas->slip_c * diameter_m / gas->mean_free_path_m - 0.5 * z * z);
    }
    return sum * NODE_STEP / sqrt(2 * VS_PI);
}

double vs_settling_lognormal_m_per_s(const vs_air_gas *gas, double count_median_m, double gsd,
                                     double density_kg_per_m3) {
    double mass_median_m = vs_lognormal_diameter(count_median_m, gsd, VS_LOGNORMAL_MASS_MEDIAN);
    if (!isfinite(mass_median_m) || !(gsd <= GSD_MAX) || !(density_kg_per_m3 > 0)) {
        return NAN;
    }
    /* means over the mass: of d^2 MMD^2 exp(2 ln^2 gsd), of d MMD exp(ln^2 gsd / 2) (Hatch & Choate
     * 1929), put into rho g (d^2 + l d (a + b exp(-c d/l)))/(18 mu) */
    double spread = log(gsd);
    double mean_square_m2 = mass_median_m * mass_median_m * exp(2 * spread * spread);
    double mean_m = mass_median_m * exp(0.5 * spread * spread);
    double slipping_m2 =
        gas->mean_free_path_m *
        (gas->slip_a * mean_m + gas->slip_b * mean_of_exponential_term(gas, mass_median_m, spread));
    return density_kg_per_m3 * gas->gravity_m_per_s2 * (mean_square_m2 + slipping_m2) /
           (STOKES_DIVISOR * gas->viscosity_pa_s);
}
