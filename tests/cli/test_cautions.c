/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop cautions as a crew runs it: goldens, the cellar's own plan, width; and the word that no
 * output may contain. */
#include "check.h"
#include "program.h"

#include <ctype.h>
#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/report/style.h"
#include "veilstop/scene/json.h"

/* Figures to the digits printed; a rounding edge may go either way. */
#define GOLDEN_RELATIVE 1e-6
#define GOLDEN_ABSOLUTE 1e-9

static void goldens_agree(void **state) {
    (void)state;
    program_check_goldens("cautions", 10, GOLDEN_RELATIVE, GOLDEN_ABSOLUTE);
}

/* ---- the demo ---- */

static vs_json_value find_named(const vs_json_value *list, const char *name) {
    for (size_t i = 0; i < vs_json_count(list); i++) {
        vs_json_value value = vs_json_at(list, i), member = vs_json_get(&value, "name");
        if (vs_json_is_word(&member, name)) {
            return value;
        }
    }
    fail_msg("nothing named %s", name);
    return *list;
}

static double number_of(const vs_json_value *object, const char *key) {
    static const vs_json_range any = {-1e9, 1e9, false, false};
    return vs_json_need_number(object, key, any);
}

/* The plan sets off the ceiling head, and the output says when: the curve of `dwell` passes its 0.1
 * dB/m then. */
static void the_cellar_trips_its_ceiling_head(void **state) {
    (void)state;
    program_run_result run = program_run(
        NULL, (const char *const[]){"cautions", "data/demo/cellar.json", "--json", NULL});
    vs_json_document document;
    vs_faults faults = {0};
    CHECK_OK(vs_json_document_init(&document, run.out, run.out_length, &faults));
    vs_json_value root = vs_json_root(&document, &faults);
    vs_json_value list = vs_json_get(&root, "detectors");
    vs_json_value head = find_named(&list, "ceiling head");
    double reached_min = number_of(&head, "reached_min");
    CHECK_NEAR(number_of(&head, "alarm_db_per_m"), 0.1, 1e-9, 0);
    CHECK_TRUE(number_of(&head, "peak_db_per_m") > 0.1);
    CHECK_TRUE(reached_min > 0 && reached_min < 240);
    CHECK_TRUE(run.status == 1);
    program_run_result text =
        program_run(NULL, (const char *const[]){"cautions", "data/demo/cellar.json", NULL});
    char words[64];
    snprintf(words, sizeof words, "min %.0f (", 5 * floor(reached_min / 5));
    const char *line = strstr(text.out, "  ceiling head ");
    CHECK_TRUE(line != NULL && strstr(line, words) != NULL);
    CHECK_TRUE(strstr(text.out, "The first, ceiling head, is reached from about") != NULL);
    CHECK_TRUE(strstr(text.out, "expect an alarm") != NULL);
    printf(
        "measured: the cellar's ceiling head (0.1 dB/m) is reached at minute %.1f; its room peaks "
        "at %.3f dB/m (%.0f nm)\n",
        reached_min, number_of(&head, "peak_db_per_m"), number_of(&head, "wavelength_nm"));
    vs_json_document_free(&document);
    program_free(&run);
    program_free(&text);
}

static void no_line_is_too_wide(void **state) {
    (void)state;
    static const char *const scenes[] = {"data/demo/cellar.json", "tests/cli/cautions/day.json",
                                         "tests/cli/cautions/no_hazer.json"};
    for (size_t i = 0; i < 6; i++) {
        program_run_result run =
            program_run(NULL, (const char *const[]){"cautions", scenes[i / 2], "--units",
                                                    i % 2 ? "ft" : "m", NULL});
        char *save = NULL;
        for (char *line = strtok_r(run.out, "\n", &save); line;
             line = strtok_r(NULL, "\n", &save)) {
            if (vs_text_columns(line) > VS_REPORT_COLUMNS) {
                fail_msg("%s: %zu columns: %s", scenes[i / 2], vs_text_columns(line), line);
            }
        }
        program_free(&run);
    }
}

