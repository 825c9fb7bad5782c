/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Refractive index at a wavelength. */
#include "check.h"

#include <math.h>

#include "veilstop/optics/index.h"

/* Rheims, Koser & Wriedt 1997, Meas. Sci. Technol. 8, 601: glycerol,
 * n = 1.45797 + 0.00598/L^2 - 0.00036/L^4. n_D = 1.4746 from the CRC Handbook of Chemistry and
 * Physics; the two sources agree to 2.5e-3. */
static void glycerol_by_cauchys_formula(void **state) {
    (void)state;
    vs_refractive_index glycerol = {VS_INDEX_CAUCHY, {1.45797, 0.00598, -0.00036}, 0};
    CHECK_NEAR(vs_index_real_at(&glycerol, 589.3e-9), 1.4746, 0, 2.5e-3);
    /* by hand at 0.5 um: 1.45797 + 0.02392 - 0.00576 */
    CHECK_NEAR(vs_index_real_at(&glycerol, 500e-9), 1.47613, 0, 1e-12);
}

static void a_constant_and_three_bands(void **state) {
    (void)state;
    vs_refractive_index constant = {VS_INDEX_CONSTANT, {1.4385, 0, 0}, 0};
    CHECK_NEAR(vs_index_real_at(&constant, 900e-9), 1.4385, 0, 0);
    vs_refractive_index bands = {VS_INDEX_BANDS, {1.43, 1.44, 1.46}, 0};
    CHECK_NEAR(vs_index_real_at(&bands, 611e-9), 1.43, 0, 1e-12);
    CHECK_NEAR(vs_index_real_at(&bands, 549e-9), 1.44, 0, 1e-12);
    CHECK_NEAR(vs_index_real_at(&bands, 464e-9), 1.46, 0, 1e-12);
    CHECK_NEAR(vs_index_real_at(&bands, 580e-9), 1.435, 0, 1e-12); /* half way */
    CHECK_NEAR(vs_index_real_at(&bands, 900e-9), 1.43, 0, 1e-12);
    CHECK_NEAR(vs_index_real_at(&bands, 300e-9), 1.46, 0, 1e-12);
}

static void wavelengths_out_of_range_have_no_index(void **state) {
    (void)state;
    vs_refractive_index constant = {VS_INDEX_CONSTANT, {1.4385, 0, 0}, 0};
    CHECK_NAN(vs_index_real_at(&constant, 199e-9));
    CHECK_NAN(vs_index_real_at(&constant, 2501e-9));
    CHECK_NAN(vs_index_real_at(&constant, NAN));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(glycerol_by_cauchys_formula),
        cmocka_unit_test(a_constant_and_three_bands),
        cmocka_unit_test(wavelengths_out_of_range_have_no_index),
    };
    return RUN_TESTS(tests);
}
