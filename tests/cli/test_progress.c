/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a command shows while it works: on a terminal only, after a second, and gone at the end. As
 * promised in src/cli/progress.h; no outside source. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "terminal.h"

#define SLOW "\"$VS_PROGRAM\" trust data/demo/cellar.json --shot '1 wide' --paths 200000"
#define GONE "\r\033[K"

static void what_takes_long_is_told_and_taken_away(void **state) {
    (void)state;
    int status;
    char *told = terminal_run(SLOW, 2, &status);
    size_t length = strlen(told);
    CHECK_TRUE(status == 0);
    CHECK_TRUE(strstr(told, "walking [#") && strstr(told, "] ") && strstr(told, " of "));
    CHECK_TRUE(!strchr(told, '\n'));
    CHECK_TRUE(length > strlen(GONE) && strcmp(told + length - strlen(GONE), GONE) == 0);
    free(told);
}

static void a_fault_after_it_stands_on_a_line_of_its_own(void **state) {
    (void)state;
    int status;
    char *told = terminal_run(SLOW " > /dev/full", 2, &status);
    CHECK_TRUE(status == 4 && strstr(told, GONE "veilstop: standard output: "));
    free(told);
}

static void what_is_quick_says_nothing(void **state) {
    (void)state;
    int status;
    char *told = terminal_run("\"$VS_PROGRAM\" help", 2, &status);
    CHECK_TRUE(status == 0 && told[0] == '\0');
    free(told);
    told = terminal_run("\"$VS_PROGRAM\" fluid glycol", 2, &status);
    CHECK_TRUE(status == 0 && told[0] == '\0');
    free(told);
}

static void off_a_terminal_nothing_is_said(void **state) {
    (void)state;
    program_run_result run = program_run_shell(NULL, SLOW);
    CHECK_TRUE(run.status == 0 && run.err[0] == '\0');
    program_free(&run);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_takes_long_is_told_and_taken_away),
        cmocka_unit_test(a_fault_after_it_stands_on_a_line_of_its_own),
        cmocka_unit_test(what_is_quick_says_nothing),
        cmocka_unit_test(off_a_terminal_nothing_is_said),
    };
    return RUN_TESTS(tests);
}
