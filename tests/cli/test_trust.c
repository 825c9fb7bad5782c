/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop trust as a user runs it: repeatable by seed, with correct standard errors, strict with
 * its options. */
#include "check.h"
#include "program.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const scene = "tests/cli/scenes/dark.json";

static program_run_result run_json(const char *seed, const char *walks) {
    return program_run(NULL, (const char *const[]){"trust", scene, "--shot", "1", "--json",
                                                   "--paths", walks, "--seed", seed, NULL});
}

static void the_same_seed_gives_the_same_figures(void **state) {
    (void)state;
    program_run_result first = run_json("3", "6000"), second = run_json("3", "6000"),
                       other = run_json("4", "6000");
    CHECK_TRUE(first.status == 0 && first.err[0] == '\0');
    CHECK_TRUE(strcmp(first.out, second.out) == 0);
    CHECK_TRUE(strcmp(first.out, other.out) != 0);
    program_free(&first);
    program_free(&second);
    program_free(&other);
}

/* Black walls and thin haze: the once-scattered veil and the walks must agree except for second
 * scattering, under 1 % at an optical depth of 0.004. */
static void walks_agree_with_thin_haze_in_the_dark(void **state) {
    (void)state;
    program_run_result run = run_json("1", "40000");
    CHECK_TRUE(run.status == 0);
    const char *figure[] = {
        "\"veil_nits\":", "\"hazed_nits\":", "\"clear_nits\":", "\"beam_nits\":"};
    const char *error[] = {"\"veil_se\":", "\"hazed_se\":", "\"clear_se\":", "\"beam_se\":"};
    const char *predicted[] = {"\"predicted_veil_nits\":", "\"predicted_hazed_nits\":",
                               "\"predicted_clear_nits\":", "\"predicted_beam_nits\":"};
    for (int i = 0; i < 4; i++) {
        double got = program_number_after(run.out, figure[i]),
               se = program_number_after(run.out, error[i]);
        CHECK_TRUE(se > 0 && se < 0.05 * got);
        CHECK_NEAR(got, program_number_after(run.out, predicted[i]), 0.01, 4 * se);
    }
    program_free(&run);
}

/* Walks in haze of large optical depth would not end: 12 x 9 x 4 m or so at 100 /m. Just below the
 * limit they do. */
static void haze_too_thick_to_walk_is_refused(void **state) {
    (void)state;
    program_run_result run = program_run_shell(
        NULL, "timeout 60 \"$VS_PROGRAM\" trust tests/cli/scenes/dark.json --shot "
              "1 --paths 100 --extinction 100");
    CHECK_TRUE(run.status == 3 && run.out[0] == '\0' &&
               strstr(run.err, "must have an optical depth of at most 300 from corner to corner"));
    double depth = program_number_after(run.err, "(got ");
    program_free(&run);
    char command[256];
    snprintf(command, sizeof command,
             "timeout 60 \"$VS_PROGRAM\" trust tests/cli/scenes/dark.json --shot 1 --paths 100 "
             "--extinction %.6g",
             100 * 299 / depth);
    run = program_run_shell(NULL, command);
    CHECK_TRUE(run.status == 0);
    program_free(&run);
}

static void it_wants_one_shot(void **state) {
    (void)state;
    program_run_result run = program_run(NULL, (const char *const[]){"trust", scene, NULL});
    /* the scene has two shots */
    CHECK_TRUE(run.status == 2 && strstr(run.err, "--shot") && run.out[0] == '\0');
    program_free(&run);
    run = program_run(NULL,
                      (const char *const[]){"trust", scene, "--shot", "1", "--paths", "7", NULL});
    CHECK_TRUE(run.status == 2 && strstr(run.err, "--paths"));
    program_free(&run);
    /* an open density is chosen, and said to be */
    run = program_run(
        NULL, (const char *const[]){"trust", scene, "--shot", "open", "--paths", "500", NULL});
    CHECK_TRUE(run.status == 0 && strstr(run.out, "open is open in your file"));
    program_free(&run);
}

/* The table fits a terminal and names every point. */
static void the_table_is_for_people(void **state) {
    (void)state;
    program_run_result run = program_run(
        NULL, (const char *const[]){"trust", scene, "--shot", "1", "--paths", "500", NULL});
    CHECK_TRUE(run.status == 0 && strstr(run.out, "back") && strstr(run.out, "by walks"));
    program_check_lines(run.out);
    program_free(&run);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_seed_gives_the_same_figures),
        cmocka_unit_test(walks_agree_with_thin_haze_in_the_dark),
        cmocka_unit_test(haze_too_thick_to_walk_is_refused),
        cmocka_unit_test(it_wants_one_shot),
        cmocka_unit_test(the_table_is_for_people),
    };
    return RUN_TESTS(tests);
}
