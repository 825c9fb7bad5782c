/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Black body and daylight chromaticities, and their tint against a camera's white.
 * Sources: Planck's law; CIE 15:2004 table T.4 (1931 observer, 5 nm) and 3.1 (daylight);
 * ITU-R BT.709-6 item 1.4 (primaries and white). */
#include "veilstop/light/colour.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "base/lanes.h"

#define PLANCK_C2_M_K 1.438776877e-2 /* [m K] CODATA 2018, second radiation constant */
#define OBSERVER_NM   380.0          /* [nm] first row of the observer's table */
#define OBSERVER_STEP 5.0            /* [nm] CIE 15:2004, table T.4 */
#define DAYLIGHT_MIN  4000.0         /* [K] CIE 15:2004, 3.1: start of the daylight locus */
#define DAYLIGHT_KNEE 7000.0         /* [K] CIE 15:2004, 3.1: the two cubics meet */

/* CIE 1931 colour matching functions x, y, z, 380 to 780 nm [1]: CIE 15:2004, table T.4. Their sums
 * are 21.371524, 21.371327, 21.371540. */
static const double observer[][3] = {{0.001368, 0.000039, 0.00645},
                                     {0.002236, 0.000064, 0.01055},
                                     {0.004243, 0.00012, 0.02005},
                                     {0.00765, 0.000217, 0.03621},
                                     {0.01431, 0.000396, 0.06785},
                                     {0.02319, 0.00064, 0.1102},
                                     {0.04351, 0.00121, 0.2074},
                                     {0.07763, 0.00218, 0.3713},
                                     {0.13438, 0.004, 0.6456},
                                     {0.21477, 0.0073, 1.03905},
                                     {0.2839, 0.0116, 1.3856},
                                     {0.3285, 0.01684, 1.62296},
                                     {0.34828, 0.023, 1.74706},
                                     {0.34806, 0.0298, 1.7826},
                                     {0.3362, 0.038, 1.77211},
                                     {0.3187, 0.048, 1.7441},
                                     {0.2908, 0.06, 1.6692},
                                     {0.2511, 0.0739, 1.5281},
                                     {0.19536, 0.09098, 1.28764},
                                     {0.1421, 0.1126, 1.0419},
                                     {0.09564, 0.13902, 0.81295},
                                     {0.05795, 0.1693, 0.6162},
                                     {0.03201, 0.20802, 0.46518},
                                     {0.0147, 0.2586, 0.3533},
                                     {0.0049, 0.323, 0.272},
                                     {0.0024, 0.4073, 0.2123},
                                     {0.0093, 0.503, 0.1582},
                                     {0.0291, 0.6082, 0.1117},
                                     {0.06327, 0.71, 0.07825},
                                     {0.1096, 0.7932, 0.05725},
                                     {0.1655, 0.862, 0.04216},
                                     {0.22575, 0.91485, 0.02984},
                                     {0.2904, 0.954, 0.0203},
                                     {0.3597, 0.9803, 0.0134},
                                     {0.43345, 0.99495, 0.00875},
                                     {0.51205, 1, 0.00575},
                                     {0.5945, 0.995, 0.0039},
                                     {0.6784, 0.9786, 0.00275},
                                     {0.7621, 0.952, 0.0021},
                                     {0.8425, 0.9154, 0.0018},
                                     {0.9163, 0.87, 0.00165},
                                     {0.9786, 0.8163, 0.0014},
                                     {1.0263, 0.757, 0.0011},
                                     {1.0567, 0.6949, 0.001},
                                     {1.0622, 0.631, 0.0008},
                                     {1.0456, 0.5668, 0.0006},
                                     {1.0026, 0.503, 0.00034},
                                     {0.9384, 0.4412, 0.00024},
                                     {0.85445, 0.381, 0.00019},
                                     {0.7514, 0.321, 0.0001},
                                     {0.6424, 0.265, 0.00005},
                                     {0.5419, 0.217, 0.00003},
                                     {0.4479, 0.175, 0.00002},
                                     {0.3608, 0.1382, 0.00001},
                                     {0.2835, 0.107, 0},
                                     {0.2187, 0.0816, 0},
                                     {0.1649, 0.061, 0},
                                     {0.1212, 0.04458, 0},
                                     {0.0874, 0.032, 0},
                                     {0.0636, 0.0232, 0},
                                     {0.04677, 0.017, 0},
                                     {0.0329, 0.01192, 0},
                                     {0.0227, 0.00821, 0},
                                     {0.01584, 0.005723, 0},
                                     {0.011359, 0.004102, 0},
                                     {0.008111, 0.002929, 0},
                                     {0.00579, 0.002091, 0},
                                     {0.004109, 0.001484, 0},
                                     {0.002899, 0.001047, 0},
                                     {0.002049, 0.00074, 0},
                                     {0.00144, 0.00052, 0},
                                     {0.001, 0.000361, 0},
                                     {0.00069, 0.000249, 0},
                                     {0.000476, 0.000172, 0},
                                     {0.000332, 0.00012, 0},
                                     {0.000235, 0.000085, 0},
                                     {0.000166, 0.00006, 0},
                                     {0.000117, 0.000042, 0},
                                     {0.000083, 0.00003, 0},
                                     {0.000059, 0.000021, 0},
                                     {0.000042, 0.000015, 0}};

/* XYZ to linear BT.709 [1]: inverse of the matrix of the primaries (.64 .33), (.30 .60), (.15 .06)
 * and the white (.3127 .3290) of BT.709-6 item 1.4; recomputed in tests/unit/test_colour.c. */
static const double bands_of_xyz[VS_BAND_COUNT][3] = {
    {3.2409699419045213, -1.5373831775700935, -0.4986107602930033},
    {-0.9692436362808798, 1.8759675015077206, 0.0415550574071756},
    {0.0556300796969936, -0.2039769588889766, 1.0569715142428786}};

