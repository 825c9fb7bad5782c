/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One sphere: published values, limits in closed form, identities. */
#include "check.h"

#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "veilstop/base/units.h"
#include "veilstop/optics/mie.h"

static vs_mie_workspace work_for(double size_max) {
    vs_mie_workspace work;
    CHECK_OK(vs_mie_workspace_init(&work, size_max));
    return work;
}

static vs_mie sphere_of(vs_mie_workspace *work, double x, double n, double k) {
    vs_mie sphere;
    CHECK_OK(vs_mie_sphere(work, x, n, k, &sphere));
    return sphere;
}

static double intensity_at(const vs_mie_workspace *work, double deg) {
    return vs_mie_intensity(vs_mie_amplitudes_at(work, cos(deg * VS_RAD_PER_DEG)));
}

static void published_efficiencies(void **state) {
    (void)state;
    table t = table_read("mie_efficiencies.csv", 17);
    vs_mie_workspace work = work_for(1e4);
    for (size_t i = 0; i < t.rows; i++) {
        vs_mie s = sphere_of(&work, table_number(&t, i, "x"), table_number(&t, i, "n"),
                             table_number(&t, i, "k"));
        CHECK_PRINTED(s.extinction, table_number(&t, i, "qext"), table_unit(&t, i, "qext"));
        CHECK_PRINTED(s.scattering, table_number(&t, i, "qsca"), table_unit(&t, i, "qsca"));
        CHECK_PRINTED(s.asymmetry, table_number(&t, i, "g"), table_unit(&t, i, "g"));
    }
    printf("measured: Mie efficiencies and asymmetry, %zu published rows: every printed digit\n",
           t.rows);
    table_free(&t);
    t = table_read("mie_scattering_large.csv", 2);
    for (size_t i = 0; i < t.rows; i++) {
        vs_mie s = sphere_of(&work, table_number(&t, i, "x"), table_number(&t, i, "n"),
                             table_number(&t, i, "k"));
        CHECK_PRINTED(s.scattering, table_number(&t, i, "qsca"), table_unit(&t, i, "qsca"));
    }
    table_free(&t);
    vs_mie_workspace_free(&work);
}

static void published_intensities(void **state) {
    (void)state;
    vs_mie_workspace work = work_for(10);
    sphere_of(&work, 10, 1.5, 0);
    table t = table_read("mie_intensity_wiscombe.csv", 5);
    for (size_t i = 0; i < t.rows; i++) {
        CHECK_PRINTED(intensity_at(&work, table_number(&t, i, "deg")),
                      table_number(&t, i, "intensity"), table_unit(&t, i, "intensity"));
    }
    table_free(&t);
    vs_mie s = sphere_of(&work, 2 * VS_PI * 0.525 / 0.6328, 1.55, 0);
    CHECK_PRINTED(s.back, 2.92534, 1e-5); /* Bohren & Huffman 1983, appendix A */
    double forward = intensity_at(&work, 0);
    t = table_read("mie_angles_bohren_huffman.csv", 11);
    for (size_t i = 0; i < t.rows; i++) {
        CHECK_PRINTED(intensity_at(&work, table_number(&t, i, "deg")) / forward,
                      table_number(&t, i, "s11"), table_unit(&t, i, "s11"));
    }
    printf("measured: |S|^2 at 5 angles of Wiscombe, S11 at %zu of Bohren & Huffman: every printed "
           "digit\n",
           t.rows);
    table_free(&t);
    vs_mie_workspace_free(&work);
}

/* Seven digits are printed, of sums of large terms that cancel in the arithmetic of the time: the
 * last digit may be 1.5 off. */
