/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sets where margins are at or over zero: humps and dips between the places of a scan, infinite and
 * missing margins, the best place; and sets met with each other. */
#include "check.h"

#include <math.h>

#include "shot/choose/margins.h"

#define PLACES 33

/* 0: a hump of half width 0.01 at 0.613; 1: a kinked dip at 0.3; 2: 1/x - 4, infinite at 0;
 * 3: unknown beyond 0.8; 4: under zero throughout; 5: over zero at 0.2 to 0.4 and from 0.7 on. */
static vs_status margins(void *context, double x, const bool *asked, double *margin) {
    int *calls = context;
    const double all[] = {1e-4 - (x - 0.613) * (x - 0.613),
                          fabs(x - 0.3) - 0.004,
                          x > 0 ? 1 / x - 4 : (double)INFINITY,
                          x > 0.8 ? (double)NAN : 1,
                          -1 - x,
                          -(x - 0.2) * (x - 0.4) * (0.7 - x)};
    for (int i = 0; i < 6; i++) {
        if (!asked || asked[i]) {
            margin[i] = all[i];
        }
    }
    ++*calls;
    return x == 2 ? VS_ERR_CONVERGENCE : VS_OK;
}

static void scan_all(vs_margin_scan *scan, vs_margins *m, int *calls) {
    double x[PLACES];
    for (int i = 0; i < PLACES; i++) {
        x[i] = (double)i / (PLACES - 1);
    }
    *m = (vs_margins){6, margins, calls};
    CHECK_OK(vs_margin_scan_init(scan, m, x, PLACES));
}

static void check_set(const vs_intervals *set, const double *ends, size_t count) {
    CHECK_TRUE(set->count == count);
    for (size_t i = 0; i < count; i++) {
        CHECK_NEAR(set->item[i].low, ends[2 * i], 1e-9, 1e-12);
        CHECK_NEAR(set->item[i].high, ends[2 * i + 1], 1e-9, 1e-12);
    }
}

static void crossings_between_the_places_are_found(void **state) {
    (void)state;
    static const double want[6][6] = {
        {0.603, 0.623}, {0, 0.296, 0.304, 1}, {0, 0.25}, {0, 0.8}, {0}, {0.2, 0.4, 0.7, 1}};
    static const size_t count[6] = {1, 2, 1, 1, 0, 2};
    int calls = 0;
    vs_margins m;
    vs_margin_scan scan;
    vs_intervals set = {0};
    scan_all(&scan, &m, &calls);
    for (size_t i = 0; i < 6; i++) {
        CHECK_OK(vs_margin_feasible(&m, &scan, i, &set));
        check_set(&set, want[i], count[i]);
    }
    vs_intervals_free(&set);
    vs_margin_scan_free(&scan);
}

static void the_best_place_has_the_largest_smallest_margin(void **state) {
    (void)state;
    int calls = 0;
    double x;
    vs_margins m;
    vs_margin_scan scan;
    vs_intervals within = {0};
    scan_all(&scan, &m, &calls);
    bool hump[6] = {true}, crossing[6] = {false, true, true};
    CHECK_OK(vs_margin_best(&m, &scan, hump, NULL, &x));
    CHECK_NEAR(x, 0.613, 1e-5, 0);
    CHECK_OK(vs_margin_best(&m, &scan, crossing, NULL, &x));
    CHECK_TRUE(x < 0.3);
    CHECK_NEAR(x, 0, 0, 1e-9); /* where the margins are 0.296 and infinite */
    CHECK_OK(vs_intervals_add(&within, 0.305, 0.31));
    CHECK_OK(vs_margin_best(&m, &scan, crossing, &within, &x));
    CHECK_TRUE(x >= 0.305 && x <= 0.31);
    vs_intervals_free(&within);
    vs_margin_scan_free(&scan);
}

/* Moved to where slightly different margins cross; ends of the range and ends without a crossing
 * nearby stay. */
static void ends_are_polished(void **state) {
    (void)state;
    int calls = 0;
    vs_margins m = {6, margins, &calls};
    vs_intervals set = {0};
    CHECK_OK(vs_intervals_add(&set, 0.2003, 0.41));
    CHECK_OK(vs_intervals_add(&set, 0.6999, 1));
    CHECK_OK(vs_margin_polish(&m, &m, 5, 0, 1, &set));
    check_set(&set, (const double[]){0.2, 0.4, 0.7, 1}, 2);
    CHECK_OK(vs_margin_polish(&m, &m, 4, 0, 1, &set));
    check_set(&set, (const double[]){0.2, 0.4, 0.7, 1}, 2);
    vs_intervals_free(&set);
}

static void sets_meet(void **state) {
    (void)state;
    vs_intervals a = {0}, b = {0}, both = {0};
    CHECK_OK(vs_intervals_add(&a, 0, 1));
    CHECK_OK(vs_intervals_add(&a, 2, 5));
    CHECK_OK(vs_intervals_add(&b, 0.5, 2.5));
    CHECK_OK(vs_intervals_add(&b, 3, 4));
    CHECK_OK(vs_intervals_add(&b, 5, 9));
    CHECK_OK(vs_intervals_meet(&a, &b, &both));
    check_set(&both, (const double[]){0.5, 1, 2, 2.5, 3, 4, 5, 5}, 4);
    CHECK_TRUE(vs_intervals_hold(&both, 5) && vs_intervals_hold(&both, 0.7));
    CHECK_TRUE(!vs_intervals_hold(&both, 2.7) && !vs_intervals_hold(&both, (double)NAN));
    vs_intervals_free(&a);
    vs_intervals_free(&b);
    vs_intervals_free(&both);
}

static void what_the_margins_report_is_passed_on(void **state) {
    (void)state;
    int calls = 0;
    vs_margins m = {6, margins, &calls};
    vs_margin_scan scan;
    const double x[] = {0, 2};
    CHECK_STATUS(vs_margin_scan_init(&scan, &m, x, 2), VS_ERR_CONVERGENCE);
    CHECK_TRUE(!scan.x && !scan.margin);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crossings_between_the_places_are_found),
        cmocka_unit_test(the_best_place_has_the_largest_smallest_margin),
        cmocka_unit_test(ends_are_polished),
        cmocka_unit_test(sets_meet),
        cmocka_unit_test(what_the_margins_report_is_passed_on),
    };
    return RUN_TESTS(tests);
}
