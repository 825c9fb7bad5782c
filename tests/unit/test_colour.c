/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Colour temperatures against CIE illuminants, the published Planckian locus and BT.709. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/light/colour.h"

/* Illuminant A is a black body by definition: 2848 K at the c2 of 1931, 1.435e-2 m K, and its
 * chromaticity x 0.44758, y 0.40745 (CIE 15:2004, table T.3). */
static void illuminant_a(void **state) {
    (void)state;
    vs_chromaticity c;
    CHECK_OK(vs_colour_black_body(2848 * 1.438776877e-2 / 1.435e-2, &c));
    CHECK_NEAR(c.x, 0.44758, 0, 1e-5);
    CHECK_NEAR(c.y, 0.40745, 0, 1e-5);
    printf("measured: illuminant A x %.5f y %.5f (CIE: 0.44758, 0.40745)\n", c.x, c.y);
}

static void black_body_matches_robertson(void **state) {
    (void)state;
    table t = table_read("black_body_robertson.csv", 17);
    double worst = 0;
    for (size_t i = 0; i < t.rows; i++) {
        /* their c2 makes their kelvin a little less: the product c2 mired is what counts */
        double kelvin = 1e6 / table_number(&t, i, "mired") * 1.438776877 / 1.4388;
        vs_chromaticity c;
        CHECK_OK(vs_colour_black_body(kelvin, &c));
        double below = -2 * c.x + 12 * c.y + 3; /* CIE 1960 UCS: u = 4x/.., v = 6y/.. */
        double du = 4 * c.x / below - table_number(&t, i, "u");
        double dv = 6 * c.y / below - table_number(&t, i, "v");
        CHECK_NEAR(du, 0, 0, 4e-5);
        CHECK_NEAR(dv, 0, 0, 4e-5);
        worst = fmax(worst, fmax(fabs(du), fabs(dv)));
    }
    printf("measured: black body, 17 rows of Robertson's table: u, v within %.1e\n", worst);
    table_free(&t);
}

/* D50, D55, D65, D75: CIE 15:2004, table T.3. They are named for the c2 of 1.4380e-2, so that
 * their temperatures are those times 1.4388/1.4380 (CIE 15:2004, 3.1, note). */
static void daylight_matches_the_d_illuminants(void **state) {
    (void)state;
    const struct {
        double kelvin, x, y;
    } row[] = {{5000, 0.34567, 0.35851},
               {5500, 0.33243, 0.34744},
               {6500, 0.31272, 0.32903},
               {7500, 0.29903, 0.31488}};
    double worst = 0;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        vs_chromaticity c;
        CHECK_OK(vs_colour_daylight(row[i].kelvin * 1.4388 / 1.4380, &c));
        /* the table's come from the spectra, the locus is a fit to such: CIE prints it to 3 digits
         */
        CHECK_NEAR(c.x, row[i].x, 0, 1.5e-4);
        CHECK_NEAR(c.y, row[i].y, 0, 1.5e-4);
        worst = fmax(worst, fmax(fabs(c.x - row[i].x), fabs(c.y - row[i].y)));
    }
    printf("measured: D50, D55, D65, D75: x, y within %.1e of CIE's\n", worst);
}

/* BT.709-6 item 1.4: each primary has its own band only, the white has all three alike, and the
 * luma coefficients of item 3.2 are the luminances of the primaries at that white. */
static void bands_are_those_of_bt709(void **state) {
    (void)state;
    const vs_chromaticity primary[] = {{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}};
    const double luma[] = {VS_LUMA_RED, VS_LUMA_GREEN, VS_LUMA_BLUE};
    for (int p = 0; p < VS_BAND_COUNT; p++) {
        vs_bands bands = vs_colour_bands(primary[p]);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            if (b != p) {
                CHECK_NEAR(bands.v[b], 0, 0, 1e-13);
            }
        }
        CHECK_PRINTED(1 / bands.v[p], luma[p], 1e-4); /* luminance 1 over the band's share */
    }
    vs_bands white = vs_colour_bands((vs_chromaticity){0.3127, 0.3290});
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        CHECK_NEAR(white.v[b], 1, 1e-13, 0);
    }
}

static void a_light_at_the_cameras_white_is_neutral(void **state) {
    (void)state;
    const double kelvin[] = {2000, 2345, 3200, 4999.9, 5000, 5600, 25000};
    for (size_t i = 0; i < sizeof kelvin / sizeof kelvin[0]; i++) {
        vs_bands tint;
        CHECK_OK(vs_colour_tint(kelvin[i], kelvin[i], &tint));
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            CHECK_NEAR(tint.v[b], 1, 1e-14, 0);
        }
    }
}

/* Worked from published chromaticities alone: illuminant A (above) under a D65 white is
 * X 1.09850, Y 1, Z 0.35585 (ASTM E308) in the IEC 61966-2-1 matrix 3.2406 -1.5372 -0.4986 /
 * -0.9689 1.8758 0.0415 / 0.0557 -0.2040 1.0570. The matrix's digits and D65 off its locus by 1e-4
 * leave 2e-3. */
