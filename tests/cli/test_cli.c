/* The program as a user meets it: commands, options, exit statuses, where its words go. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static void expect(const char *command, int status, const char *in_out, const char *in_err) {
    program_run_result run = program_run_shell(NULL, command);
    if (run.status != status || (in_out && !strstr(run.out, in_out)) ||
        (in_err && !strstr(run.err, in_err))) {
        print_error("%s\nstatus %d, want %d\nout: %.600s\nerr: %.600s\n", command, run.status,
                    status, run.out, run.err);
        fail();
    }
    program_free(&run);
}

static void help_and_version_are_everywhere(void **state) {
    (void)state;
    static const char *const command[] = {"predict"};
    expect("\"$VS_PROGRAM\" --help", 0, "predict", NULL);
    expect("\"$VS_PROGRAM\" --version", 0, "veilstop 0.", NULL);
    expect("\"$VS_PROGRAM\" --help", 0, "Defer to local code", NULL);
    expect("\"$VS_PROGRAM\" -h", 0, "usage: veilstop COMMAND", NULL);
    expect("\"$VS_PROGRAM\" predict -h", 0, "usage: veilstop predict", NULL);
    for (size_t i = 0; i < sizeof command / sizeof command[0]; i++) {
        char line[256];
        snprintf(line, sizeof line, "\"$VS_PROGRAM\" %s --help", command[i]);
        expect(line, 0, "usage: veilstop", NULL);
        snprintf(line, sizeof line, "\"$VS_PROGRAM\" %s --version", command[i]);
        expect(line, 0, "veilstop 0.", NULL);
    }
}

static void wrong_words_are_usage(void **state) {
    (void)state;
    expect("\"$VS_PROGRAM\"", 2, NULL, "needs a command");
    expect("\"$VS_PROGRAM\" perdict", 2, NULL, "unknown command perdict");
    expect("\"$VS_PROGRAM\" predict", 2, NULL, "needs SCENE.json");
    expect("\"$VS_PROGRAM\" predict a b", 2, NULL, "one word too many: b");
    expect("\"$VS_PROGRAM\" predict a --nonsense", 2, NULL, "unknown option --nonsense");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot", 2, NULL, "needs a value");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --json --json", 2, NULL, "given once");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --json=1", 2, NULL, "takes no value");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot nowhere", 2, NULL,
           "has no shot named nowhere");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --extinction -1", 2, NULL,
           "must be a number from 0 to 100 (got -1)");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --extinction 1x", 2, NULL, "got 1x");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --units yd", 2, NULL, "must be m or ft");
}

static void a_file_that_is_not_there_is_status_4(void **state) {
    (void)state;
    expect("\"$VS_PROGRAM\" predict data/demo/no-such.json", 4, NULL, "data/demo/no-such.json");
    expect("\"$VS_PROGRAM\" predict data", 4, NULL, "data");
}

/* A full disk under standard output must not pass for success. */
static void output_that_cannot_be_written_is_status_4(void **state) {
    (void)state;
    expect("\"$VS_PROGRAM\" --help > /dev/full", 4, NULL, "standard output");
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --json > /dev/full", 4, NULL,
           "standard output");
}

static void no_line_is_wider_than_100_columns(void **state) {
    (void)state;
    static const char *const command[] = {
        "\"$VS_PROGRAM\" predict data/demo/cellar.json",
        "\"$VS_PROGRAM\" predict data/demo/cellar.json --units ft",
        "\"$VS_PROGRAM\" --help",
        "\"$VS_PROGRAM\" predict --help",
    };
    for (size_t i = 0; i < sizeof command / sizeof command[0]; i++) {
        program_run_result run = program_run_shell(NULL, command[i]);
        CHECK_TRUE(run.status <= 1);
        size_t columns = 0;
        for (const char *c = run.out; *c; c++) {
            columns = *c == '\n' ? 0 : columns + (((unsigned char)*c & 0xc0) != 0x80);
            if (columns > 100) {
                fail_msg("%s: a line of more than 100 columns", command[i]);
            }
        }
        CHECK_TRUE(!strchr(run.out, '\033')); /* no colour off a terminal */
        program_free(&run);
    }
}

static void units_change_the_table_and_not_the_json(void **state) {
    (void)state;
    program_run_result m =
        program_run_shell(NULL, "\"$VS_PROGRAM\" predict data/demo/cellar.json --json");
    program_run_result ft =
        program_run_shell(NULL, "\"$VS_PROGRAM\" predict data/demo/cellar.json --json --units ft");
    CHECK_TRUE(strcmp(m.out, ft.out) == 0);
    program_free(&m);
    program_free(&ft);
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --units ft", 1, " fL", NULL);
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --units m", 1, " nits", NULL);
}

static void every_text_answer_ends_with_its_cautions(void **state) {
    (void)state;
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json | tail -n 3", 0, "Defer to local code",
           NULL);
    expect("\"$VS_PROGRAM\" predict data/demo/cellar.json | tail -n 8", 0, "expect an alarm", NULL);
}

static void goldens(void **state) {
    (void)state;
    program_check_goldens("predict", 4, 2e-3, 2e-6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(help_and_version_are_everywhere),
        cmocka_unit_test(wrong_words_are_usage),
        cmocka_unit_test(a_file_that_is_not_there_is_status_4),
        cmocka_unit_test(output_that_cannot_be_written_is_status_4),
        cmocka_unit_test(no_line_is_wider_than_100_columns),
        cmocka_unit_test(units_change_the_table_and_not_the_json),
        cmocka_unit_test(every_text_answer_ends_with_its_cautions),
        cmocka_unit_test(goldens),
    };
    return RUN_TESTS(tests);
}