static void published_amplitudes(void **state) {
    (void)state;
    table t = table_read("mie_amplitudes_miev0.csv", 55);
    vs_mie_workspace work = work_for(1000);
    for (size_t i = 0; i < t.rows; i++) {
        sphere_of(&work, table_number(&t, i, "x"), table_number(&t, i, "n"),
                  table_number(&t, i, "k"));
        vs_amplitudes a =
            vs_mie_amplitudes_at(&work, cos(table_number(&t, i, "deg") * VS_RAD_PER_DEG));
        CHECK_NEAR(a.s1_re, table_number(&t, i, "s1_re"), 0, 1.5 * table_unit(&t, i, "s1_re"));
        CHECK_NEAR(-a.s1_im, table_number(&t, i, "s1_im"), 0, 1.5 * table_unit(&t, i, "s1_im"));
        CHECK_NEAR(a.s2_re, table_number(&t, i, "s2_re"), 0, 1.5 * table_unit(&t, i, "s2_re"));
        CHECK_NEAR(-a.s2_im, table_number(&t, i, "s2_im"), 0, 1.5 * table_unit(&t, i, "s2_im"));
    }
    printf("measured: complex amplitudes, %zu published rows: within 1.5 of the seventh digit\n",
           t.rows);
    table_free(&t);
    vs_mie_workspace_free(&work);
}

/* Bohren & Huffman 1983 eqs. 5.7 to 5.9, x to 0: Qsca = (8/3) x^4 |p|^2, Qabs = 4 x Im p,
 * p = (m^2 - 1)/(m^2 + 2); asymmetry to 0, intensity (1 + cos^2)/2. The next term is of order x^2.
 */
static void small_spheres_follow_rayleigh(void **state) {
    (void)state;
    static const double index[][2] = {{1.45, 0}, {1.5, 0.1}, {1.33, 1e-6}, {0.75, 0}, {3.1, 2.385}};
    vs_mie_workspace work = work_for(0.1);
    for (size_t i = 0; i < sizeof index / sizeof index[0]; i++) {
        double complex m = index[i][0] + index[i][1] * (double complex)_Complex_I, m2 = m * m;
        double complex p = (m2 - 1) / (m2 + 2);
        for (double x = 1e-4; x < 0.02; x *= 3) {
            vs_mie s = sphere_of(&work, x, index[i][0], index[i][1]);
            double scattering = 8.0 / 3 * pow(x, 4) * creal(p * conj(p));
            CHECK_NEAR(s.scattering, scattering, 8 * x * x, 0);
            CHECK_NEAR(s.extinction, scattering + 4 * x * cimag(p), 8 * x * x + 1e-13, 0);
            CHECK_NEAR(s.asymmetry, 0, 0, x * x);
            for (int deg = 0; deg <= 180; deg += 20) {
                double cosine = cos(deg * VS_RAD_PER_DEG);
                CHECK_NEAR(intensity_at(&work, deg) / intensity_at(&work, 0),
                           0.5 * (1 + cosine * cosine), 8 * x * x, 1e-15);
            }
        }
    }
    vs_mie_workspace_free(&work);
}

/* van de Hulst 1957, ch. 11: for m near 1, Q = 2 - (4/rho) sin rho + (4/rho^2)(1 - cos rho),
 * rho = 2 x (m - 1), good to the order of m - 1; first maximum 3.1731 at rho 4.0856. */
static double anomalous_diffraction(double rho) {
    return 2 - 4 / rho * sin(rho) + 4 / (rho * rho) * (1 - cos(rho));
}

static void soft_spheres_follow_anomalous_diffraction(void **state) {
    (void)state;
    CHECK_PRINTED(anomalous_diffraction(4.0856), 3.1731, 1e-4);
    vs_mie_workspace work = work_for(2e4);
    double worst = 0;
    for (double rho = 0.5; rho < 30; rho += 0.713) {
        vs_mie s = sphere_of(&work, rho / (2 * 0.001), 1.001, 0);
        CHECK_NEAR(s.extinction, anomalous_diffraction(rho), 3e-3, 0);
        worst = fmax(worst, fabs(s.extinction / anomalous_diffraction(rho) - 1));
    }
    printf("measured: anomalous diffraction, m = 1.001: within %.1e (of the order of m - 1)\n",
           worst);
    vs_mie_workspace_free(&work);
}

