/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop grade as a user runs it: goldens, the equations of docs/physics.md on its own JSON, its
 * files.
 */
#include "check.h"
#include "program.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A fit ends when it gains no more: the ten numbers are good to four digits on any machine. */
#define GOLDEN_RELATIVE 1e-4
#define GOLDEN_ABSOLUTE 1e-5

static void goldens_agree(void **state) {
    (void)state;
    program_check_goldens("grade", 10, GOLDEN_RELATIVE, GOLDEN_ABSOLUTE);
}

/* docs/physics.md, "the grade that takes haze out": slope = T^-F, offset = V (1 - T^(1-F))/(1 - T)
 * - V T^-F. */
static void equations_hold(const char *recover, double f) {
    program_run_result run = program_run(
        NULL, (const char *const[]){"grade", "tests/cli/grade/hall.json", "--shot", "1 log", "--at",
                                    "back wall", "--recover", recover, "--json", NULL});
    CHECK_TRUE(run.status == 0 && run.err[0] == '\0');
    double t[3], v[3], slope[3], offset[3];
    program_three_after(run.out, "\"transmission\":[", t);
    program_three_after(run.out, "\"veil_linear\":[", v);
    program_three_after(run.out, "\"linear\":{\"slope\":[", slope);
    program_three_after(run.out, "\"offset\":[", offset);
    for (int b = 0; b < 3; b++) {
        CHECK_NEAR(slope[b], pow(t[b], -f), 1e-7, 0);
        CHECK_NEAR(offset[b], v[b] * (1 - pow(t[b], 1 - f)) / (1 - t[b]) - v[b] * pow(t[b], -f),
                   1e-6, 1e-9);
    }
    program_free(&run);
}

static void the_equations_of_the_grade(void **state) {
    (void)state;
    equations_hold("1", 1);
    equations_hold("0.35", 0.35);
    equations_hold("0", 0);
}

static void files_appear_whole_or_not_at_all(void **state) {
    (void)state;
    char scene[TESTS_PATH_SIZE];
    tests_path(scene, "cli/grade/hall.json");
    program_run_result run =
        program_run(".", (const char *const[]){"grade", scene, "--shot", "1 log", "--cdl", "a.cdl",
                                               "--clf", "a.clf", NULL});
    CHECK_TRUE(run.status == 0 && strstr(run.out, "wrote a.clf, the exact grade") != NULL);
    program_free(&run);
    char *cdl = file_read("a.cdl", NULL), *clf = file_read("a.clf", NULL);
    CHECK_TRUE(cdl && strstr(cdl, "</ColorCorrection>"));
    CHECK_TRUE(clf && strstr(clf, "</ProcessList>") && strstr(clf, "cameraLogToLin"));
    free(cdl);
    free(clf);
    run = program_run(".", (const char *const[]){"grade", scene, "--shot", "2 video", "--clf",
                                                 "none/b.clf", NULL});
    CHECK_TRUE(run.status == 4 && run.out[0] == '\0');
    CHECK_TRUE(strstr(run.err, "none/b.clf: must be a file that can be written (got: No such file "
                               "or directory)\n") != NULL);
    program_free(&run);
}

static void no_file_takes_the_place_of_another_of_the_command(void **state) {
    (void)state;
    static const char *const slip[][2] = {
        {"cp \"$VS_TESTS/cli/grade/hall.json\" s.json; \"$VS_PROGRAM\" grade s.json --cdl ./s.json",
         "veilstop: --cdl: must be another file than s.json, which is read\n"},
        {"\"$VS_PROGRAM\" grade \"$VS_TESTS/cli/grade/hall.json\" --cdl x --clf x",
         "veilstop: --clf: must be another file than --cdl writes\n"},
    };
    for (size_t i = 0; i < sizeof slip / sizeof slip[0]; i++) {
        program_run_result run = program_run_shell(".", slip[i][0]);
        CHECK_TRUE(run.status == 2 && run.out[0] == '\0');
        assert_string_equal(run.err, slip[i][1]);
        program_free(&run);
    }
    char *scene = file_read("s.json", NULL);
    CHECK_TRUE(scene && scene[0] == '{');
    free(scene);
}

/* Light over ten metres at 100 /m: exp(-1000), too small for any number here. */
static void what_nothing_comes_from_is_not_graded(void **state) {
    (void)state;
    static const char made[] =
        "sed -e 's/\"extinction_per_m\": *[0-9.]*/\"extinction_per_m\": 100/' "
        "tests/cli/grade/hall.json >\"$OLDPWD\"/thick.json; cd \"$OLDPWD\"; ";
    char command[512];
    snprintf(
        command, sizeof command,
        "cd \"$VS_TESTS\"/..; %s\"$VS_PROGRAM\" grade thick.json --shot '1 log' --at 'back wall'",
        made);
    program_run_result run = program_run_shell(".", command);
    CHECK_TRUE(run.status == 3 && run.out[0] == '\0');
    CHECK_TRUE(strstr(run.err, "must get at least 1e-30 of its light through the haze") &&
               strstr(run.err, "(got 0 of back wall)"));
    program_free(&run);
    run = program_run_shell(".", "\"$VS_PROGRAM\" grade thick.json && \"$VS_PROGRAM\" grade "
                                 "thick.json --best && rm thick.json");
    CHECK_TRUE(run.status == 0 && strstr(run.out, "back wall: nothing of it comes through"));
    program_free(&run);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(goldens_agree),
        cmocka_unit_test(what_nothing_comes_from_is_not_graded),
        cmocka_unit_test(the_equations_of_the_grade),
        cmocka_unit_test(files_appear_whole_or_not_at_all),
        cmocka_unit_test(no_file_takes_the_place_of_another_of_the_command),
    };
    return RUN_TESTS(tests);
}
