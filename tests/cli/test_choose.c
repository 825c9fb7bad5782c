/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop choose as a crew runs it: goldens of the screen and the JSON, bad input, width, and the
 * demo's conflict, order and speed. */
#include "check.h"
#include "program.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Tables show two decimals, the last of which may change within a light integral's tolerance. */
#define TEXT_ABSOLUTE 0.0101
#define JSON_RELATIVE 5e-3 /* [1] of light integrals at the tolerance of predictions */
#define JSON_ABSOLUTE 1e-6

static void goldens_agree(void **state) {
    (void)state;
    program_check_goldens("choose", 14, JSON_RELATIVE, TEXT_ABSOLUTE);
    program_check_goldens("choose_json", 4, JSON_RELATIVE, JSON_ABSOLUTE);
}

static void check_width(const char *const *words) {
    program_run_result run = program_run(NULL, words);
    CHECK_TRUE(run.status == 0 || run.status == 1);
    program_check_lines(run.out);
    program_free(&run);
}

static void no_line_is_too_wide(void **state) {
    (void)state;
    check_width((const char *const[]){"choose", "data/demo/cellar.json", NULL});
    check_width((const char *const[]){"choose", "tests/cli/choose/day.json", "--spread",
                                      "--samples", "16", "--turn", "key", NULL});
    check_width((const char *const[]){"choose", "tests/cli/choose/conflict.json", NULL});
}

/* The demo: four shots, one of them with a conflict that is explained, the lamp that would mend it
 * if any, minutes saved. Speed is reported, not asserted: a busy machine is not a fault. */
static void the_demo_is_chosen(void **state) {
    (void)state;
    double before_s = clock_now_s();
    program_run_result run =
        program_run(NULL, (const char *const[]){"choose", "data/demo/cellar.json", NULL});
    double took_s = clock_now_s() - before_s;
    CHECK_TRUE(run.status == 1);
    CHECK_TRUE(strstr(run.out, "no haze gives all of these") != NULL);
    CHECK_TRUE(strstr(run.out, "needs at most") != NULL);
    CHECK_TRUE(strstr(run.out, "min less than in your file's order") != NULL);
    printf("measured: choose on the cellar, four shots, a whole process: %.2f s\n", took_s);
    program_free(&run);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(goldens_agree),
        cmocka_unit_test(no_line_is_too_wide),
        cmocka_unit_test(the_demo_is_chosen),
    };
    return RUN_TESTS(tests);
}