/* ---- the word ---- */

/* The word as a verdict: "safe", "Unsafe", "safely" ... but not "safety", and not part of a name in
 * code. NULL if there is none. */
static const char *find_verdict(const char *bytes, size_t length) {
    for (size_t i = 0; i + 4 <= length; i++) {
        if (tolower((unsigned char)bytes[i]) != 's' ||
            !(tolower((unsigned char)bytes[i + 1]) == 'a' &&
              tolower((unsigned char)bytes[i + 2]) == 'f' &&
              tolower((unsigned char)bytes[i + 3]) == 'e')) {
            continue;
        }
        const char *end = bytes + i + 4, *last = bytes + length;
        bool is_safety = last - end >= 2 && end[0] == 't' && end[1] == 'y';
        if (!is_safety) {
            return bytes + i;
        }
    }
    return NULL;
}

static void the_finder_finds(void **state) {
    (void)state;
    static const char *const verdicts[] = {"it is safe.", "Safe", "unsafe", "SAFELY",
                                           "a safer one"};
    for (size_t i = 0; i < sizeof verdicts / sizeof verdicts[0]; i++) {
        CHECK_TRUE(find_verdict(verdicts[i], strlen(verdicts[i])) != NULL);
    }
    CHECK_TRUE(!find_verdict("the safety data sheet", 21));
    CHECK_TRUE(!find_verdict("saf", 3));
}

static void check_file(const char *path) {
    size_t length;
    char *text = file_read(path, &length);
    CHECK_TRUE(text != NULL);
    const char *found = find_verdict(text, length);
    if (found) {
        fail_msg("%s: the word stands there: %.60s", path, found);
    }
    free(text);
}

static bool is_golden(const char *name) {
    size_t length = strlen(name);
    return (length > 4 && strcmp(name + length - 4, ".out") == 0) ||
           (length > 9 && strcmp(name + length - 9, ".expected") == 0);
}

/* Goldens of every folder under tests/cli. */
static void the_word_stands_in_no_golden(void **state) {
    (void)state;
    char folder[TESTS_PATH_SIZE], path[4096];
    size_t goldens = 0;
    tests_path(folder, "cli");
    DIR *commands = opendir(folder);
    CHECK_TRUE(commands != NULL);
    for (struct dirent *command; (command = readdir(commands));) {
        snprintf(path, sizeof path, "%s/%s", folder, command->d_name);
        DIR *files = command->d_name[0] == '.' ? NULL : opendir(path);
        for (struct dirent *file; files && (file = readdir(files));) {
            if (is_golden(file->d_name)) {
                snprintf(path, sizeof path, "%s/%s/%s", folder, command->d_name, file->d_name);
                check_file(path);
                goldens++;
            }
        }
        if (files) {
            closedir(files);
        }
    }
    closedir(commands);
    CHECK_TRUE(goldens >= 100);
    printf("measured: goldens without the word as a verdict: %zu of %zu\n", goldens, goldens);
}

/* The program's own strings: runs of printable bytes in it. Names in code (with an underscore or
 * run together) are not words; they are in the symbols only. */
static bool is_word_byte(unsigned char byte) {
    return isalnum(byte) || byte == '_';
}

static void the_word_stands_in_no_string_of_the_program(void **state) {
    (void)state;
    size_t length;
    char *bytes = file_read(getenv("VS_PROGRAM"), &length);
    CHECK_TRUE(bytes != NULL && length > 100000);
    size_t from = 0;
    for (const char *found; (found = find_verdict(bytes + from, length - from));) {
        size_t at = (size_t)(found - bytes);
        bool before = at > 0 && is_word_byte((unsigned char)bytes[at - 1]);
        bool after = at + 4 < length && is_word_byte((unsigned char)bytes[at + 4]);
        if (!before && !after) {
            fail_msg("the program holds the word: %.60s", found);
        }
        from = at + 4;
    }
    free(bytes);
}

