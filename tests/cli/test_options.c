/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Help, several shots, several densities, tables for spreadsheets, completion. */
#include "check.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

/* In the project's folder, where data/demo is. */
static program_run_result run(const char *command) {
    char line[1600];
    snprintf(line, sizeof line, "cd \"$VS_TESTS/..\" && %s", command);
    return program_run_shell(NULL, line);
}

static cJSON *json_of(const char *command) {
    program_run_result r = run(command);
    cJSON *answer = cJSON_Parse(r.out);
    if (!answer || r.status > 1) {
        fail_msg("%s: status %d\nout: %.200s\nerr: %.300s", command, r.status, r.out, r.err);
    }
    program_free(&r);
    return answer;
}

static const cJSON *shot_of(const cJSON *answer, int i) {
    return cJSON_GetArrayItem(cJSON_GetObjectItem(answer, "shots"), i);
}

static double extinction_of(const cJSON *answer, int i) {
    const cJSON *density = cJSON_GetObjectItem(shot_of(answer, i), "density");
    const cJSON *k = cJSON_GetObjectItem(density, "extinction_per_m");
    return k ? k->valuedouble : (double)NAN;
}

static double mass_of(const cJSON *answer, int i) {
    const cJSON *density = cJSON_GetObjectItem(shot_of(answer, i), "density");
    const cJSON *mass = cJSON_GetObjectItem(density, "mass_mg_per_m3");
    return mass ? mass->valuedouble : (double)NAN;
}

/* ---- help ---- */

static void help_tells_a_command(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" help predict", 0, "usage: veilstop predict", "");
    program_expect("\"$VS_PROGRAM\" help", 0, "usage: veilstop COMMAND", "");
    program_expect("\"$VS_PROGRAM\" help predikt", 2, "", "did you mean predict");
    program_expect("\"$VS_PROGRAM\" perdict", 2, "", "did you mean predict");
    program_expect("\"$VS_PROGRAM\" predict x.json --extintion 1", 2, "",
                   "did you mean --extinction");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot '1 wid'", 2, "",
                   "did you mean 1 wide");
    program_expect("\"$VS_PROGRAM\" help predict choose", 2, "", "one word too many");
    program_expect("\"$VS_PROGRAM\" predict -- --json", 4, "",
                   "veilstop: --json: must be a file that can be read");
}

/* Runs an example as it is; those that write files or need pictures are only counted. */
static void try_example(const char *line, size_t length) {
    char command[512], example[256];
    snprintf(example, sizeof example, "%.*s", (int)length, line);
    bool plain = !strstr(example, ".png") && !strstr(example, ".clf") &&
                 !strstr(example, "--out") && !strstr(example, "--write") &&
                 !strstr(example, " new ") && !strstr(example, "reading ");
    if (plain) {
        snprintf(command, sizeof command, "\"$VS_PROGRAM\"%s", strstr(example, "veilstop") + 8);
        program_run_result r = run(command);
        if (r.status > 1) {
            fail_msg("%s: status %d, %.300s", example, r.status, r.err);
        }
        program_free(&r);
    }
}

static void each_help_has_two_examples_that_run(void **state) {
    (void)state;
    program_run_result all = run("\"$VS_PROGRAM\" --help");
    size_t commands = 0;
    for (const char *line = strstr(all.out, "\n  "); line; line = strstr(line + 1, "\n  ")) {
        char name[32], ask[64];
        if (sscanf(line, " %31[a-z]", name) != 1) {
            continue;
        }
        snprintf(ask, sizeof ask, "\"$VS_PROGRAM\" help %s", name);
        program_run_result help = run(ask);
        size_t examples = 0;
        const char *at = strstr(help.out, "examples:\n");
        CHECK_TRUE(at != NULL);
        for (at = strstr(at, "\n  veilstop "); at; at = strstr(at + 1, "\n  veilstop ")) {
            try_example(at + 1, strcspn(at + 1, "\n"));
            examples++;
        }
        if (examples != 2) {
            fail_msg("%s has %zu examples", name, examples);
        }
        program_free(&help);
        commands++;
    }
    CHECK_TRUE(commands >= 10);
    program_free(&all);
}

/* ---- densities ---- */

