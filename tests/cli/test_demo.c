/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The example scenes, and those that `new` writes, through every command that reads a scene, as
 * text and as tables (made from the JSON). */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "program.h"

static const char *const demo[] = {"cellar", "yard", "loft", "washroom"};
static const char *const kinds[] = {"room", "corridor", "church", "night-street"};
#define COUNT(list) (sizeof list / sizeof list[0])

/* What each command is asked; %s is the scene. */
static const char *const question[] = {"predict %s", "predict %s --haze thin,heavy", "choose %s",
                                       "dwell %s",   "dwell %s --order chosen",      "grade %s",
                                       "cautions %s"}; /* the first is asked of new scenes too */

static bool is_wide(const char *text) {
    size_t columns = 0;
    for (const char *c = text; *c && columns <= 100; c++) {
        columns = *c == '\n' ? 0 : columns + (((unsigned char)*c & 0xc0) != 0x80);
    }
    return columns > 100;
}

/* An answer: done or unmet, with nothing on standard error. */
static program_run_result ask(const char *question_text, const char *scene, const char *as) {
    char command[1600], asked[1200];
    snprintf(asked, sizeof asked, question_text, scene);
    snprintf(command, sizeof command, "\"$VS_PROGRAM\" %s%s", asked, as);
    program_run_result run = program_run_shell(NULL, command);
    if ((run.status != 0 && run.status != 1) || run.err[0] || !run.out[0]) {
        print_error("%s\nstatus %d\nout: %.400s\nerr: %.400s\n", command, run.status, run.out,
                    run.err);
        fail();
    }
    return run;
}

/* RFC 4180: every row of a table has as many fields as its columns. */
static size_t fields(const char *line, const char *end) {
    size_t count = 1;
    bool quoted = false;
    for (const char *c = line; c < end; c++) {
        quoted = quoted != (*c == '"');
        count += *c == ',' && !quoted;
    }
    return count;
}

static void check_tables(const char *csv) {
    size_t tables = 0, columns = 0, line_of_table = 0;
    for (const char *line = csv; *line;) {
        const char *end = strchr(line, '\n');
        CHECK_TRUE(end != NULL);
        if (end == line) {
            line_of_table = 0;
        } else {
            size_t here = fields(line, end);
            columns = line_of_table == 1 ? here : columns;
            if (line_of_table > 1 && here != columns) {
                fail_msg("%zu fields of %zu: %.200s", here, columns, line);
            }
            tables += line_of_table == 0;
            line_of_table++;
        }
        line = end + 1;
    }
    CHECK_TRUE(tables >= 2);
}

static void check_scene(const char *scene, size_t questions) {
    for (size_t i = 0; i < questions; i++) {
        program_run_result text = ask(question[i], scene, "");
        if (is_wide(text.out)) {
            fail_msg("%s of %s: a line of over 100 columns", question[i], scene);
        }
        CHECK_TRUE(strstr(text.out, "Defer to local code") != NULL);
        program_free(&text);
        program_run_result csv = ask(question[i], scene, " --csv");
        check_tables(csv.out);
        program_free(&csv);
    }
}

static void worked_scenes_go_through_every_command(void **state) {
    (void)state;
    for (size_t i = 0; i < COUNT(demo); i++) {
        char name[64], path[TESTS_PATH_SIZE];
        snprintf(name, sizeof name, "../data/demo/%s.json", demo[i]);
        tests_path(path, name);
        check_scene(path, COUNT(question));
    }
}

static void trust_takes_a_shot_of_each(void **state) {
    (void)state;
    static const char *const shot[] = {"3 reverse", "2 gate opens", "2 late sun", "2 moon"};
    for (size_t i = 0; i < COUNT(demo); i++) {
        char name[64], path[TESTS_PATH_SIZE], text[200];
        snprintf(name, sizeof name, "../data/demo/%s.json", demo[i]);
        tests_path(path, name);
        snprintf(text, sizeof text, "trust %%s --paths 1000 --shot '%s'", shot[i]);
        program_run_result run = ask(text, path, "");
        CHECK_TRUE(!is_wide(run.out));
        program_free(&run);
    }
}

/* Every kind, at its own size and at others, small, large and in feet. */
static void new_scenes_run(void **state) {
    (void)state;
    static const char *const size[] = {"", " --room 5x3.5x2.4", " --room 60x20x14",
                                       " --room 20ftx13ftx8ft"};
    char here[1024], scene[1100];
    CHECK_TRUE(getcwd(here, sizeof here) != NULL); /* commands run elsewhere */
    snprintf(scene, sizeof scene, "%s/new.json", here);
    for (size_t k = 0; k < COUNT(kinds); k++) {
        for (size_t s = 0; s < COUNT(size); s++) {
            char command[2400];
            snprintf(command, sizeof command, "rm -f %s; \"$VS_PROGRAM\" new %s --from %s%s", scene,
                     scene, kinds[k], size[s]);
            program_run_result run = program_run_shell(NULL, command);
            CHECK_TRUE(run.status == 0 && strstr(run.out, "wrote "));
            program_free(&run);
            if (s == 0) {
                check_scene(scene, 1);
                run = ask("dwell %s", scene, "");
                program_free(&run);
            } else {
                run = ask("predict %s --extinction 0.02", scene, "");
                program_free(&run);
            }
        }
    }
    (void)remove(scene);
}

static void new_says_what_is_wrong(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" new --from churh", 2, "", "did you mean church");
    program_expect("\"$VS_PROGRAM\" new --room 6x4", 2, "",
                   "must be three lengths such as 6x4x2.6");
    program_expect("\"$VS_PROGRAM\" new --room 6x4x1", 2, "", "height 2.2");
    program_expect("\"$VS_PROGRAM\" new --room 6x4x3x2", 2, "", "--room");
    program_expect("echo keep > there.json; \"$VS_PROGRAM\" new there.json", 4, "",
                   "must be a new file");
    program_expect("cat there.json; rm there.json", 0, "keep", "");
    program_expect("\"$VS_PROGRAM\" new no-such-folder/x.json", 4, "", "no-such-folder/x.json");
    program_expect("\"$VS_PROGRAM\" new", 0, "\"veilstop\": 1", "");
    program_expect("\"$VS_PROGRAM\" new --room 20x13x9 --units ft", 0,
                   "\"size\": [6.1, 3.96, 2.74]", "");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(worked_scenes_go_through_every_command),
        cmocka_unit_test(trust_takes_a_shot_of_each),
        cmocka_unit_test(new_scenes_run),
        cmocka_unit_test(new_says_what_is_wrong),
    };
    return RUN_TESTS(tests);
}
