/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far signs can be seen, against the worked figure of CIBSE Guide E and Jin's two constants. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/safety/exits.h"

/* CIBSE Guide E eq. 10.7: S = K/(2.303 D), D the optical density per metre to base 10: D = 0.5 and
 * K = 8 give 6.95 m (6.9475 with 2.303 for ln 10). */
static void the_figure_of_cibse(void **state) {
    (void)state;
    double exact = vs_exit_lit_m(0.5 * log(10)), rounded = vs_exit_lit_m(0.5 * 2.303);
    CHECK_PRINTED(exact, 6.95, 0.01);
    CHECK_PRINTED(rounded, 6.9475, 1e-4);
    printf("measured: a lit sign at an optical density of 0.5 /m: %.4f m, %.4f m with 2.303 for ln "
           "10 (CIBSE 6.95, 6.9475)\n",
           exact, rounded);
}

/* Jin, as in the SFPE Handbook: extinction x range is 8 for a lit sign, 3 for a reflecting one. */
static void jin(void **state) {
    (void)state;
    CHECK_NEAR(vs_exit_lit_m(1), 8, 0, 0);
    CHECK_NEAR(vs_exit_reflecting_m(1), 3, 0, 0);
    CHECK_NEAR(vs_exit_lit_m(0.0371) * 0.0371, 8, 1e-15, 0);
    CHECK_NEAR(vs_exit_reflecting_m(0.0371) * 0.0371, 3, 1e-15, 0);
    CHECK_TRUE(isinf(vs_exit_lit_m(0)) && isinf(vs_exit_reflecting_m(0)));
    CHECK_NAN(vs_exit_lit_m(NAN));
    printf("measured: at 0.05 /m a lit sign shows to %.1f m, a reflecting one to %.1f m (Jin)\n",
           vs_exit_lit_m(0.05), vs_exit_reflecting_m(0.05));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_figure_of_cibse),
        cmocka_unit_test(jin),
    };
    return RUN_TESTS(tests);
}
