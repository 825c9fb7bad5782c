/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slip, settling velocity and the lognormal's averages against handbook tables and quadrature. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/air/settling.h"
#include "veilstop/base/lognormal.h"
#include "veilstop/base/quadrature.h"
#include "veilstop/base/units.h"

#define UM 1e-6

static void slip_matches_seinfeld_and_pandis(void **state) {
    (void)state;
    table t = table_read("slip_seinfeld_pandis.csv", 16);
    vs_air_gas theirs = vs_air_gas_seinfeld_pandis(), ours = vs_air_gas_hinds();
    double worst_theirs = 0, worst_ours = 0;
    for (size_t i = 0; i < t.rows; i++) {
        double d = table_number(&t, i, "diameter_um") * UM;
        double want = table_number(&t, i, "slip");
        double digit = table_unit(&t, i, "slip");
        double theirs_off = fabs(vs_settling_slip(&theirs, d) / want - 1);
        CHECK_NEAR(vs_settling_slip(&theirs, d), want, 0.004, 0.5 * digit);
        worst_theirs = fmax(worst_theirs, theirs_off);
        /* Haze is made of droplets over 0.1 um; below that the two formulas differ by up to 3.5
         * %. */
        if (d >= 0.1 * UM) {
            CHECK_NEAR(vs_settling_slip(&ours, d), want, 0.03, 0);
            worst_ours = fmax(worst_ours, fabs(vs_settling_slip(&ours, d) / want - 1));
        }
    }
    printf("measured: slip, 16 rows of Seinfeld & Pandis: their formula within %.2f %%, ours (from "
           "0.1 um) within %.2f %%\n",
           100 * worst_theirs, 100 * worst_ours);
    table_free(&t);
}

static void velocity_matches_hinds(void **state) {
    (void)state;
    table t = table_read("settling_hinds.csv", 3);
    vs_air_gas gas = vs_air_gas_hinds();
    for (size_t i = 0; i < t.rows; i++) {
        double d = table_number(&t, i, "diameter_um") * UM;
        double want = table_number(&t, i, "velocity_m_per_s");
        /* 0.4 %: the formula gives 3.07 where the 10 um row prints 3.06. */
        CHECK_NEAR(vs_settling_m_per_s(&gas, d, 1000), want, 0.004,
                   0.5 * table_unit(&t, i, "velocity_m_per_s"));
    }
    table_free(&t);
}

/* Seinfeld & Pandis 2006, below eq. 9.42: 10 um, Cc 1.016, viscosity 1.72e-4 poise, g 980.7 cm/s2
 * give 1158.6 cm/h. */
static void velocity_matches_seinfeld_and_pandis_worked_example(void **state) {
    (void)state;
    vs_air_gas gas = vs_air_gas_seinfeld_pandis();
    double d = 10 * UM;
    double cm_per_h = vs_settling_m_per_s(&gas, d, 1000) * 100 * VS_S_PER_H;
    CHECK_PRINTED(cm_per_h / vs_settling_slip(&gas, d) * 1.016, 1158.6, 0.1);
    /* The formula's own slip is 1.0164. The program's constants differ by the viscosity (5 %: 1.72
     * against 1.81e-5 Pa s); that apart they agree within 3 %. */
    CHECK_NEAR(cm_per_h, 1158.6, 0.001, 0);
    vs_air_gas ours = vs_air_gas_hinds();
    double same_viscosity = vs_settling_m_per_s(&ours, d, 1000) * 1.81e-5 / 1.72e-5;
    CHECK_NEAR(same_viscosity * 100 * VS_S_PER_H, 1158.6, 0.03, 0);
}

/* Hatch-Choate exponents: Hinds 1999, table 4.3. */
static void hatch_choate_exponents(void **state) {
    (void)state;
    double ln2 = log(1.6) * log(1.6);
    const struct {
        double b, want;
    } row[] = {{VS_LOGNORMAL_MEAN, 0.5},      {VS_LOGNORMAL_SURFACE, 1},
               {VS_LOGNORMAL_MASS, 1.5},      {VS_LOGNORMAL_SAUTER, 2.5},
               {VS_LOGNORMAL_MASS_MEDIAN, 3}, {VS_LOGNORMAL_MASS_AVERAGE, 3.5}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double d = vs_lognormal_diameter(0.47 * UM, 1.6, row[i].b);
        CHECK_NEAR(log(d / (0.47 * UM)) / ln2, row[i].want, 1e-12, 0);
        CHECK_NEAR(vs_lognormal_diameter(d, 1.6, -row[i].b), 0.47 * UM, 1e-14, 0);
    }
    CHECK_NAN(vs_lognormal_diameter(0, 1.6, 3));
    CHECK_NAN(vs_lognormal_diameter(UM, 0.99, 3));
    CHECK_NAN(vs_lognormal_diameter(UM, (double)NAN, 3));
}

