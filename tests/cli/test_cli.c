/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program as a user meets it: commands, options, exit statuses, output streams. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "program.h"

/* ---- every command's help, and its documentation ---- */

static bool is_wide(const char *text) {
    size_t columns = 0;
    for (const char *c = text; *c && columns <= 100; c++) {
        columns = *c == '\n' ? 0 : columns + (((unsigned char)*c & 0xc0) != 0x80);
    }
    return columns > 100;
}

/* Each option of a help text is in the manual page, where a dash is written with a backslash. */
static void check_manual(const char *help, const char *command, const char *manual) {
    for (const char *line = strstr(help, "\n  --"); line; line = strstr(line + 1, "\n  --")) {
        char option[64] = "";
        size_t length = 0;
        for (const char *c = line + 3; *c && *c != ' ' && length + 3 < sizeof option; c++) {
            if (*c == '-') {
                option[length++] = '\\';
            }
            option[length++] = *c;
        }
        if (!strstr(manual, option)) {
            fail_msg("%s %s: not in docs/veilstop.1", command, option);
        }
    }
}

static void check_command(const char *command, const char *help) {
    char line[256], usage[64];
    snprintf(usage, sizeof usage, "usage: veilstop %s ", command);
    CHECK_TRUE(strncmp(help, usage, strlen(usage)) == 0);
    CHECK_TRUE(strstr(help, "Defer to local code") && !is_wide(help));
    snprintf(line, sizeof line, "\"$VS_PROGRAM\" %s --version", command);
    program_expect(line, 0, "veilstop 0.", NULL);
    char *manual = tests_file("../docs/veilstop.1", NULL);
    check_manual(help, command, manual);
    snprintf(line, sizeof line, ".B %s\n", command);
    if (!strstr(manual, line)) {
        fail_msg("%s: not in docs/veilstop.1", command);
    }
    free(manual);
}

/* Checks each command that the program's own help lists ("  NAME  SUMMARY"), with its help; returns
 * their number. */
static size_t each_command(void (*look)(const char *command, const char *help)) {
    program_run_result run = program_run_shell(NULL, "\"$VS_PROGRAM\" --help");
    CHECK_TRUE(run.status == 0 && strstr(run.out, "Defer to local code") && !is_wide(run.out));
    size_t count = 0;
    for (const char *line = strstr(run.out, "\n  "); line; line = strstr(line + 1, "\n  ")) {
        char name[32], ask[64];
        if (sscanf(line, " %31[a-z]", name) == 1) {
            snprintf(ask, sizeof ask, "\"$VS_PROGRAM\" %s --help", name);
            program_run_result help = program_run_shell(NULL, ask);
            CHECK_TRUE(help.status == 0 && !help.err[0]);
            look(name, help.out);
            program_free(&help);
            count++;
        }
    }
    program_free(&run);
    return count;
}

static void help_and_version_are_everywhere(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" --version", 0, "veilstop 0.", NULL);
    program_expect("\"$VS_PROGRAM\" -h", 0, "usage: veilstop COMMAND", NULL);
    program_expect("\"$VS_PROGRAM\" predict -h", 0, "usage: veilstop predict", NULL);
    CHECK_TRUE(each_command(check_command) >= 9);
}

/* ---- every key of an answer, and its documentation ---- */

#define DEPTH_MAX 16 /* of an answer */
#define KEY_SIZE  64 /* [bytes] */

/* Whether the keys of an object under this key are names of the scene. */
static bool holds_names(const char *key) {
    static const char *const ends[] = {"_by_light", "_by_room"};
    size_t length = strlen(key);
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        size_t end = strlen(ends[i]);
        if (length > end && strcmp(key + length - end, ends[i]) == 0) {
            return true;
        }
    }
    return strcmp(key, "extinction_per_m") == 0; /* of a sample of dwell's curve */
}

/* A key is documented as "key" or `key`. */
static bool is_told(const char *answers, const char *key) {
    char form[KEY_SIZE + 2], words[KEY_SIZE + 2];
    snprintf(form, sizeof form, "\"%s\"", key);
    snprintf(words, sizeof words, "`%s`", key);
    return strstr(answers, form) || strstr(answers, words);
}

static const char *end_of_string(const char *quote) {
    const char *c = quote + 1;
    while (*c && *c != '"') {
        c += *c == '\\' && c[1] ? 2 : 1;
    }
    return c;
}