static void illuminant_a_under_a_d65_white(void **state) {
    (void)state;
    const double x = 1.09850, z = 0.35585;
    const double want[] = {3.2406 * x - 1.5372 - 0.4986 * z, -0.9689 * x + 1.8758 + 0.0415 * z,
                           0.0557 * x - 0.2040 + 1.0570 * z};
    vs_bands tint;
    CHECK_OK(vs_colour_tint(2848 * 1.438776877e-2 / 1.435e-2, 6500 * 1.4388 / 1.4380, &tint));
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        CHECK_NEAR(tint.v[b], want[b], 0, 2e-3);
    }
    printf("measured: 2856 K under a 6504 K white: R %.4f G %.4f B %.4f\n", tint.v[0], tint.v[1],
           tint.v[2]);
}

static void tints_carry_luminance_one_and_are_never_negative(void **state) {
    (void)state;
    random_stream r = {42};
    for (int i = 0; i < 2000; i++) {
        double kelvin = random_log_uniform(&r, VS_COLOUR_KELVIN_MIN, VS_COLOUR_KELVIN_MAX);
        double white = random_log_uniform(&r, VS_COLOUR_WHITE_MIN, VS_COLOUR_KELVIN_MAX);
        vs_bands tint;
        CHECK_OK(vs_colour_tint(kelvin, white, &tint));
        CHECK_NEAR(vs_bands_luminance(tint), 1, 1e-14, 0);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            CHECK_TRUE(tint.v[b] >= 0);
        }
        /* warmer than the white: more red than blue; the step of the two loci aside */
        if (fabs(kelvin / white - 1) > 0.02) {
            CHECK_TRUE((kelvin < white) == (tint.v[VS_BAND_RED] > tint.v[VS_BAND_BLUE]));
        }
    }
    vs_bands candle;
    CHECK_OK(vs_colour_tint(1500, 5600, &candle));
    CHECK_TRUE(candle.v[VS_BAND_BLUE] == 0);
}

/* Back from a tint to its kelvin: illuminant A (CIE 15:2004, 2856 K) and the D illuminants, whose
 * correlated colour temperatures stand in the same standard; then casts off the locus. */
static void a_tint_goes_back_to_its_kelvin(void **state) {
    (void)state;
    const double kelvins[] = {1950, 2856, 3200, 4300, 5503, 6504, 7504, 12000, 24000};
    const double whites[] = {3200, 4300, 5600, 6500};
    for (size_t i = 0; i < sizeof kelvins / sizeof kelvins[0]; i++) {
        for (size_t k = 0; k < sizeof whites / sizeof whites[0]; k++) {
            vs_bands tint;
            double kelvin, cast;
            CHECK_OK(vs_colour_tint(kelvins[i], whites[k], &tint));
            CHECK_OK(vs_colour_kelvin(tint, whites[k], &kelvin, &cast));
            CHECK_NEAR(kelvin, kelvins[i], 1e-3, 0);
            CHECK_NEAR(cast, 0, 0, 1e-3);
            tint.v[VS_BAND_GREEN] *= 2;
            CHECK_OK(vs_colour_kelvin(tint, whites[k], &kelvin, &cast));
            CHECK_NEAR(kelvin, kelvins[i], 1e-3, 0);
            CHECK_NEAR(cast, 1, 0, 1e-3);
        }
    }
    double kelvin, cast;
    CHECK_OK(vs_colour_kelvin((vs_bands){{0.2, 1, 4}}, 5600, &kelvin, &cast));
    CHECK_NEAR(kelvin, VS_COLOUR_KELVIN_MAX, 1e-3, 0);
    CHECK_STATUS(vs_colour_kelvin((vs_bands){{1, 1, 0}}, 5600, &kelvin, &cast), VS_ERR_DOMAIN);
    CHECK_NAN(kelvin);
    CHECK_STATUS(vs_colour_kelvin((vs_bands){{1, (double)NAN, 1}}, 5600, &kelvin, &cast),
                 VS_ERR_DOMAIN);
    CHECK_STATUS(vs_colour_kelvin((vs_bands){{1, 1, 1}}, 1000, &kelvin, &cast), VS_ERR_DOMAIN);
    CHECK_NAN(cast);
}

static void out_of_range_is_refused(void **state) {
    (void)state;
    vs_bands tint;
    vs_chromaticity c;
    const double bad[] = {999, 25001, -1, 0, (double)INFINITY, (double)NAN};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        CHECK_STATUS(vs_colour_tint(bad[i], 5600, &tint), VS_ERR_DOMAIN);
        CHECK_NAN(tint.v[VS_BAND_GREEN]);
        CHECK_STATUS(vs_colour_tint(3200, bad[i], &tint), VS_ERR_DOMAIN);
        CHECK_STATUS(vs_colour_black_body(bad[i], &c), VS_ERR_DOMAIN);
        CHECK_NAN(c.x);
        CHECK_STATUS(vs_colour_daylight(bad[i], &c), VS_ERR_DOMAIN);
        CHECK_NAN(c.y);
    }
    CHECK_STATUS(vs_colour_tint(3200, 1999, &tint), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_colour_daylight(3999, &c), VS_ERR_DOMAIN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(illuminant_a),
        cmocka_unit_test(black_body_matches_robertson),
        cmocka_unit_test(daylight_matches_the_d_illuminants),
        cmocka_unit_test(bands_are_those_of_bt709),
        cmocka_unit_test(a_light_at_the_cameras_white_is_neutral),
        cmocka_unit_test(illuminant_a_under_a_d65_white),
        cmocka_unit_test(tints_carry_luminance_one_and_are_never_negative),
        cmocka_unit_test(a_tint_goes_back_to_its_kelvin),
        cmocka_unit_test(out_of_range_is_refused),
    };
    return RUN_TESTS(tests);
}
