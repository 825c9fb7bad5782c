/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight spheres side by side against each alone, which test_mie.c compares with published
 * values. */
#include "check.h"

#include <math.h>

#include "optics/spheres.h"

#define SAME 1e-12 /* [1] relative: both are good to about that */

static void check_lane(const vs_spheres *s, int lane, double x, double k, const vs_mie *got) {
    vs_mie_workspace work, handed;
    vs_mie want;
    CHECK_OK(vs_mie_workspace_init(&work, x));
    CHECK_OK(vs_mie_workspace_init(&handed, x));
    CHECK_OK(vs_mie_sphere(&work, x, 1.45, k, &want));
    CHECK_NEAR(got->extinction, want.extinction, SAME, 0);
    CHECK_NEAR(got->scattering, want.scattering, SAME, 0);
    CHECK_NEAR(got->asymmetry, want.asymmetry, SAME, 1e-15);
    CHECK_NEAR(got->back, want.back, 1e3 * SAME, 0); /* a difference of large sums */
    CHECK_NEAR(got->forward_re, want.forward_re, SAME, 0);
    CHECK_NEAR(got->forward_im, want.forward_im, 1e3 * SAME, 0);
    vs_spheres_hand_over(s, lane, &handed);
    CHECK_TRUE(handed.terms == work.terms);
    for (size_t i = 0; i < work.terms; i++) {
        CHECK_NEAR(handed.a_re[i], work.a_re[i], 1e-9, 1e-14);
        CHECK_NEAR(handed.a_im[i], work.a_im[i], 1e-9, 1e-14);
        CHECK_NEAR(handed.b_re[i], work.b_re[i], 1e-9, 1e-14);
        CHECK_NEAR(handed.b_im[i], work.b_im[i], 1e-9, 1e-14);
    }
    vs_mie_workspace_free(&work);
    vs_mie_workspace_free(&handed);
}

static void check_eight(vs_spheres *s, const double x[LANES], double k) {
    vs_mie got[LANES];
    CHECK_OK(vs_spheres_take(s, x, 1.45, k, got));
    for (int l = 0; l < LANES; l++) {
        check_lane(s, l, x[l], k, &got[l]);
    }
}

/* Neighbouring sizes as in a distribution, and sizes far apart, clear and absorbing. */
static void eight_are_each_by_itself(void **state) {
    (void)state;
    random_stream r = {31};
    vs_spheres s;
    CHECK_OK(vs_spheres_init(&s, 2000));
    for (int i = 0; i < 60; i++) {
        double x[LANES], first = random_log_uniform(&r, 0.01, 600);
        for (int l = 0; l < LANES; l++) {
            x[l] = i % 3 ? first * (1 + 0.1 * l) : random_log_uniform(&r, 1e-4, 2000);
        }
        check_eight(&s, x, i % 2 ? 0 : random_log_uniform(&r, 1e-8, 0.5));
    }
    vs_spheres_free(&s);
}

/* Without absorption all extinction is scattering, to the last digit. */
static void nothing_is_absorbed_where_k_is_zero(void **state) {
    (void)state;
    const double x[LANES] = {0.1, 0.5, 1, 2, 5, 10, 20, 50};
    vs_mie got[LANES];
    vs_spheres s;
    CHECK_OK(vs_spheres_init(&s, 50));
    CHECK_OK(vs_spheres_take(&s, x, 1.45, 0, got));
    for (int l = 0; l < LANES; l++) {
        CHECK_NEAR(got[l].scattering, got[l].extinction, 1e-15, 0);
    }
    vs_spheres_free(&s);
}

static void bad_spheres_are_refused(void **state) {
    (void)state;
    double x[LANES] = {1, 1, 1, 1, 1, 1, 1, 1};
    vs_mie got[LANES];
    vs_spheres s;
    CHECK_STATUS(vs_spheres_init(&s, 0), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_spheres_init(&s, NAN), VS_ERR_DOMAIN);
    CHECK_OK(vs_spheres_init(&s, 2));
    CHECK_STATUS(vs_spheres_take(&s, x, 0, 0, got), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_spheres_take(&s, x, 1.4, -1, got), VS_ERR_DOMAIN);
    x[5] = 2.1;
    CHECK_STATUS(vs_spheres_take(&s, x, 1.4, 0, got), VS_ERR_DOMAIN);
    x[5] = NAN;
    CHECK_STATUS(vs_spheres_take(&s, x, 1.4, 0, got), VS_ERR_DOMAIN);
    vs_spheres_free(&s);
    vs_spheres_free(&s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eight_are_each_by_itself),
        cmocka_unit_test(nothing_is_absorbed_where_k_is_zero),
        cmocka_unit_test(bad_spheres_are_refused),
    };
    return RUN_TESTS(tests);
}