/* Extinction to 2 for large spheres, as 2 + O(x^(-2/3)): Nussenzveig & Wiscombe 1980, Phys. Rev.
 * Lett. 45, 1490, Qext = 2 + 1.9924 x^(-2/3) + ... for absorbing ones. */
static void large_spheres_cast_twice_their_shadow(void **state) {
    (void)state;
    vs_mie_workspace work = work_for(2e4);
    for (double x = 500; x <= 2e4; x *= 1.9) {
        vs_mie s = sphere_of(&work, x, 1.5, 1);
        CHECK_NEAR(s.extinction, 2 + 1.9924 * pow(x, -2.0 / 3), 0, 2 / x);
        s = sphere_of(&work, x, 1.45, 0);
        CHECK_NEAR(s.extinction, 2, 0, 0.1 + 4 * pow(x, -2.0 / 3));
    }
    vs_mie_workspace_free(&work);
}

/* Optical theorem, Bohren & Huffman 1983 eq. 4.76: Qext = (4/x^2) Re S(0). Nothing scatters more
 * than it extinguishes; without absorption nothing is lost. Back: Qback = (4/x^2)|S1(180)|^2. */
static void identities_of_random_spheres(void **state) {
    (void)state;
    random_stream r = {7};
    vs_mie_workspace work = work_for(2e3);
    for (int i = 0; i < 300; i++) {
        double x = random_log_uniform(&r, 1e-3, 2e3), n = random_uniform(&r, 1.05, 3);
        double k = i % 3 == 0 ? 0 : random_log_uniform(&r, 1e-8, 3);
        vs_mie s = sphere_of(&work, x, n, k);
        vs_amplitudes ahead = vs_mie_amplitudes_at(&work, 1),
                      back = vs_mie_amplitudes_at(&work, -1);
        CHECK_NEAR(4 / (x * x) * ahead.s1_re, s.extinction, 1e-10, 0);
        CHECK_NEAR(ahead.s1_re, s.forward_re, 1e-10, 0);
        CHECK_NEAR(ahead.s1_im, s.forward_im, 1e-9, 1e-9 * fabs(ahead.s1_re));
        CHECK_NEAR(4 / (x * x) * (back.s1_re * back.s1_re + back.s1_im * back.s1_im), s.back, 1e-7,
                   1e-9 * s.scattering);
        CHECK_TRUE(s.extinction >= s.scattering * (1 - 1e-12) && s.scattering > 0);
        CHECK_TRUE(fabs(s.asymmetry) < 1);
        if (k == 0) {
            CHECK_NEAR(s.scattering, s.extinction, 1e-11, 0);
        }
    }
    vs_mie_workspace_free(&work);
}

/* Intensity over the sphere of directions by the trapezoidal rule in the angle, which is exact for
 * this kind of polynomial: it integrates to pi x^2 Qsca, and its mean cosine is the asymmetry. */
static void the_intensity_integrates_to_the_efficiencies(void **state) {
    (void)state;
    random_stream r = {23};
    vs_mie_workspace work = work_for(200);
    for (int i = 0; i < 60; i++) {
        double x = random_log_uniform(&r, 1e-2, 200), n = random_uniform(&r, 1.05, 2);
        double k = i % 2 ? 0 : random_log_uniform(&r, 1e-6, 0.5);
        vs_mie s = sphere_of(&work, x, n, k);
        size_t count = 2 * vs_mie_terms(x) + 8;
        double *node = malloc(2 * count * sizeof *node), *weight = node + count;
        CHECK_TRUE(node != NULL);
        /* Fejer's first rule (Davis & Rabinowitz 1984, 2.5.5): exact up to degree count - 1 */
        double sum = 0, cosine_sum = 0;
        for (size_t j = 0; j < count; j++) {
            double angle = VS_PI * ((double)j + 0.5) / (double)count, rest = 1;
            for (size_t m = 1; m <= count / 2; m++) {
                rest -= 2 * cos(2 * (double)m * angle) / (4.0 * (double)m * (double)m - 1);
            }
            node[j] = cos(angle);
            weight[j] = 2 / (double)count * rest;
            double part = weight[j] * vs_mie_intensity(vs_mie_amplitudes_at(&work, node[j]));
            sum += part;
            cosine_sum += part * node[j];
        }
        free(node);
        CHECK_NEAR(2 * VS_PI * sum, VS_PI * x * x * s.scattering, 1e-10, 0);
        CHECK_NEAR(cosine_sum / sum, s.asymmetry, 0, 1e-10);
    }
    vs_mie_workspace_free(&work);
}

