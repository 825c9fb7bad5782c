/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Evaluating a phase function: Henyey-Greenstein and tables. */
#include "check.h"

#include <math.h>
#include <stddef.h>

#include "veilstop/base/quadrature.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/phase.h"

typedef struct {
    const vs_phase *phase;
    int power; /* of the cosine */
} moment;

static double moment_integrand(double cosine, void *context) {
    const moment *m = context;
    return 2 * VS_PI * vs_phase_per_sr(m->phase, cosine) * pow(cosine, m->power);
}

static double moment_of(const vs_phase *phase, int power) {
    vs_quadrature q;
    CHECK_OK(vs_quadrature_init(&q, 2000));
    moment m = {phase, power};
    double value;
    CHECK_OK(vs_quadrature_adaptive(&q, moment_integrand, &m, -1, 1, 1e-11, 1e-13, &value, NULL));
    vs_quadrature_free(&q);
    return value;
}

/* Henyey & Greenstein 1941: integral 1, mean cosine g; Legendre moments g^l (closed form), so the
 * mean squared cosine is (1 + 2 g^2)/3. */
static void henyey_greenstein_has_its_moments(void **state) {
    (void)state;
    static const double g[] = {-0.95, -0.3, 0, 0.2385, 0.75, 0.93, 0.999};
    for (size_t i = 0; i < sizeof g / sizeof g[0]; i++) {
        vs_phase phase = vs_phase_henyey_greenstein(g[i]);
        CHECK_NEAR(moment_of(&phase, 0), 1, 1e-9, 0);
        CHECK_NEAR(moment_of(&phase, 1), g[i], 1e-9, 1e-12);
        CHECK_NEAR(moment_of(&phase, 2), (1 + 2 * g[i] * g[i]) / 3, 1e-9, 0);
    }
}

/* The closed form at the ends: (1 + g)/(4 pi (1 - g)^2) forward, (1 - g)/(4 pi (1 + g)^2) back. */
static void henyey_greenstein_at_its_ends(void **state) {
    (void)state;
    double g = 0.75;
    vs_phase phase = vs_phase_henyey_greenstein(g);
    CHECK_NEAR(vs_phase_per_sr(&phase, 1), 1.75 / (4 * VS_PI * 0.0625), 1e-14, 0);
    CHECK_NEAR(vs_phase_per_sr(&phase, -1), 0.25 / (4 * VS_PI * 3.0625), 1e-14, 0);
    CHECK_NEAR(vs_phase_per_sr(&phase, 1 + 1e-12), vs_phase_per_sr(&phase, 1), 0, 0);
    CHECK_NEAR(vs_phase_per_sr(&phase, -1 - 1e-12), vs_phase_per_sr(&phase, -1), 0, 0);
    CHECK_NAN(vs_phase_per_sr(&phase, NAN));
    phase = vs_phase_henyey_greenstein(1);
    CHECK_NAN(vs_phase_per_sr(&phase, 0.5));
    phase = vs_phase_henyey_greenstein(0);
    CHECK_NEAR(vs_phase_per_sr(&phase, 0.2385), 1 / (4 * VS_PI), 1e-15, 0);
}

/* A table of something linear in w = t/(1 + t), t = tan(angle/2), is read back exactly, at its ends
 * too. */
static void a_table_is_read_in_straight_lines(void **state) {
    (void)state;
    double value[9];
    for (int i = 0; i < 9; i++) {
        value[i] = 2.385 - 1.7 * i / 8;
    }
    vs_phase phase = {VS_PHASE_TABLE, 0, value, 9};
    for (int deg = 0; deg < 180; deg++) {
        double t = tan(deg * VS_RAD_PER_DEG / 2);
        CHECK_NEAR(vs_phase_per_sr(&phase, cos(deg * VS_RAD_PER_DEG)), 2.385 - 1.7 * t / (1 + t),
                   1e-12, 0);
    }
    CHECK_NEAR(vs_phase_per_sr(&phase, 1), value[0], 0, 0);
    CHECK_NEAR(vs_phase_per_sr(&phase, 1 + 1e-9), value[0], 0, 0);
    CHECK_NEAR(vs_phase_per_sr(&phase, -1), value[8], 1e-15, 0);
    CHECK_NEAR(vs_phase_per_sr(&phase, -1 - 1e-9), value[8], 1e-15, 0);
    CHECK_NAN(vs_phase_per_sr(&phase, NAN));
}

static void places_and_cosines_of_a_table_are_inverse(void **state) {
    (void)state;
    for (int i = 0; i <= 1000; i++) {
        double cosine = vs_phase_table_cosine(i / 1000.0);
        CHECK_NEAR(vs_phase_table_place(cosine), i / 1000.0, 1e-9, 1e-9);
        CHECK_TRUE(i == 0 || cosine < vs_phase_table_cosine((i - 1) / 1000.0));
    }
    CHECK_NEAR(vs_phase_table_cosine(0), 1, 0, 0);
    CHECK_NEAR(vs_phase_table_cosine(0.5), 0, 0, 1e-16);
    CHECK_NEAR(vs_phase_table_cosine(1), -1, 0, 0);
}

static void one_phase_function_is_told_from_another(void **state) {
    (void)state;
    const double values[] = {0.2, 0.05, 0.04}, same_values[] = {0.2, 0.05, 0.04};
    const vs_phase wide = vs_phase_henyey_greenstein(0.5);
    const vs_phase again = vs_phase_henyey_greenstein(0.5);
    const vs_phase narrow = vs_phase_henyey_greenstein(0.6);
    const vs_phase tabled = {VS_PHASE_TABLE, 0.5, values, 3};
    const vs_phase shorter = {VS_PHASE_TABLE, 0.5, values, 2};
    const vs_phase other = {VS_PHASE_TABLE, 0.5, same_values, 3};
    CHECK_TRUE(vs_phase_same(&wide, &again) && vs_phase_same(&tabled, &tabled));
    CHECK_TRUE(!vs_phase_same(&wide, &narrow) && !vs_phase_same(&wide, &tabled));
    CHECK_TRUE(!vs_phase_same(&tabled, &shorter));
    CHECK_TRUE(!vs_phase_same(&tabled, &other)); /* tables are told apart by where they are */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(henyey_greenstein_has_its_moments),
        cmocka_unit_test(henyey_greenstein_at_its_ends),
        cmocka_unit_test(a_table_is_read_in_straight_lines),
        cmocka_unit_test(places_and_cosines_of_a_table_are_inverse),
        cmocka_unit_test(one_phase_function_is_told_from_another),
    };
    return RUN_TESTS(tests);
}