/* Visible range = 3.912 / extinction (2 % threshold): 0.01 /m is 391.2 m, and 1283.46 ft. */
static void densities_are_given_in_any_unit(void **state) {
    (void)state;
    cJSON *a = json_of("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot '1 wide' --json "
                       "--extinction 0.01,0.02,0.04");
    CHECK_TRUE(cJSON_GetArraySize(cJSON_GetObjectItem(a, "shots")) == 3);
    CHECK_NEAR(extinction_of(a, 0), 0.01, 1e-12, 0);
    CHECK_NEAR(extinction_of(a, 2), 0.04, 1e-12, 0);
    char text[256];
    snprintf(text, sizeof text,
             "\"$VS_PROGRAM\" predict data/demo/cellar.json --shot '1 wide' --json --mass %.9g",
             mass_of(a, 1));
    cJSON *b = json_of(text);
    CHECK_NEAR(extinction_of(b, 0), 0.02, 1e-7, 0);
    cJSON_Delete(b);
    b = json_of("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot '1 wide' --json "
                "--visibility '391.2,195.6 m,1283.4646 ft'");
    CHECK_NEAR(extinction_of(b, 0), 0.01, 1e-9, 0);
    CHECK_NEAR(extinction_of(b, 1), 0.02, 1e-9, 0);
    CHECK_NEAR(extinction_of(b, 2), 0.01, 1e-6, 0);
    cJSON_Delete(b);
    b = json_of("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot '1 wide' --json "
                "--visibility 1283.4646 --units ft");
    CHECK_NEAR(extinction_of(b, 0), 0.01, 1e-6, 0);
    cJSON_Delete(b);
    b = json_of("\"$VS_PROGRAM\" predict data/demo/cellar.json --shot '1 wide' --json "
                "--haze heavy,thin,medium");
    CHECK_NEAR(extinction_of(b, 0), 0.08, 1e-12, 0);
    CHECK_NEAR(extinction_of(b, 1), 0.01, 1e-12, 0);
    CHECK_NEAR(extinction_of(b, 2), 0.03, 1e-12, 0);
    cJSON_Delete(b);
    cJSON_Delete(a);
}

static void wrong_densities_are_usage(void **state) {
    (void)state;
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --haze thin,thick", 2, "",
                   "--haze: must be of thin, medium, heavy");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --extinction 0.1,", 2, "",
                   "--extinction");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --visibility 0", 2, "",
                   "--visibility");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --mass -1", 2, "", "--mass");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --mass 1 --haze thin", 2, "",
                   "must not stand beside");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --extinction "
                   "1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1",
                   2, "", "at most 16");
}

/* Light that gets nowhere is none, and no number's logarithm or quotient. Rooms of several sizes: in
 * each a factor or sum of its own runs out of floating point. */
static void the_densest_haze_is_predicted(void **state) {
    (void)state;
    static const char *const scene[] = {"data/demo/yard.json", "data/demo/loft.json",
                                        "tests/accuracy/studio.json",
                                        "tests/fuzz/scenes/small.json"};
    for (size_t i = 0; i < sizeof scene / sizeof scene[0]; i++) {
        char command[200];
        snprintf(command, sizeof command,
                 "\"$VS_PROGRAM\" predict %s --json --extinction 20,40,99,100", scene[i]);
        cJSON_Delete(json_of(command));
    }
}

/* An output named as another kind of file is a slip; a name without a kind is the user's own. */
static void a_file_of_another_kind_is_usage(void **state) {
    (void)state;
#define ON_CELLAR(command) "\"$VS_PROGRAM\" " command " data/demo/cellar.json "
    program_expect(ON_CELLAR("picture") "--out day.jpg", 2, "",
                   "--out: must be FILE.png (got day.jpg)");
    program_expect(ON_CELLAR("picture") "--exr day.png", 2, "", "--exr: must be FILE.exr");
    program_expect(ON_CELLAR("sheet") "--out day.pdf", 2, "", "--out: must be FILE.html");
    program_expect(ON_CELLAR("picture") "--size 16x16 --shot '1 wide' --out \"$(mktemp)\"", 0,
                   "wrote ", "");
#undef ON_CELLAR
}

/* ---- several shots ---- */

static void several_shots_are_told(void **state) {
    (void)state;
    cJSON *a = json_of("\"$VS_PROGRAM\" predict data/demo/cellar.json --json --shot '3 reverse' "
                       "--shot '1 wide'");
    CHECK_TRUE(cJSON_GetArraySize(cJSON_GetObjectItem(a, "shots")) == 2);
    assert_string_equal(cJSON_GetObjectItem(shot_of(a, 0), "name")->valuestring, "1 wide");
    cJSON_Delete(a);
    a = json_of("\"$VS_PROGRAM\" grade data/demo/cellar.json --json --shot '3 reverse' "
                "--shot '1 wide'");
    const cJSON *answers = cJSON_GetObjectItem(a, "answers");
    CHECK_TRUE(cJSON_GetArraySize(answers) == 2);
    cJSON *one = json_of("\"$VS_PROGRAM\" grade data/demo/cellar.json --json --shot '1 wide'");
    CHECK_TRUE(cJSON_Compare(one, cJSON_GetArrayItem(answers, 1), true));
    cJSON_Delete(one);
    cJSON_Delete(a);
    program_expect(
        "\"$VS_PROGRAM\" grade data/demo/cellar.json --shot '1 wide' --shot '3 reverse' --clf "
        "x.clf",
        2, "", "needs one shot");
    program_expect(
        "\"$VS_PROGRAM\" choose data/demo/cellar.json --shot '1 wide' --shot '3 reverse'; true", 0,
        "3 reverse", "");
}

