/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Legendre moments of phase functions against a published table, and means over caps of sky against
 * plain sums. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"
#include "veilstop/optics/ensemble.h"
#include "veilstop/optics/moments.h"

#define HAZE_L_MOMENTS 71

/* Deirmendjian's Haze L as a table of the phase function: (2 l + 1) chi_l against Garcia & Siewert
 * 1985, Transp. Theory Stat. Phys. 14, 437, table 10. The table is interpolated linearly, so that
 * only four digits are significant. */
static void haze_l_has_its_moments(void **state) {
    (void)state;
    vs_sizes haze = {.kind = VS_SIZES_MODIFIED_GAMMA, .alpha = 2, .b = 15.1186, .gamma = 0.5};
    vs_droplets d = {haze, 1.33, 0, 1000, 0.7e-6, false};
    vs_ensemble e;
    double moment[HAZE_L_MOMENTS + 1], worst = 0;
    CHECK_OK(vs_ensemble_init(&e, &d));
    const vs_phase phase = {VS_PHASE_TABLE, e.g, e.phase_per_sr, e.phase_count};
    vs_phase_moments(&phase, HAZE_L_MOMENTS + 1, moment);
    table t = table_read("moments_haze_l.csv", HAZE_L_MOMENTS);
    CHECK_NEAR(moment[0], 1, 1e-6, 0);
    for (size_t i = 0; i < HAZE_L_MOMENTS; i++) {
        double got = (double)(2 * i + 3) * moment[i + 1], want = table_number(&t, i, "moment");
        CHECK_NEAR(got, want, 0, 5e-4);
        worst = fmax(worst, fabs(got - want));
    }
    printf("measured: Haze L by its table of the phase function: %d moments within %.1e\n",
           HAZE_L_MOMENTS, worst);
    table_free(&t);
    vs_ensemble_free(&e);
}

/* chi_l = g^l (Henyey & Greenstein 1941). */
static void henyey_greenstein_has_powers_of_g(void **state) {
    (void)state;
    double moment[32];
    const double g[] = {-0.4, 0, 0.5, 0.85};
    for (size_t n = 0; n < sizeof g / sizeof *g; n++) {
        vs_phase phase = vs_phase_henyey_greenstein(g[n]);
        vs_phase_moments(&phase, 32, moment);
        for (int l = 0; l < 32; l++) {
            CHECK_NEAR(moment[l], pow(g[n], l), 1e-12, 1e-15);
        }
    }
}

/* The mean over a cap by summing rings of it. */
static double cap_mean(const vs_phase *phase, double edge, double cosine) {
    double sum = 0, count = 0, sine = sqrt(1 - cosine * cosine);
    for (int i = 0; i < 400; i++) {
        double c = edge + (1 - edge) * (i + 0.5) / 400, s = sqrt(1 - c * c);
        for (int j = 0; j < 90; j++) {
            double turned = cosine * c + sine * s * cos(2 * VS_PI * (j + 0.5) / 90);
            sum += vs_phase_per_sr(phase, turned);
            count++;
        }
    }
    return sum / count;
}

static void caps_are_means(void **state) {
    (void)state;
    static vs_cap_phase cap;
    double worst = 0;
    const double g[] = {0.3, 0.5, 0.75, 0.85};
    for (size_t n = 0; n < sizeof g / sizeof *g; n++) {
        vs_phase phase = vs_phase_henyey_greenstein(g[n]);
        vs_cap_phase_make(&phase, &cap);
        for (int size = 2; size < VS_CAP_SIZES; size += 2) {
            double root = size / (VS_CAP_SIZES - 1.0), edge = 1 - root * root;
            for (int angle = 0; angle < VS_CAP_ANGLES; angle += 16) {
                double cosine = vs_phase_table_cosine(angle / (VS_CAP_ANGLES - 1.0));
                double want = cap_mean(&phase, edge, cosine);
                CHECK_NEAR((double)cap.value[size][angle], want, 0.01, 0);
                worst = fmax(worst, fabs((double)cap.value[size][angle] / want - 1));
            }
        }
    }
    printf("measured: means of phase functions over caps: within %.1e of plain sums\n", worst);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(haze_l_has_its_moments),
        cmocka_unit_test(henyey_greenstein_has_powers_of_g),
        cmocka_unit_test(caps_are_means),
    };
    return RUN_TESTS(tests);
}
