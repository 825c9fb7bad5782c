/* What a gram of droplets does to light. */
#include "check.h"

#include <math.h>

#include "veilstop/optics/haze.h"

static vs_fluid measured_fluid(double extinction_m2_per_g, double g) {
    vs_fluid fluid = {.density_g_per_ml = 1,
                      .nonvolatile_fraction = 1,
                      .half_life_s = INFINITY,
                      .measured = true,
                      .extinction_m2_per_g = extinction_m2_per_g,
                      .g = g};
    return fluid;
}

static void a_measured_fluid_is_grey(void **state) {
    (void)state;
    vs_fluid fluid = measured_fluid(4.0, 0.75);
    vs_haze haze;
    CHECK_OK(vs_haze_init(&haze, &fluid));
    vs_bands per_m = vs_haze_bands_per_m(&haze, 0.02385);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        CHECK_NEAR(haze.extinction_m2_per_g.v[band], 4.0, 0, 0);
        CHECK_NEAR(haze.albedo.v[band], 1, 0, 0);
        CHECK_NEAR(haze.phase[band].g, 0.75, 0, 0);
        CHECK_TRUE(haze.phase[band].kind == VS_PHASE_HENYEY_GREENSTEIN);
        CHECK_NEAR(per_m.v[band], 0.02385, 1e-15, 0);
    }
    vs_haze_free(&haze);
    vs_haze_free(&haze);
}

static void a_measured_fluid_outside_its_ranges_is_refused(void **state) {
    (void)state;
    static const double bad[][2] = {{0, 0.5}, {-1, 0.5}, {NAN, 0.5}, {INFINITY, 0.5},
                                    {4, 1},   {4, -1},   {4, NAN},   {4, 2}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        vs_fluid fluid = measured_fluid(bad[i][0], bad[i][1]);
        vs_haze haze;
        CHECK_STATUS(vs_haze_init(&haze, &fluid), VS_ERR_DOMAIN);
        CHECK_NAN(haze.extinction_m2_per_g.v[VS_BAND_GREEN]);
        CHECK_NAN(haze.albedo.v[VS_BAND_RED]);
        vs_haze_free(&haze);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_measured_fluid_is_grey),
        cmocka_unit_test(a_measured_fluid_outside_its_ranges_is_refused),
    };
    return RUN_TESTS(tests);
}