/* Looks up each key of the JSON text in a document; returns their number. */
static size_t check_keys(const char *json, const char *told) {
    char in[DEPTH_MAX][KEY_SIZE] = {""}, key[KEY_SIZE] = "";
    size_t depth = 0, count = 0;
    for (const char *c = json; *c && *c != '\n'; c++) {
        if (*c == '{' || *c == '[') {
            CHECK_TRUE(depth + 1 < DEPTH_MAX);
            snprintf(in[++depth], KEY_SIZE, "%s", key);
        } else if (*c == '}' || *c == ']') {
            CHECK_TRUE(depth > 0);
            snprintf(key, sizeof key, "%s", in[depth--]);
        } else if (*c == '"') {
            const char *end = end_of_string(c);
            CHECK_TRUE(*end == '"');
            if (end[1] == ':') {
                snprintf(key, sizeof key, "%.*s", (int)(end - c - 1), c + 1);
                count++;
                if (!holds_names(in[depth]) && !is_told(told, key)) {
                    fail_msg("the key \"%s\" is not told in docs/output.md, \"Answers\"", key);
                }
            }
            c = end;
        }
    }
    return count;
}

/* Questions that together print every key of every command that answers in JSON. */
static const char *const asked[] = {
    "predict \"$VS_TESTS/cli/scenes/hall.json\" --json",
    "predict \"$VS_TESTS/cli/scenes/shed-feet.json\" --json",
    "choose \"$VS_TESTS/cli/choose/day.json\" --json --turn key",
    "choose \"$VS_TESTS/cli/choose/conflict.json\" --json",
    "choose \"$VS_TESTS/cli/choose/set_aside.json\" --json",
    "choose \"$VS_TESTS/cli/choose/no_hazer.json\" --json --spread --samples 16",
    "dwell \"$VS_TESTS/cli/dwell/day.json\" --json",
    "dwell \"$VS_TESTS/cli/dwell/out_of_reach.json\" --json",
    "dwell \"$VS_TESTS/cli/dwell/no_hazer.json\" --json",
    "fluid glycol --json",
    "fluid \"$VS_TESTS/cli/fluid/measured.json\" --json",
    "grade \"$VS_TESTS/cli/grade/hall.json\" --shot \"1 log\" --json --best --clf back.clf",
    "grade \"$VS_TESTS/cli/grade/hall.json\" --json",
    "pair clear.png hazed.png --curve bt709 --matte matte.png --json",
    "picture \"$VS_TESTS/../data/demo/washroom.json\" --size 32x18 --out asked.png --json",
    "sheet \"$VS_TESTS/../data/demo/washroom.json\" --json",
    "picture \"$VS_TESTS/../data/demo/cellar.json\" --shot \"1 wide\" --extinction 0 --size "
    "320x180 --out "
    "scout.png --json",
    "still scout.png \"$VS_TESTS/../data/demo/cellar.json\" --shot \"1 wide\" --hazed scout.png "
    "--out "
    "haze.png --json --match \"277.08,153.40=corner:floor-south-east; "
    "135.46,50.74=opening:cellar door:top-north; 203.34,156.10=6,1.8288,0.5; "
    "48.16,142.36=7.2,4.2,0.5\"",
    "reading \"$VS_TESTS/cli/reading/plan.json\" --json",
    "reading \"$VS_TESTS/cli/reading/lamp.json\" --json",
    "cautions \"$VS_TESTS/cli/cautions/day.json\" --json",
    "cautions \"$VS_TESTS/cli/cautions/no_hazer.json\" --json",
    "trust \"$VS_TESTS/cli/scenes/dark.json\" --shot 1 --paths 500 --json",
};
#define ASKED_COUNT (sizeof asked / sizeof asked[0])

static void check_is_asked(const char *command, const char *help) {
    size_t i = 0, length = strlen(command);
    while (i < ASKED_COUNT && (strncmp(asked[i], command, length) || asked[i][length] != ' ')) {
        i++;
    }
    if (i == ASKED_COUNT && strstr(help, "\n  --json")) {
        fail_msg("%s answers in JSON: no key of it is looked at here", command);
    }
}

/* Each "key" of the document's forms is in some answer. */
static void check_forms(const char *answers, char *const *printed) {
    for (const char *c = strchr(answers, '"'); c; c = strchr(c, '"')) {
        char key[KEY_SIZE + 3];
        const char *end = end_of_string(c);
        snprintf(key, sizeof key, "%.*s\":", (int)(end - c), c);
        size_t i = 0;
        while (i < ASKED_COUNT && !strstr(printed[i], key)) {
            i++;
        }
        if (i == ASKED_COUNT) {
            fail_msg("docs/output.md, \"Answers\" tells of %s that no command printed", key);
        }
        c = end + 1;
    }
}

