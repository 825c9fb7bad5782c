/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop reading as a crew runs it: goldens, bad readings, and the corrected scene. */
#include "check.h"
#include "program.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/report/style.h"

/* A fit ends when it gains no more: its figures are good to four digits on any machine. */
#define GOLDEN_RELATIVE 2e-4
#define GOLDEN_ABSOLUTE 1e-6

static void goldens_agree(void **state) {
    (void)state;
    program_check_goldens("reading", 23, GOLDEN_RELATIVE, GOLDEN_ABSOLUTE);
}

/* Number of lines of b that differ from those of a; both have equally many. */
static size_t lines_changed(const char *a, const char *b) {
    size_t changed = 0;
    while (*a || *b) {
        size_t la = strcspn(a, "\n"), lb = strcspn(b, "\n");
        changed += la != lb || memcmp(a, b, la) != 0;
        a += la + (a[la] == '\n');
        b += lb + (b[lb] == '\n');
    }
    return changed;
}

static void the_scene_comes_back_corrected(void **state) {
    (void)state;
    char path[TESTS_PATH_SIZE];
    tests_path(path, "cli/reading/plan.json");
    program_run_result run = program_run(
        ".", (const char *const[]){"reading", path, "--write", "fitted.json", "--json", NULL});
    CHECK_TRUE(run.status == 0 && run.err[0] == '\0');
    char *before = file_read(path, NULL), *after = file_read("fitted.json", NULL);
    CHECK_TRUE(before && after && lines_changed(before, after) == 2);
    CHECK_TRUE(strstr(after, "\"note\": \"Kept as its author wrote it") != NULL);
    CHECK_TRUE(strstr(after, "\"air_changes_per_h\":   0.") != NULL);
    double ml = program_number_after(after, "\"fluid_ml_per_h\": ");
    CHECK_NEAR(ml, program_number_after(run.out, "\"fluid_ml_per_h\":"), 1e-5, 0);
    CHECK_NEAR(ml / 160, program_number_after(run.out, "\"output_ratio\":"), 1e-5, 0);
    program_free(&run);
    /* the corrected scene is valid, and its readings now agree with its own plan */
    run = program_run(".", (const char *const[]){"reading", "fitted.json", "--json", NULL});
    CHECK_TRUE(run.status == 0);
    free(before);
    free(after);
    program_free(&run);
    run = program_run(".", (const char *const[]){"dwell", "fitted.json", NULL});
    CHECK_TRUE(run.status == 0);
    program_free(&run);
}

static void a_loss_is_written_where_there_was_none(void **state) {
    (void)state;
    char path[TESTS_PATH_SIZE];
    tests_path(path, "cli/reading/decay.json");
    program_run_result run =
        program_run(".", (const char *const[]){"reading", path, "--write", "loss.json", NULL});
    CHECK_TRUE(run.status == 0 && strstr(run.out, "wrote loss.json") != NULL);
    char *after = file_read("loss.json", NULL);
    /* all ways lose 1.5 /h, of which 0.3 by deposition, the default */
    CHECK_NEAR(program_number_after(after, "\"air_changes_per_h\": "), 1.2, 0.01, 0);
    free(after);
    program_free(&run);
    run = program_run(
        ".", (const char *const[]){"reading", path, "--write", "no/such/folder.json", NULL});
    CHECK_TRUE(run.status == 4 && run.out[0] == '\0');
    program_free(&run);
    tests_path(path, "cli/reading/single.json");
    run = program_run(".", (const char *const[]){"reading", path, "--write", "never.json", NULL});
    CHECK_TRUE(run.status == 3 && file_read("never.json", NULL) == NULL);
    program_free(&run);
}

static void no_line_is_too_wide(void **state) {
    (void)state;
    static const char *const scenes[] = {"cli/reading/plan.json", "cli/reading/decay.json",
                                         "cli/reading/lamp.json", "cli/reading/single.json"};
    for (size_t i = 0; i < sizeof scenes / sizeof scenes[0]; i++) {
        char path[TESTS_PATH_SIZE];
        tests_path(path, scenes[i]);
        program_run_result run = program_run(".", (const char *const[]){"reading", path, NULL});
        CHECK_TRUE(run.status == 0);
        program_check_lines(run.out);
        program_free(&run);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(goldens_agree),
        cmocka_unit_test(the_scene_comes_back_corrected),
        cmocka_unit_test(a_loss_is_written_where_there_was_none),
        cmocka_unit_test(no_line_is_too_wide),
    };
    return RUN_TESTS(tests);
}
