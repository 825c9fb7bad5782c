/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Size distributions. */
#include "check.h"

#include <math.h>

#include "veilstop/base/lognormal.h"
#include "veilstop/base/quadrature.h"
#include "veilstop/optics/sizes.h"

typedef struct {
    const vs_sizes *sizes;
    int power;
} moment;

static double moment_integrand(double log_diameter, void *context) {
    const moment *m = context;
    double d = exp(log_diameter);
    return vs_sizes_density(m->sizes, d) * pow(d / 1e-6, m->power) * d;
}

/* Integral of n(d) (d/um)^power over d. */
static double moment_of(const vs_sizes *sizes, int power, double low_m, double high_m) {
    vs_quadrature q;
    CHECK_OK(vs_quadrature_init(&q, 1000));
    moment m = {sizes, power};
    double value;
    CHECK_OK(vs_quadrature_adaptive(&q, moment_integrand, &m, log(low_m), log(high_m), 1e-11, 0,
                                    &value, NULL));
    vs_quadrature_free(&q);
    return value;
}

/* Hatch-Choate, Hinds 1999 eq. 4.47 and table 4.3: mean b = 0.5, average surface 1, average mass
 * 1.5, Sauter 2.5. */
static void a_lognormal_has_its_averages(void **state) {
    (void)state;
    vs_sizes s = {.kind = VS_SIZES_LOGNORMAL, .median_m = 0.62385e-6, .gsd = 1.6};
    double m[4];
    for (int p = 0; p < 4; p++) {
        m[p] = moment_of(&s, p, 1e-9, 1e-3);
    }
    double um = 1e-6;
    CHECK_NEAR(m[1] / m[0] * um, vs_lognormal_diameter(s.median_m, 1.6, VS_LOGNORMAL_MEAN), 1e-9,
               0);
    CHECK_NEAR(sqrt(m[2] / m[0]) * um, vs_lognormal_diameter(s.median_m, 1.6, VS_LOGNORMAL_SURFACE),
               1e-9, 0);
    CHECK_NEAR(cbrt(m[3] / m[0]) * um, vs_lognormal_diameter(s.median_m, 1.6, VS_LOGNORMAL_MASS),
               1e-9, 0);
    CHECK_NEAR(m[3] / m[2] * um, vs_lognormal_diameter(s.median_m, 1.6, VS_LOGNORMAL_SAUTER), 1e-9,
               0);
    /* half of the mass is in droplets over the mass median */
    double mass_median_m = vs_lognormal_diameter(s.median_m, 1.6, VS_LOGNORMAL_MASS_MEDIAN);
    CHECK_NEAR(moment_of(&s, 3, mass_median_m, 1e-3), 0.5 * m[3], 1e-9, 0);
}

/* Deirmendjian 1969: n(r) ~ r^alpha exp(-b r^gamma) is greatest where r^gamma = alpha/(b gamma):
 * r = 4 um for Cloud C.1, (2/(15.1186 x 0.5))^2 = 0.07 um for Haze L. */
static void a_modified_gamma_has_its_mode(void **state) {
    (void)state;
    vs_sizes cloud = {.kind = VS_SIZES_MODIFIED_GAMMA, .alpha = 6, .b = 1.5, .gamma = 1};
    vs_sizes haze = {.kind = VS_SIZES_MODIFIED_GAMMA, .alpha = 2, .b = 15.1186, .gamma = 0.5};
    static const double off[] = {0.98, 1.02};
    for (int i = 0; i < 2; i++) {
        CHECK_TRUE(vs_sizes_density(&cloud, 8e-6 * off[i]) < vs_sizes_density(&cloud, 8e-6));
        CHECK_TRUE(vs_sizes_density(&haze, 0.14e-6 * off[i]) < vs_sizes_density(&haze, 0.14e-6));
    }
    /* by hand: (2/4)^6 exp(-1.5 (2 - 4)) = 0.31383... */
    CHECK_NEAR(vs_sizes_density(&cloud, 4e-6) / vs_sizes_density(&cloud, 8e-6), exp(3.0) / 64,
               1e-12, 0);
}

static void a_table_is_read_in_straight_lines(void **state) {
    (void)state;
    static const double d[] = {1e-6, 2e-6, 5e-6}, n[] = {0, 10, 4};
    vs_sizes s = {.kind = VS_SIZES_TABLE, .diameter_m = d, .density = n, .count = 3};
    CHECK_NEAR(vs_sizes_density(&s, 1e-6), 0, 0, 1e-12);
    CHECK_NEAR(vs_sizes_density(&s, 1.5e-6), 5, 1e-12, 0);
    CHECK_NEAR(vs_sizes_density(&s, 2e-6), 10, 1e-12, 0);
    CHECK_NEAR(vs_sizes_density(&s, 4e-6), 6, 1e-12, 0);
    CHECK_NEAR(vs_sizes_density(&s, 5e-6), 4, 1e-12, 0);
    CHECK_NEAR(vs_sizes_density(&s, 0.99e-6), 0, 0, 0);
    CHECK_NEAR(vs_sizes_density(&s, 5.01e-6), 0, 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lognormal_has_its_averages),
        cmocka_unit_test(a_modified_gamma_has_its_mode),
        cmocka_unit_test(a_table_is_read_in_straight_lines),
    };
    return RUN_TESTS(tests);
}
