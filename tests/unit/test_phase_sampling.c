/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drawn scattering angles against the phase function they are drawn from. */
#include "check.h"

#include <math.h>

#include "veilstop/base/random.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/phase_sampling.h"

/* The share of light within an angle, by summing the phase function itself in fine steps of u. */
static double share_within(const vs_phase *phase, double cosine) {
    const int steps = 20000;
    double end = sqrt((1 - cosine) / 2), sum = 0, whole = 0;
    for (int i = 0; i < steps; i++) {
        double u = (i + 0.5) / steps, light = u * vs_phase_per_sr(phase, 1 - 2 * u * u);
        whole += light;
        sum += u < end ? light : 0;
    }
    return sum / whole;
}

static void check_inverse(const vs_phase *phase) {
    vs_phase_sampler phase_sampler;
    CHECK_OK(vs_phase_sampler_init(&phase_sampler, phase));
    for (double share = 0.013; share < 1; share += 0.0735) {
        double cosine = vs_phase_sampler_cosine(&phase_sampler, share);
        CHECK_NEAR(share_within(phase, cosine), share, 0, 1e-3);
    }
    CHECK_NEAR(vs_phase_sampler_cosine(&phase_sampler, 0), 1, 0, 1e-12);
    CHECK_NEAR(vs_phase_sampler_cosine(&phase_sampler, 1 - 1e-16), -1, 0, 1e-6);
    vs_phase_sampler_free(&phase_sampler);
    vs_phase_sampler_free(&phase_sampler);
}

static void drawn_angles_follow_henyey_and_greenstein(void **state) {
    (void)state;
    const double asymmetry[] = {-0.6, 0, 1e-5, 0.3, 0.75, 0.95};
    for (size_t i = 0; i < sizeof asymmetry / sizeof *asymmetry; i++) {
        vs_phase phase = vs_phase_henyey_greenstein(asymmetry[i]);
        check_inverse(&phase);
        /* the mean cosine is g: Henyey & Greenstein 1941 */
        vs_phase_sampler phase_sampler;
        CHECK_OK(vs_phase_sampler_init(&phase_sampler, &phase));
        double sum = 0;
        const int count = 20000;
        for (int n = 0; n < count; n++) {
            sum += vs_phase_sampler_cosine(&phase_sampler, (n + 0.5) / count);
        }
        CHECK_NEAR(sum / count, asymmetry[i], 0, 2e-4);
        vs_phase_sampler_free(&phase_sampler);
    }
}

static void drawn_angles_follow_a_table(void **state) {
    (void)state;
    /* Rayleigh's (3/4)(1 + cos^2)/(4 pi), and one with a steep peak and an empty stretch */
    double rayleigh[201], peaked[41];
    for (int i = 0; i <= 200; i++) {
        double cosine = vs_phase_table_cosine(i / 200.0);
        rayleigh[i] = 3 * (1 + cosine * cosine) / (16 * VS_PI);
    }
    for (int i = 0; i <= 40; i++) {
        peaked[i] = i < 4 ? 300 - 70 * i : i < 20 ? 0 : 0.02 * (i - 20);
    }
    vs_phase phase = {VS_PHASE_TABLE, 0, rayleigh, 201};
    check_inverse(&phase);
    vs_phase_sampler phase_sampler;
    CHECK_OK(vs_phase_sampler_init(&phase_sampler, &phase));
    CHECK_NEAR(phase_sampler.whole, 1, 1e-4, 0);
    CHECK_NEAR(vs_phase_sampler_cosine(&phase_sampler, 0.5), 0, 0, 1e-4);
    vs_phase_sampler_free(&phase_sampler);
    phase.value = peaked;
    phase.count = 41;
    check_inverse(&phase);
}

static void a_dark_table_is_refused(void **state) {
    (void)state;
    double dark[3] = {0, 0, 0};
    vs_phase phase = {VS_PHASE_TABLE, 0, dark, 3};
    vs_phase_sampler phase_sampler;
    CHECK_STATUS(vs_phase_sampler_init(&phase_sampler, &phase), VS_ERR_DOMAIN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drawn_angles_follow_henyey_and_greenstein),
        cmocka_unit_test(drawn_angles_follow_a_table),
        cmocka_unit_test(a_dark_table_is_refused),
    };
    return RUN_TESTS(tests);
}
