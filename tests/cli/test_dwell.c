/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop dwell as a crew runs it: goldens of the sheet and the JSON, bad input, width, speed. */
#include "check.h"
#include "program.h"

#include <stdio.h>
#include <string.h>

/* Figures to the digits printed; a rounding edge may fall either way. */
#define GOLDEN_RELATIVE 1e-6
#define GOLDEN_ABSOLUTE 1e-9

static void goldens_agree(void **state) {
    (void)state;
    program_check_goldens("dwell", 11, GOLDEN_RELATIVE, GOLDEN_ABSOLUTE);
}

static void no_line_is_too_wide(void **state) {
    (void)state;
    const char *const scenes[] = {"day", "out_of_reach"};
    for (size_t i = 0; i < 2; i++) {
        char path[64];
        snprintf(path, sizeof path, "tests/cli/dwell/%s.json", scenes[i]);
        program_run_result run = program_run(NULL, (const char *const[]){"dwell", path, NULL});
        CHECK_TRUE(run.status == (int)i);
        program_check_lines(run.out);
        program_free(&run);
    }
}

/* The demo's four shots, as a whole process; reported, not asserted: a busy machine is not a
 * fault. */
static void the_demo_day_is_quick(void **state) {
    (void)state;
    double best_s = 1e9;
    for (int i = 0; i < 5; i++) {
        double before_s = clock_now_s();
        program_run_result run =
            program_run(NULL, (const char *const[]){"dwell", "data/demo/cellar.json", NULL});
        double took_s = clock_now_s() - before_s;
        best_s = took_s < best_s ? took_s : best_s;
        CHECK_TRUE(run.status == 0 || run.status == 1);
        CHECK_TRUE(strstr(run.out, "run sheet") != NULL);
        program_free(&run);
    }
    printf("measured: the cellar's day of four shots, a whole process, best of 5: %.0f ms\n",
           1e3 * best_s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(goldens_agree),
        cmocka_unit_test(no_line_is_too_wide),
        cmocka_unit_test(the_demo_day_is_quick),
    };
    return RUN_TESTS(tests);
}
