/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The example in the README is what the program prints. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

/* The block that starts at "$ veilstop ...", up to its closing fence; *block moves past it. */
static bool check_block(char **block) {
    char *command = *block + strlen("```console\n$ veilstop ");
    char *line_end = strchr(command, '\n');
    char *fence = strstr(line_end, "```");
    if (!line_end || !fence) {
        fail_msg("README.md: a console block without an end");
    }
    char shell[512];
    snprintf(shell, sizeof shell, "\"$VS_PROGRAM\" %.*s", (int)(line_end - command), command);
    *fence = '\0';
    *block = fence + 1;
    program_run_result run = program_run_shell(NULL, shell);
    size_t line = 0;
    bool agrees = program_text_agrees(run.out, line_end + 1, 1e-6, 0, &line);
    if (!agrees) {
        print_error("README.md: %s: differs at line %zu; it prints:\n%s\n", shell, line, run.out);
    }
    program_free(&run);
    return agrees;
}

static void examples_are_what_the_program_prints(void **state) {
    (void)state;
    char *text = tests_file("../README.md", NULL);
    size_t blocks = 0, wrong = 0;
    for (char *at = text; (at = strstr(at, "```console\n$ veilstop ")); blocks++) {
        wrong += !check_block(&at);
    }
    free(text);
    CHECK_TRUE(blocks >= 1);
    CHECK_TRUE(wrong == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples_are_what_the_program_prints)};
    return RUN_TESTS(tests);
}