static void the_document_tells_the_keys_that_are_printed(void **state) {
    (void)state;
    char *text = tests_file("../docs/output.md", NULL), *printed[ASKED_COUNT];
    const char *answers = strstr(text, "\n## Answers");
    CHECK_TRUE(answers != NULL);
    each_command(check_is_asked);
    frame_write("clear.png", FRAME_WIDTH, 1, 0);
    frame_write("hazed.png", FRAME_WIDTH, 0.7, 0.03);
    for (size_t i = 0; i < ASKED_COUNT; i++) {
        char line[512];
        snprintf(line, sizeof line, "\"$VS_PROGRAM\" %s", asked[i]);
        program_run_result run = program_run_shell(".", line);
        if (run.status > 1 || check_keys(run.out, answers) <= 10) {
            fail_msg("%s: gives no answer\n%s", asked[i], run.err);
        }
        printed[i] = run.out;
        free(run.err);
    }
    check_forms(answers, printed);
    for (size_t i = 0; i < ASKED_COUNT; i++) {
        free(printed[i]);
    }
    free(text);
}

/* ---- options, files, what is printed ---- */

static void wrong_words_are_usage(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\"", 2, NULL, "needs a command");
    program_expect("\"$VS_PROGRAM\" perdict", 2, NULL, "unknown command perdict");
    program_expect("\"$VS_PROGRAM\" predict", 2, NULL, "needs SCENE.json");
    program_expect("\"$VS_PROGRAM\" predict a b", 2, NULL, "one word too many: b");
    program_expect("\"$VS_PROGRAM\" predict a --nonsense", 2, NULL, "unknown option --nonsense");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot", 2, NULL,
                   "needs a value");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --json --json", 2, NULL,
                   "given once");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --json=1", 2, NULL,
                   "takes no value");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot nowhere", 2, NULL,
                   "has no shot named nowhere");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --extinction -1", 2, NULL,
                   "must be numbers from 0 to 100, parted by commas (got -1)");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --extinction 1x", 2, NULL,
                   "got 1x");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --units yd", 2, NULL,
                   "must be m or ft");
}

/* An option without effect is a mistake of the user's. */
static void options_without_effect_are_usage(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" choose data/demo/cellar.json --samples 20", 2, NULL,
                   "--samples: must stand beside --spread");
    program_expect("\"$VS_PROGRAM\" fluid data/fluids/oil.json --data data", 2, NULL,
                   "--data: is for the name of a fluid");
    program_expect("\"$VS_PROGRAM\" reading --distance 8m --clear 80,2 --hazed 60,9 --data data", 2,
                   NULL, "need a scene");
    program_expect("\"$VS_PROGRAM\" reading tests/cli/reading/plan.json --distance 8m", 2, NULL,
                   "is for a reading without a scene");
    program_expect("\"$VS_PROGRAM\" grade data/demo/cellar.json --best --recover 0.5", 2, NULL,
                   "leave one out");
    program_expect("\"$VS_PROGRAM\" grade data/demo/cellar.json --at 'bay window'", 2, NULL,
                   "needs one shot");
    program_expect("\"$VS_PROGRAM\" pair a b --physical", 2, NULL, "must stand beside --clf");
}

static void a_file_that_is_not_there_is_status_4(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" predict data/demo/no-such.json", 4, NULL,
                   "data/demo/no-such.json");
    program_expect("\"$VS_PROGRAM\" predict data", 4, NULL, "data");
}

/* A full disk under standard output must not look like success. */
static void output_that_cannot_be_written_is_status_4(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" --help > /dev/full", 4, NULL, "standard output");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --json > /dev/full", 4, NULL,
                   "standard output");
}

static void no_line_is_wider_than_100_columns(void **state) {
    (void)state;
    static const char *const command[] = {
        "\"$VS_PROGRAM\" predict data/demo/cellar.json",
        "\"$VS_PROGRAM\" predict data/demo/cellar.json --units ft",
    };
    for (size_t i = 0; i < sizeof command / sizeof command[0]; i++) {
        program_run_result run = program_run_shell(NULL, command[i]);
        CHECK_TRUE(run.status <= 1);
        if (is_wide(run.out)) {
            fail_msg("%s: a line of more than 100 columns", command[i]);
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
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --units ft", 1, " fL", NULL);
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --units m", 1, " nits", NULL);
}

static void every_text_answer_ends_with_its_cautions(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json | tail -n 3", 0,
                   "Defer to local code", NULL);
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json | tail -n 8", 0,
                   "expect an alarm", NULL);
}

static void goldens(void **state) {
    (void)state;
    program_check_goldens("predict", 4, 2e-3, 2e-6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(help_and_version_are_everywhere),
        cmocka_unit_test(the_document_tells_the_keys_that_are_printed),
        cmocka_unit_test(wrong_words_are_usage),
        cmocka_unit_test(options_without_effect_are_usage),
        cmocka_unit_test(a_file_that_is_not_there_is_status_4),
        cmocka_unit_test(output_that_cannot_be_written_is_status_4),
        cmocka_unit_test(no_line_is_wider_than_100_columns),
        cmocka_unit_test(units_change_the_table_and_not_the_json),
        cmocka_unit_test(every_text_answer_ends_with_its_cautions),
        cmocka_unit_test(goldens),
    };
    return RUN_TESTS(tests);
}
