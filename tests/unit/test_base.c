/* SPDX-License-Identifier: GPL-3.0-or-later */
/* base: statuses, faults, units, vectors, integrals, roots. */
#include "check.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"
#include "base/growable.h"
#include "base/vector.h"
#include "veilstop/base/bands.h"
#include "veilstop/base/error.h"
#include "veilstop/base/quadrature.h"
#include "veilstop/base/root.h"
#include "veilstop/base/status.h"
#include "veilstop/base/units.h"
#include "veilstop/base/vec3.h"

static void every_status_has_a_text(void **state) {
    (void)state;
    CHECK_TRUE(strcmp(vs_status_text(VS_OK), "done") == 0);
    CHECK_TRUE(strcmp(vs_status_text((vs_status)9999), "unknown status") == 0);
}

static void faults_are_bounded_and_on_one_line(void **state) {
    (void)state;
    vs_faults faults = {0};
    CHECK_TRUE(!vs_faults_any(&faults));
    char lengthy[400];
    memset(lengthy, 'x', sizeof lengthy);
    /* A two-byte character that straddles the cut must go whole. */
    lengthy[VS_FAULT_TEXT_SIZE - 2] = (char)0xc3;
    lengthy[VS_FAULT_TEXT_SIZE - 1] = (char)0xa9;
    lengthy[399] = '\0';
    vs_faults_add(&faults, "/a\nb", "%s", lengthy);
    CHECK_TRUE(strcmp(faults.item[0].where, "/a\\nb") == 0);
    CHECK_TRUE(strlen(faults.item[0].text) == VS_FAULT_TEXT_SIZE - 2);
    for (int i = 0; i < 30; i++) {
        vs_faults_add(&faults, "/x", "fault %d", i);
    }
    CHECK_TRUE(faults.count == VS_FAULT_MAX && faults.more == 11);
}

static void arrays_in_one_block_are_apart_and_zero(void **state) {
    (void)state;
    char *bytes;
    double *numbers, *none;
    const vs_array array[] = {VS_ARRAY(bytes, 5), VS_ARRAY(none, 0), VS_ARRAY(numbers, 100)};
    void *block = vs_arrays_make(array, 3);
    CHECK_TRUE(block && (uintptr_t)numbers % (LANES * sizeof(double)) == 0);
    memset(bytes, 1, 5 + LANES); /* what a loop in whole lanes may write */
    memset(none, 1, LANES * sizeof *none);
    for (int i = 0; i < 100 + LANES; i++) {
        CHECK_TRUE(numbers[i] == 0);
    }
    CHECK_TRUE(bytes[5 + LANES] == 0);
    free(block);
    const vs_array endless[] = {VS_ARRAY(bytes, 8), {(void *)&numbers, SIZE_MAX / 2}};
    numbers = none = NULL;
    CHECK_TRUE(!vs_arrays_make(endless, 2) && !numbers);
}

static void lists_grow_are_cut_and_end_empty(void **state) {
    (void)state;
    VS_LIST(int) list = {0};
    for (int i = 0; i < 1000; i++) {
        int *added = VS_LIST_ADD(&list);
        CHECK_TRUE(added == &list.item[i]);
        *added = i;
    }
    CHECK_TRUE(list.count == 1000 && list.size > 1001);
    vs_list_tighten(VS_ANY_LIST(&list));
    CHECK_TRUE(list.count == 1000 && list.size == 1001);
    CHECK_TRUE(!vs_list_add_many(VS_ANY_LIST(&list), SIZE_MAX / 64));
    const int *more = vs_list_add_many(VS_ANY_LIST(&list), 2000);
    CHECK_TRUE(more == &list.item[1000] && list.count == 3000 && list.size >= 3000);
    for (int i = 0; i < 1000; i++) {
        CHECK_TRUE(list.item[i] == i);
    }
    vs_list_free(VS_ANY_LIST(&list));
    CHECK_TRUE(!list.item && list.count == 0 && list.size == 0);
}

/* Factors: NIST SP 811 (2008) appendix B.8: 1 ft = 0.3048 m, 1 in = 0.0254 m, both exact. */
static void lengths_are_read_in_every_notation(void **state) {
    (void)state;
    static const struct {
        const char *text;
        double m;
    } good[] = {{"12 ft", 3.6576}, {"3.5 m", 3.5},    {"350 cm", 3.5},      {"6 in", 0.1524},
                {"12'6\"", 3.81},  {"12' 6\"", 3.81}, {"12'", 3.6576},      {"6\"", 0.1524},
                {"-1.5m", -1.5},   {"1e2 cm", 1.0},   {"12 ft 6 in", 3.81}, {"-1'6\"", -0.4572},
                {" 2 m ", 2.0},    {".5 m", 0.5},     {"25 mm", 0.025}};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        double m;
        CHECK_OK(vs_length_parse(good[i].text, &m));
        CHECK_NEAR(m, good[i].m, 1e-15, 0);
    }
    static const char *bad[] = {"",      "m",     "12",      "12 yd", "1,5 m",   "12'6",  "12'-6\"",
                                "inf m", "nan m", "1e999 m", "0x2 m", "3 m 2 m", "3 m x", "--2 m"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        double m;
        CHECK_STATUS(vs_length_parse(bad[i], &m), VS_ERR_INPUT);
        CHECK_NAN(m);
    }
}

