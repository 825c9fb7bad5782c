/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of a fluid, collected. */
#include "check.h"

#include <math.h>

#include "parts.h"
#include "veilstop/air/settling.h"
#include "veilstop/shot/fluid.h"

static vs_fluid droplet_fluid(double median_um) {
    vs_fluid fluid = {.density_g_per_ml = 0.85,
                      .nonvolatile_fraction = 1,
                      .half_life_s = INFINITY,
                      .index = {VS_INDEX_CONSTANT, {1.473, 0, 0}, 0},
                      .median_m = median_um * 1e-6,
                      .gsd = 1.6};
    return fluid;
}

static void droplets_answer_in_three_bands(void **state) {
    (void)state;
    vs_fluid fluid = droplet_fluid(0.4), other = fluid;
    vs_fluid_answer a;
    double smaller, larger;
    CHECK_OK(vs_fluid_answer_init(&a, &fluid, NAN));
    CHECK_TRUE(a.line_count == 3);
    CHECK_NEAR(a.wavelength_m[0], 611e-9, 1e-12, 0);
    CHECK_NEAR(a.wavelength_m[2], 464e-9, 1e-12, 0);
    CHECK_NEAR(a.line[1].extinction_m2_per_g, a.extinction_m2_per_g, 1e-12, 0);
    /* 2 % left over 100 m: AMS Glossary, visual range */
    CHECK_NEAR(exp(-a.mass_g_per_m3 * a.extinction_m2_per_g * 100), 0.02, 1e-3, 0);
    other.median_m = 0.2e-6;
    CHECK_OK(vs_haze_extinction_at(&other, 549e-9, &smaller));
    other.median_m = 0.6e-6;
    CHECK_OK(vs_haze_extinction_at(&other, 549e-9, &larger));
    CHECK_NEAR(a.smaller_ratio, smaller / a.extinction_m2_per_g, 1e-9, 0);
    CHECK_NEAR(a.larger_ratio, larger / a.extinction_m2_per_g, 1e-9, 0);
    vs_air_gas gas = vs_air_gas_hinds();
    CHECK_NEAR(a.settling_m_per_s, vs_settling_lognormal_m_per_s(&gas, 0.4e-6, 1.6, 850), 1e-12, 0);
    vs_fluid_answer_free(&a);
    vs_fluid_answer_free(&a);
}

static void one_wavelength_takes_the_place_of_the_bands(void **state) {
    (void)state;
    vs_fluid fluid = droplet_fluid(0.4);
    vs_fluid_answer bands, one;
    CHECK_OK(vs_fluid_answer_init(&bands, &fluid, NAN));
    CHECK_OK(vs_fluid_answer_init(&one, &fluid, 900e-9));
    CHECK_TRUE(one.line_count == 1);
    CHECK_NEAR(one.extinction_m2_per_g, bands.extinction_m2_per_g, 0, 0);
    CHECK_TRUE(one.line[0].extinction_m2_per_g < bands.line[0].extinction_m2_per_g);
    vs_fluid_answer_free(&bands);
    vs_fluid_answer_free(&one);
    CHECK_STATUS(vs_fluid_answer_init(&one, &fluid, 1e-9), VS_ERR_DOMAIN);
    CHECK_TRUE(one.line_count == 0);
}

static void a_measured_fluid_has_no_size_to_change(void **state) {
    (void)state;
    vs_fluid fluid = parts_fluid(0.75);
    fluid.half_life_s = 600;
    fluid.settling_m_per_s = 2e-5;
    vs_fluid_answer a;
    CHECK_OK(vs_fluid_answer_init(&a, &fluid, NAN));
    CHECK_NAN(a.smaller_ratio);
    CHECK_NAN(a.larger_ratio);
    CHECK_NEAR(a.mass_g_per_m3, 0.03912 / 4, 1e-12, 0);
    CHECK_NEAR(a.settling_m_per_s, 2e-5, 0, 0);
    CHECK_NEAR(a.line[2].phase.g, 0.75, 0, 0);
    vs_fluid_answer_free(&a);
}

/* A size without valid haze gives no figure rather than a guess. */
static void a_size_out_of_range_is_left_open(void **state) {
    (void)state;
    vs_fluid fluid = droplet_fluid(0.015); /* 0.029 um by mass: half of it is out of range */
    vs_fluid_answer a;
    CHECK_OK(vs_fluid_answer_init(&a, &fluid, NAN));
    CHECK_NAN(a.smaller_ratio);
    CHECK_TRUE(a.larger_ratio > 1);
    vs_fluid_answer_free(&a);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(droplets_answer_in_three_bands),
        cmocka_unit_test(one_wavelength_takes_the_place_of_the_bands),
        cmocka_unit_test(a_measured_fluid_has_no_size_to_change),
        cmocka_unit_test(a_size_out_of_range_is_left_open),
    };
    return RUN_TESTS(tests);
}