/* The real and the complex code paths agree: a trace of absorption changes almost nothing. */
static void a_trace_of_absorption_changes_nothing(void **state) {
    (void)state;
    vs_mie_workspace work = work_for(100);
    for (double x = 0.01; x < 100; x *= 1.7) {
        vs_mie clear = sphere_of(&work, x, 1.45, 0), trace = sphere_of(&work, x, 1.45, 1e-13);
        CHECK_NEAR(trace.scattering, clear.scattering, 1e-9, 0);
        CHECK_NEAR(trace.asymmetry, clear.asymmetry, 1e-9, 1e-12);
    }
    vs_mie_workspace_free(&work);
}

static void what_is_out_of_range_is_refused(void **state) {
    (void)state;
    vs_mie_workspace work = work_for(50);
    static const double bad[][3] = {{0, 1.5, 0},   {-1, 1.5, 0}, {51, 1.5, 0},     {NAN, 1.5, 0},
                                    {1, 0, 0},     {1, -1.5, 0}, {1, NAN, 0},      {1, 1.5, -1e-9},
                                    {1, 1.5, NAN}, {1, 101, 0},  {1, INFINITY, 0}, {9e-5, 1.5, 0}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        vs_mie s;
        CHECK_STATUS(vs_mie_sphere(&work, bad[i][0], bad[i][1], bad[i][2], &s), VS_ERR_DOMAIN);
        CHECK_NAN(s.extinction);
        CHECK_NAN(s.asymmetry);
    }
    vs_mie_workspace_free(&work);
    vs_mie_workspace_free(&work);
    CHECK_STATUS(vs_mie_workspace_init(&work, 2.1e4), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_mie_workspace_init(&work, NAN), VS_ERR_DOMAIN);
}

/* Processor time of a sphere, the least of several turns [ms]. */
static double sphere_ms(double size_parameter) {
    vs_mie_workspace work = work_for(size_parameter);
    double best = INFINITY;
    for (int turn = 0; turn < 5; turn++) {
        clock_t start = clock();
        for (int i = 0; i < 20; i++) {
            sphere_of(&work, size_parameter, 1.33, 1e-5);
        }
        best = fmin(best, 1e3 * (double)(clock() - start) / CLOCKS_PER_SEC / 20);
    }
    vs_mie_workspace_free(&work);
    return best;
}

/* A series of about x terms, each of the same work, so a sphere ten times as large takes
 * some ten times as long. Ratios hold on slow machines and under the sanitizers too. */
static void time_grows_with_size(void **state) {
    (void)state;
    double small_ms = sphere_ms(2e3), large_ms = sphere_ms(2e4);
    CHECK_TRUE(large_ms / small_ms > 3 && large_ms / small_ms < 30);
    printf("measured: one sphere of x = 20000 takes %.2f ms, %.1f times one of x = 2000\n",
           large_ms, large_ms / small_ms);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_efficiencies),
        cmocka_unit_test(published_intensities),
        cmocka_unit_test(published_amplitudes),
        cmocka_unit_test(small_spheres_follow_rayleigh),
        cmocka_unit_test(soft_spheres_follow_anomalous_diffraction),
        cmocka_unit_test(large_spheres_cast_twice_their_shadow),
        cmocka_unit_test(identities_of_random_spheres),
        cmocka_unit_test(the_intensity_integrates_to_the_efficiencies),
        cmocka_unit_test(a_trace_of_absorption_changes_nothing),
        cmocka_unit_test(what_is_out_of_range_is_refused),
        cmocka_unit_test(time_grows_with_size),
    };
    return RUN_TESTS(tests);
}