/* The moments of the distribution itself, by quadrature over ln d. */
typedef struct {
    double median_m, spread, power;
    const vs_air_gas *gas; /* NULL: d^power; else d^3 x velocity */
} moment;

static double moment_integrand(double z, void *context) {
    const moment *m = context;
    double d = m->median_m * exp(m->spread * z);
    double value = pow(d / m->median_m, m->power);
    return exp(-0.5 * z * z) * value * (m->gas ? vs_settling_m_per_s(m->gas, d, 1036) : 1);
}

static double integrate(moment m) {
    vs_quadrature q;
    CHECK_OK(vs_quadrature_init(&q, 1000));
    double value;
    CHECK_OK(vs_quadrature_adaptive(&q, moment_integrand, &m, -12, 24, 1e-12, 0, &value, NULL));
    vs_quadrature_free(&q);
    return value;
}

static void averages_are_the_moments_of_the_distribution(void **state) {
    (void)state;
    double median = 0.43 * UM, gsd = 1.75, s = log(gsd);
    double m0 = integrate((moment){median, s, 0, NULL});
    double m2 = integrate((moment){median, s, 2, NULL});
    double m3 = integrate((moment){median, s, 3, NULL});
    double m4 = integrate((moment){median, s, 4, NULL});
    CHECK_NEAR(median * m3 / m2, vs_lognormal_diameter(median, gsd, VS_LOGNORMAL_SAUTER), 1e-10, 0);
    CHECK_NEAR(median * m4 / m3, vs_lognormal_diameter(median, gsd, VS_LOGNORMAL_MASS_AVERAGE),
               1e-10, 0);
    CHECK_NEAR(median * cbrt(m3 / m0), vs_lognormal_diameter(median, gsd, VS_LOGNORMAL_MASS), 1e-10,
               0);
}

static void mass_weighted_velocity_matches_quadrature(void **state) {
    (void)state;
    vs_air_gas gas = vs_air_gas_hinds();
    const double gsd[] = {1.05, 1.6, 2.2, 3.1};
    const double median_um[] = {0.03, 0.31, 1.7};
    double worst = 0;
    for (size_t i = 0; i < 4; i++) {
        for (size_t k = 0; k < 3; k++) {
            double median = median_um[k] * UM, s = log(gsd[i]);
            double want =
                integrate((moment){median, s, 3, &gas}) / integrate((moment){median, s, 3, NULL});
            double got = vs_settling_lognormal_m_per_s(&gas, median, gsd[i], 1036);
            CHECK_NEAR(got, want, 1e-10, 0);
            worst = fmax(worst, fabs(got / want - 1));
        }
    }
    printf("measured: mass-weighted settling against quadrature, 12 hazes: within %.1e\n", worst);
    CHECK_NEAR(vs_settling_lognormal_m_per_s(&gas, UM, 1, 1036),
               vs_settling_m_per_s(&gas, UM, 1036), 1e-13, 0);
}

static void what_has_no_answer_is_nan(void **state) {
    (void)state;
    vs_air_gas gas = vs_air_gas_hinds();
    CHECK_NAN(vs_settling_slip(&gas, 0));
    CHECK_NAN(vs_settling_slip(&gas, (double)NAN));
    CHECK_NAN(vs_settling_m_per_s(&gas, UM, 0));
    CHECK_NAN(vs_settling_m_per_s(&gas, -UM, 1000));
    CHECK_NAN(vs_settling_lognormal_m_per_s(&gas, UM, 0.9, 1000));
    CHECK_NAN(vs_settling_lognormal_m_per_s(&gas, UM, 11, 1000));
    CHECK_NAN(vs_settling_lognormal_m_per_s(&gas, UM, 1.6, -1));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slip_matches_seinfeld_and_pandis),
        cmocka_unit_test(velocity_matches_hinds),
        cmocka_unit_test(velocity_matches_seinfeld_and_pandis_worked_example),
        cmocka_unit_test(hatch_choate_exponents),
        cmocka_unit_test(averages_are_the_moments_of_the_distribution),
        cmocka_unit_test(mass_weighted_velocity_matches_quadrature),
        cmocka_unit_test(what_has_no_answer_is_nan),
    };
    return RUN_TESTS(tests);
}