static const vs_chromaticity no_chromaticity = {NAN, NAN};

#define OBSERVER_ROWS  (sizeof observer / sizeof observer[0])
#define OBSERVER_LANES ((OBSERVER_ROWS + LANES - 1) / LANES * LANES)

/* Planck's radiance at every row of the observer's table, but for a factor that all share. */
LANES_CLONES static void radiances(double kelvin, double *radiance) {
    for (size_t i = 0; i < OBSERVER_LANES; i += LANES) {
        EACH_LANE(l) {
            double um = 1e-3 * (OBSERVER_NM + OBSERVER_STEP * ((double)i + l)), um2 = um * um;
            radiance[i + (size_t)l] =
                1 / (um2 * um2 * um * (lane_exp(1e6 * PLANCK_C2_M_K / (um * kelvin)) - 1));
        }
    }
}

vs_status vs_colour_black_body(double kelvin, vs_chromaticity *chromaticity) {
    *chromaticity = no_chromaticity;
    if (!(kelvin >= VS_COLOUR_KELVIN_MIN && kelvin <= VS_COLOUR_KELVIN_MAX)) {
        return VS_ERR_DOMAIN;
    }
    double sum[3] = {0, 0, 0}, radiance[OBSERVER_LANES];
    radiances(kelvin, radiance);
    for (size_t i = 0; i < OBSERVER_ROWS; i++) {
        for (int k = 0; k < 3; k++) {
            sum[k] += radiance[i] * observer[i][k];
        }
    }
    double all = sum[0] + sum[1] + sum[2];
    chromaticity->x = sum[0] / all;
    chromaticity->y = sum[1] / all;
    return VS_OK;
}

vs_status vs_colour_daylight(double kelvin, vs_chromaticity *chromaticity) {
    *chromaticity = no_chromaticity;
    if (!(kelvin >= DAYLIGHT_MIN && kelvin <= VS_COLOUR_KELVIN_MAX)) {
        return VS_ERR_DOMAIN;
    }
    double k = 1e3 / kelvin; /* [1/kK]; the coefficients below: CIE 15:2004 eqs. 3.2 to 3.4 */
    double x = kelvin <= DAYLIGHT_KNEE ? 0.244063 + k * (0.09911 + k * (2.9678 - 4.6070 * k))
                                       : 0.237040 + k * (0.24748 + k * (1.9018 - 2.0064 * k));
    chromaticity->x = x;
    chromaticity->y = -3.000 * x * x + 2.870 * x - 0.275;
    return VS_OK;
}

vs_bands vs_colour_bands(vs_chromaticity c) {
    double xyz[3] = {c.x / c.y, 1, (1 - c.x - c.y) / c.y};
    vs_bands bands;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        const double *row = bands_of_xyz[b];
        bands.v[b] = row[0] * xyz[0] + row[1] * xyz[1] + row[2] * xyz[2];
    }
    return bands;
}

static vs_status bands_of_kelvin(double kelvin, vs_bands *bands) {
    vs_chromaticity c;
    vs_status status = kelvin < VS_COLOUR_DAYLIGHT_MIN ? vs_colour_black_body(kelvin, &c)
                                                       : vs_colour_daylight(kelvin, &c);
    *bands = vs_colour_bands(c);
    return status;
}

vs_status vs_colour_tint(double kelvin, double white_kelvin, vs_bands *tint) {
    vs_bands light, white;
    *tint = vs_bands_grey(NAN);
    if (!(white_kelvin >= VS_COLOUR_WHITE_MIN)) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = bands_of_kelvin(kelvin, &light);
    if (status == VS_OK) {
        status = bands_of_kelvin(white_kelvin, &white);
    }
    if (status != VS_OK) {
        return status;
    }
    vs_bands ratio;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        ratio.v[b] = fmax(0, light.v[b] / white.v[b]);
    }
    *tint = vs_bands_scale(ratio, 1 / vs_bands_luminance(ratio));
    return VS_OK;
}

#define HALVINGS 24 /* of 960 mired: to under 1e-4 mired, 0.01 K at 5600 K */

/* Blue over red, which falls as a light gets warmer and is 0 if the colour has no blue. */
static double blue_over_red(vs_bands tint) {
    return tint.v[VS_BAND_BLUE] / tint.v[VS_BAND_RED];
}

static double green_stops(vs_bands tint) {
    return log2(tint.v[VS_BAND_GREEN] / sqrt(tint.v[VS_BAND_RED] * tint.v[VS_BAND_BLUE]));
}

vs_status vs_colour_kelvin(vs_bands tint, double white_kelvin, double *kelvin, double *cast_stops) {
    *kelvin = *cast_stops = NAN;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        if (!(tint.v[b] > 0 && isfinite(tint.v[b]))) {
            return VS_ERR_DOMAIN;
        }
    }
    double cool = 1 / VS_COLOUR_KELVIN_MAX, warm = 1 / VS_COLOUR_KELVIN_MIN; /* [1/K] */
    vs_bands there;
    for (int i = 0; i < HALVINGS; i++) {
        double middle = 0.5 * (cool + warm);
        vs_status status = vs_colour_tint(1 / middle, white_kelvin, &there);
        if (status != VS_OK) {
            return status;
        }
        bool warmer = blue_over_red(tint) < blue_over_red(there);
        cool = warmer ? middle : cool;
        warm = warmer ? warm : middle;
    }
    *kelvin = 2 / (cool + warm);
    *cast_stops = there.v[VS_BAND_BLUE] > 0 ? green_stops(tint) - green_stops(there) : 0;
    return VS_OK;
}
