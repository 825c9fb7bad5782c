/* SPDX-License-Identifier: GPL-3.0-or-later */
/* camera/curve: published digits, there and back, slopes, and curves that are refused. */
#include "check.h"

#include <math.h>
#include <string.h>

#include "parts.h"
#include "veilstop/camera/curve.h"

static const vs_curve *const every_curve[] = {&(const vs_curve){.kind = VS_CURVE_LINEAR},
                                              &(const vs_curve){.kind = VS_CURVE_BT709},
                                              &(const vs_curve){.kind = VS_CURVE_SRGB},
                                              &(const vs_curve){.kind = VS_CURVE_ACESCCT},
                                              &(const vs_curve){.kind = VS_CURVE_HLG},
                                              &(const vs_curve){.kind = VS_CURVE_PQ},
                                              &parts_log_curve};
#define CURVE_COUNT (sizeof every_curve / sizeof every_curve[0])

static void published_digits(void **state) {
    (void)state;
    table t = table_read("curves.csv", 18);
    for (size_t i = 0; i < t.rows; i++) {
        vs_curve curve;
        CHECK_OK(vs_curve_named(table_text(&t, i, "curve"), &curve));
        double light = table_number(&t, i, "light");
        /* BT.2408-4 table 1: reference white is E = 0.265 of HLG, 203 cd/m2 of PQ */
        double x = curve.kind == VS_CURVE_HLG  ? light / 0.265
                   : curve.kind == VS_CURVE_PQ ? light / 203
                                               : light;
        double unit =
            fmax(table_unit(&t, i, "signal"), 1e-14); /* the last of 15 digits: rounding */
        CHECK_PRINTED(vs_curve_encode(&curve, x), table_number(&t, i, "signal"), unit);
    }
    table_free(&t);
}

static void the_inverse_undoes_the_curve(void **state) {
    (void)state;
    for (size_t i = 0; i < CURVE_COUNT; i++) {
        const vs_curve *curve = every_curve[i];
        CHECK_OK(vs_curve_check(curve));
        double top = vs_curve_top(curve);
        CHECK_NEAR(vs_curve_encode(curve, top), 1, 1e-7, 0); /* HLG's constants: 8 digits */
        double before = -INFINITY;
        for (double x = 1e-5; x < 1.3 * top; x *= 1.137) {
            double signal = vs_curve_encode(curve, x);
            CHECK_TRUE(signal > before);
            before = signal;
            /* BT.709 has a gap at its break, where no signal falls */
            CHECK_NEAR(vs_curve_decode(curve, signal), x, 1e-9, 0);
        }
    }
}

static void the_inverse_never_falls(void **state) {
    (void)state;
    for (size_t i = 0; i < CURVE_COUNT; i++) {
        double before = -INFINITY;
        for (double signal = -0.1; signal < 1.1; signal += 1.3e-4) {
            double x = vs_curve_decode(every_curve[i], signal);
            CHECK_TRUE(x >= before);
            before = x;
        }
    }
}

static void below_black_follows_the_linear_part(void **state) {
    (void)state;
    for (size_t i = 0; i < CURVE_COUNT; i++) {
        const vs_curve *curve = every_curve[i];
        double at_black = vs_curve_encode(curve, 0);
        double below = vs_curve_encode(curve, -0.01);
        if (curve->kind == VS_CURVE_HLG || curve->kind == VS_CURVE_PQ) {
            CHECK_NEAR(below, at_black, 0, 0);
            CHECK_NEAR(vs_curve_decode(curve, at_black), 0, 0, 1e-12);
        } else {
            CHECK_TRUE(below < at_black);
            CHECK_NEAR(vs_curve_decode(curve, below), -0.01, 1e-12, 0);
        }
        CHECK_NAN(vs_curve_encode(curve, NAN));
        CHECK_NAN(vs_curve_decode(curve, NAN));
    }
}

static void unusable_log_curves_are_refused(void **state) {
    (void)state;
    vs_curve bad[9];
    for (size_t i = 0; i < 9; i++) {
        bad[i] = parts_log_curve;
    }
    bad[0].a = -5.5;
    bad[1].c = 0;
    bad[2].e = -1;
    bad[3].b = NAN;
    bad[4].f = INFINITY;
    bad[5].cut = -0.02; /* a cut + b < 0: no logarithm there */
    bad[6].f = 0.2;     /* falls at the cut */
    bad[7].d = 2;       /* grey over 100 % */
    bad[8].kind = (vs_curve_kind)99;
    for (size_t i = 0; i < 9; i++) {
        CHECK_STATUS(vs_curve_check(&bad[i]), VS_ERR_DOMAIN);
    }
    CHECK_TRUE(strcmp(vs_curve_name(&bad[8]), "unknown curve") == 0);
    vs_curve step = parts_log_curve;
    step.f = 0.05; /* a step up is allowed, and the inverse lands on the cut */
    CHECK_OK(vs_curve_check(&step));
    CHECK_NEAR(vs_curve_decode(&step, 0.11), step.cut, 1e-15, 0);
}

static void acescct_is_a_log_curve_too(void **state) {
    (void)state;
    vs_curve acescct = {.kind = VS_CURVE_ACESCCT}, as_log;
    CHECK_OK(vs_curve_as_log(&acescct, &as_log));
    CHECK_OK(vs_curve_check(&as_log));
    for (double x = -0.01; x < 200; x = x < 0.1 ? x + 1.7e-3 : 1.3 * x) {
        CHECK_NEAR(vs_curve_encode(&as_log, x), vs_curve_encode(&acescct, x), 1e-13, 0);
    }
    vs_curve hlg = {.kind = VS_CURVE_HLG};
    CHECK_STATUS(vs_curve_as_log(&hlg, &as_log), VS_ERR_DOMAIN);
}

static void names_go_both_ways(void **state) {
    (void)state;
    vs_curve curve;
    for (size_t i = 0; i + 1 < CURVE_COUNT; i++) {
        CHECK_OK(vs_curve_named(vs_curve_name(every_curve[i]), &curve));
        CHECK_TRUE(curve.kind == every_curve[i]->kind);
    }
    CHECK_STATUS(vs_curve_named("log", &curve), VS_ERR_INPUT);
    CHECK_STATUS(vs_curve_named("Linear", &curve), VS_ERR_INPUT);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_digits),
        cmocka_unit_test(the_inverse_undoes_the_curve),
        cmocka_unit_test(the_inverse_never_falls),
        cmocka_unit_test(below_black_follows_the_linear_part),
        cmocka_unit_test(unusable_log_curves_are_refused),
        cmocka_unit_test(acescct_is_a_log_curve_too),
        cmocka_unit_test(names_go_both_ways),
    };
    return RUN_TESTS(tests);
}