/* NIST SP 811 appendix B.8: 1 footcandle = 10.76391 lx, 1 footlambert = 3.426259 cd/m2. */
static void photometric_units_match_the_standard(void **state) {
    (void)state;
    CHECK_PRINTED(VS_LUX_PER_FC, 10.76391, 1e-5);
    CHECK_PRINTED(VS_NITS_PER_FL, 3.426259, 1e-6);
    CHECK_NEAR(VS_DB_PER_M_PER_PER_M, 10 / log(10), 1e-15, 0);
    CHECK_NEAR(VS_STOPS_PER_NEPER, 1 / log(2), 1e-15, 0);
    CHECK_NEAR(vs_bands_luminance(vs_bands_grey(7.5)), 7.5, 1e-15, 0);
}

static void vectors_obey_their_identities(void **state) {
    (void)state;
    random_stream r = {11};
    for (int i = 0; i < 200; i++) {
        vs_vec3 a = {random_uniform(&r, -3, 3), random_uniform(&r, -3, 3),
                     random_uniform(&r, -3, 3)};
        vs_vec3 b = {random_uniform(&r, -3, 3), random_uniform(&r, -3, 3),
                     random_uniform(&r, -3, 3)};
        vs_vec3 c = vs_vec3_cross(a, b);
        CHECK_NEAR(vs_vec3_dot(a, c), 0, 0, 1e-13);
        CHECK_NEAR(vs_vec3_length(vs_vec3_unit(a)), 1, 1e-14, 0);
        /* Lagrange's identity */
        CHECK_NEAR(vs_vec3_dot(c, c),
                   vs_vec3_dot(a, a) * vs_vec3_dot(b, b) - pow(vs_vec3_dot(a, b), 2), 1e-12, 1e-12);
        CHECK_NEAR(vs_vec3_component(vs_vec3_along(a, b, 2.385), 1), a.y + 2.385 * b.y, 1e-15, 0);
    }
}

static double lorentzian(double x, void *context) {
    double width = *(double *)context;
    return width / (x * x + width * width);
}

static double not_finite(double x, void *context) {
    (void)context;
    return x > 0.5 ? (double)NAN : 1;
}

static void adaptive_integrals_and_their_error_bars(void **state) {
    (void)state;
    vs_quadrature q;
    CHECK_OK(vs_quadrature_init(&q, 500));
    double width = 1e-3, value, error;
    CHECK_OK(vs_quadrature_adaptive(&q, lorentzian, &width, -1, 2.385, 1e-10, 0, &value, &error));
    double want = atan(2.385 / width) + atan(1 / width);
    CHECK_NEAR(value, want, 1e-10, 0);
    CHECK_TRUE(fabs(value - want) <= error);
    CHECK_STATUS(vs_quadrature_adaptive(&q, not_finite, NULL, 0, 1, 1e-8, 0, &value, NULL),
                 VS_ERR_CONVERGENCE);
    CHECK_NAN(value);
    CHECK_STATUS(vs_quadrature_adaptive(&q, lorentzian, &width, 0, INFINITY, 1e-8, 0, &value, NULL),
                 VS_ERR_DOMAIN);
    vs_quadrature_free(&q);
    vs_quadrature_free(&q);
    CHECK_STATUS(vs_quadrature_init(&q, 0), VS_ERR_DOMAIN);
}

/* Abramowitz & Stegun 1964, table 25.4, n = 5. */
static void gauss_legendre_matches_the_handbook(void **state) {
    (void)state;
    double node[5], weight[5];
    CHECK_OK(vs_gauss_legendre(5, node, weight));
    CHECK_PRINTED(node[4], 0.906179845938664, 1e-15);
    CHECK_PRINTED(node[3], 0.538469310105683, 1e-15);
    CHECK_PRINTED(weight[4], 0.236926885056189, 1e-15);
    CHECK_PRINTED(weight[2], 0.568888888888889, 1e-15);
    CHECK_TRUE(node[0] < node[1]);
    CHECK_STATUS(vs_gauss_legendre(0, node, weight), VS_ERR_DOMAIN);
}

static double cosine_minus_x(double x, void *context) {
    (void)context;
    return cos(x) - x;
}

/* The Dottie number, OEIS A003957. */
static void brent_finds_the_root_or_says_there_is_none(void **state) {
    (void)state;
    double root;
    CHECK_OK(vs_root_brent(cosine_minus_x, NULL, 0, 1, 1e-14, 0, &root));
    CHECK_NEAR(root, 0.73908513321516064, 1e-13, 0);
    CHECK_OK(vs_root_brent(cosine_minus_x, NULL, 1, 0, 1e-14, 0, &root));
    CHECK_NEAR(root, 0.73908513321516064, 1e-13, 0);
    CHECK_STATUS(vs_root_brent(cosine_minus_x, NULL, 1, 2, 1e-12, 0, &root), VS_ERR_DOMAIN);
    CHECK_NAN(root);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_status_has_a_text),
        cmocka_unit_test(arrays_in_one_block_are_apart_and_zero),
        cmocka_unit_test(lists_grow_are_cut_and_end_empty),
        cmocka_unit_test(faults_are_bounded_and_on_one_line),
        cmocka_unit_test(lengths_are_read_in_every_notation),
        cmocka_unit_test(photometric_units_match_the_standard),
        cmocka_unit_test(vectors_obey_their_identities),
        cmocka_unit_test(adaptive_integrals_and_their_error_bars),
        cmocka_unit_test(gauss_legendre_matches_the_handbook),
        cmocka_unit_test(brent_finds_the_root_or_says_there_is_none),
    };
    return RUN_TESTS(tests);
}