/* ---- the day in the order that choose gives ---- */

static void a_day_is_played_in_the_chosen_order(void **state) {
    (void)state;
    cJSON *choice = json_of("\"$VS_PROGRAM\" choose data/demo/washroom.json --json");
    cJSON *day = json_of("\"$VS_PROGRAM\" dwell data/demo/washroom.json --order chosen --json");
    cJSON *filed = json_of("\"$VS_PROGRAM\" dwell data/demo/washroom.json --json");
    const cJSON *order = cJSON_GetObjectItem(choice, "order");
    CHECK_TRUE(cJSON_GetArraySize(order) == 2);
    for (int i = 0; i < 2; i++) {
        assert_string_equal(cJSON_GetObjectItem(shot_of(day, i), "name")->valuestring,
                            cJSON_GetArrayItem(order, i)->valuestring);
    }
    assert_string_equal(cJSON_GetObjectItem(shot_of(filed, 0), "name")->valuestring, "1 bulb");
    cJSON_Delete(choice);
    cJSON_Delete(day);
    cJSON_Delete(filed);
    program_expect("\"$VS_PROGRAM\" dwell data/demo/washroom.json --order best", 2, "",
                   "must be file or chosen");
}

/* ---- tables ---- */

static void tables_hold_what_the_json_does(void **state) {
    (void)state;
    cJSON *a = json_of("\"$VS_PROGRAM\" predict data/demo/cellar.json --json --shot '1 wide'");
    const cJSON *point = cJSON_GetArrayItem(cJSON_GetObjectItem(shot_of(a, 0), "points"), 1);
    char row[128], figure[32];
    snprintf(figure, sizeof figure, "%.9g", cJSON_GetObjectItem(point, "distance_m")->valuedouble);
    program_run_result csv =
        run("\"$VS_PROGRAM\" predict data/demo/cellar.json --csv --shot '1 wide'");
    snprintf(row, sizeof row, ",%s,%s,", cJSON_GetObjectItem(point, "name")->valuestring, figure);
    CHECK_TRUE(strstr(csv.out, "shots.points\nshots,extinction_per_m,name,distance_m,") != NULL);
    CHECK_TRUE(strstr(csv.out, row) != NULL);
    CHECK_TRUE(strncmp(csv.out, "answer\ncommand,scene,alarms_from\npredict,", 41) == 0);
    program_free(&csv);
    cJSON_Delete(a);
    program_expect("\"$VS_PROGRAM\" fluid glycol --csv", 0, "phase", "");
    program_expect("\"$VS_PROGRAM\" predict data/demo/cellar.json --csv --json", 2, "", "--csv");
}

/* A name with a comma and a quote is quoted, and a quote doubled (RFC 4180, 2.6 and 2.7). */
static void fields_are_quoted(void **state) {
    (void)state;
    program_expect("d=$(mktemp -d); sed 's/The tiled washroom/Tiles, \\\\\"wet\\\\\"/' "
                   "data/demo/washroom.json > "
                   "$d/quoted.json; "
                   "\"$VS_PROGRAM\" choose $d/quoted.json --csv; rm -r $d",
                   0, "\"Tiles, \"\"wet\"\" with its bare bulb\"", "");
}

/* ---- completion ---- */

#define COMPLETE(words, at)                                                                        \
    "d=$(mktemp -d) && ln -s \"$VS_PROGRAM\" $d/veilstop && PATH=\"$d:$PATH\" bash "               \
    "-c '"                                                                                         \
    "source data/veilstop.bash; COMP_WORDS=(" words "); COMP_CWORD=" at                            \
    "; _veilstop; echo ${COMPREPLY[*]}'; rm -r $d"

static void bash_completes(void **state) {
    (void)state;
    program_expect(COMPLETE("veilstop pre", "1"), 0, "predict\n", "");
    program_expect(COMPLETE("veilstop help cho", "2"), 0, "choose\n", "");
    program_expect(COMPLETE("veilstop predict --vis", "2"), 0, "--visibility\n", "");
    program_expect(COMPLETE("veilstop dwell x.json --order ch", "4"), 0, "chosen\n", "");
    program_expect(COMPLETE("veilstop predict data/demo/wash", "2"), 0, "data/demo/washroom.json\n",
                   "");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(help_tells_a_command),
        cmocka_unit_test(each_help_has_two_examples_that_run),
        cmocka_unit_test(densities_are_given_in_any_unit),
        cmocka_unit_test(wrong_densities_are_usage),
        cmocka_unit_test(the_densest_haze_is_predicted),
        cmocka_unit_test(a_file_of_another_kind_is_usage),
        cmocka_unit_test(several_shots_are_told),
        cmocka_unit_test(a_day_is_played_in_the_chosen_order),
        cmocka_unit_test(tables_hold_what_the_json_does),
        cmocka_unit_test(fields_are_quoted),
        cmocka_unit_test(bash_completes),
    };
    return RUN_TESTS(tests);
}