/* ---- what cannot be calculated ---- */

/* A sound scene whose fluid has no index at 900 nm: Cauchy's formula (docs/scene.md) gives 1.10,
 * 1.17, 1.27 in the bands and 0.9 + 0.08 / 0.81 = 0.9988 there. Its cautions are not dropped. */
static void a_caution_that_is_lacking_is_told(void **state) {
    (void)state;
    static const char *const words[] = {"predict", "choose", "dwell", "grade",
                                        "trust --shot 1 --paths 1000"};
    static const char *const told[] = {"Not all of the cautions could be worked out: at 900 nm",
                                       "(got 0.998765)",
                                       "head (not worked out)",
                                       "expect an alarm",
                                       "Breathing, at the peak of the day's plan: ",
                                       "mg/m3 of droplets",
                                       "Exits: a lit sign shows to",
                                       "Defer to local code"};
    FILE *file = fopen("low.json", "wb");
    CHECK_TRUE(file != NULL);
    fputs(
        "{\"veilstop\": 1, \"rooms\": [{\"name\": \"loft\", \"corner\": [0, 0, 0], \"size\": [9, "
        "6, 3]}], \"fluid\": {\"class\": \"glycol\", \"refractive_index\": {\"cauchy\": [0.9, "
        "0.08, "
        "0]}, \"median_um\": 0.5, \"gsd\": 1.5, \"density_g_per_ml\": 1.05}, \"hazer\": {\"room\": "
        "\"loft\"}, \"lights\": [{\"name\": \"lamp\", \"kind\": \"lamp\", \"at\": [2, 2, 2], "
        "\"lumens\": 900}], \"cameras\": [{\"name\": \"A\", \"at\": [0.5, 3, 1.5], \"aim\": [8, 3, "
        "1.5]}], \"shots\": [{\"name\": \"1\", \"camera\": \"A\", \"extinction_per_m\": 0.02, "
        "\"minutes\": 10, \"points\": [{\"name\": \"vat\", \"at\": [8, 3, 1.5], \"reflectance\": "
        "0.3}]}], \"venue\": {\"detectors\": [{\"name\": \"head\", \"room\": \"loft\", \"kind\": "
        "\"point\"}]}}",
        file);
    CHECK_TRUE(fclose(file) == 0);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        char command[256];
        snprintf(command, sizeof command,
                 "set -- %s; c=$1; shift; \"$VS_PROGRAM\" $c low.json \"$@\" >out; code=$?; "
                 "tr -s '\\n ' ' ' <out; rm out; exit $code",
                 words[i]);
        program_run_result run = program_run_shell(".", command);
        CHECK_TRUE(run.status == 3 && strstr(run.err, "veilstop: low.json:/fluid: cautions") &&
                   strstr(run.err, "expect an alarm"));
        for (size_t k = 0; k < sizeof told / sizeof told[0]; k++) {
            if (!strstr(run.out, told[k])) {
                fail_msg("%s does not say \"%s\":\n%s", words[i], told[k], run.out);
            }
        }
        program_free(&run);
    }
    program_run_result run = program_run(".", (const char *const[]){"cautions", "low.json", NULL});
    CHECK_TRUE(run.status == 3 && strstr(run.err, "at 900 nm") &&
               strstr(run.err, "expect an alarm"));
    program_free(&run);
    CHECK_TRUE(remove("low.json") == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(goldens_agree),
        cmocka_unit_test(the_cellar_trips_its_ceiling_head),
        cmocka_unit_test(no_line_is_too_wide),
        cmocka_unit_test(a_caution_that_is_lacking_is_told),
        cmocka_unit_test(the_finder_finds),
        cmocka_unit_test(the_word_stands_in_no_golden),
        cmocka_unit_test(the_word_stands_in_no_string_of_the_program),
    };
    return RUN_TESTS(tests);
}
