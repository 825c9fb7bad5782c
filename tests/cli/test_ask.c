/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The library's answers against the program's: for the demo scenes and every command, byte by byte
 * what the program prints, with settings as if they were in the file. */
#include "check.h"
#include "demo.h"
#include "program.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/ask/ask.h"
#include "veilstop/camera/view.h"

static const char *const demos[] = {"cellar", "yard", "loft", "washroom"};
#define DEMOS (sizeof demos / sizeof demos[0])

static void open_demo(vs_ask *ask, const char *name) {
    char path[256], scene[256];
    size_t length;
    vs_faults faults = {0};
    snprintf(path, sizeof path, "../data/demo/%s.json", name);
    snprintf(scene, sizeof scene, "data/demo/%s.json", name);
    char *text = tests_file(path, &length);
    CHECK_OK(vs_ask_open(ask, text, length, scene, &demo_means, &faults));
    free(text);
}

#define WORDS_MAX     16
#define OF_ALL_SCENES 3 /* questions */
/* One question for both; the program gets the scene's name after the command. */
static void check_same(vs_ask *ask, const char *name, const char *const *word) {
    char scene[256];
    const char *words[WORDS_MAX] = {word[0]};
    size_t count = 1;
    vs_ask_answer answer;
    snprintf(scene, sizeof scene, "data/demo/%s.json", name);
    if (strcmp(word[0], "fluid") != 0) {
        words[count++] = scene;
    }
    for (size_t i = 1; word[i]; i++) {
        words[count++] = word[i];
    }
    words[count] = NULL;
    CHECK_OK(vs_ask_command_run(ask, word, &answer));
    program_run_result run = program_run(NULL, words);
    if (run.status != (int)answer.exit || strcmp(run.out, answer.text) != 0 ||
        strcmp(run.err, answer.messages) != 0) {
        fprintf(stderr, "differs: %s %s\n%s\n%s\n", name, word[0], answer.text, answer.messages);
    }
    CHECK_TRUE(run.status == (int)answer.exit);
    CHECK_TRUE(strcmp(run.out, answer.text) == 0);
    CHECK_TRUE(strcmp(run.err, answer.messages) == 0);
    CHECK_TRUE(answer.length == run.out_length);
    program_free(&run);
    vs_ask_answer_free(&answer);
}

static void every_command_gives_the_programs_bytes(void **state) {
    (void)state;
    static const char *const question[][WORDS_MAX] = {
        {"predict", "--json"},
        {"choose", "--json"},
        {"dwell", "--json"},
        {"cautions", "--json"}, /* from here on for the first scene only */
        {"grade", "--json"},
        {"dwell", "--order", "chosen"},
        {"reading", "--json"},
        {"fluid", "glycol", "--json"},
        {"dwell", "--units", "ft"},
        {"predict", "--haze", "thin,medium"},
        {"predict", "--shot", "no such shot"},
        {"predict", "--nonsense"},
        {"choose", "--spread", "--samples", "16", "--json"},
        {"trust", "--shot", "2 hand lamp", "--paths", "300", "--json"},
    };
    for (size_t d = 0; d < DEMOS; d++) {
        vs_ask ask;
        open_demo(&ask, demos[d]);
        size_t count = d == 0 ? sizeof question / sizeof question[0] : OF_ALL_SCENES;
        for (size_t q = 0; q < count; q++) {
            check_same(&ask, demos[d], question[q]);
        }
        vs_ask_close(&ask);
    }
}

static double veil_of_first_point(vs_ask *ask, const char *shot) {
    const char *const word[] = {"predict", "--shot", shot, "--json", NULL};
    vs_ask_answer answer;
    CHECK_OK(vs_ask_command_run(ask, word, &answer));
    CHECK_TRUE(answer.exit <= VS_EXIT_UNMET);
    double nits = program_number_after(answer.text, "\"veil_nits\":");
    vs_ask_answer_free(&answer);
    return nits;
}

/* Densities and dimmers that are set apply to the answers and to the lines of sight. */
static void settings_count_for_every_question(void **state) {
    (void)state;
    vs_ask ask;
    open_demo(&ask, "cellar");
    const vs_scene *scene = vs_ask_scene_of(&ask);
    const vs_scene_shot *shot = &scene->shot[0];
    double k[3] = {0.015, 0.012, 0.01}, before = veil_of_first_point(&ask, shot->name);
    CHECK_OK(vs_ask_set(&ask, 0, k, NULL));
    double thin = veil_of_first_point(&ask, shot->name);
    CHECK_TRUE(thin < 0.75 * before && thin > 0.4 * before);
    double *dimmer = calloc(scene->light_count, sizeof *dimmer);
    for (size_t i = 0; i < scene->light_count; i++) {
        dimmer[i] = i == 3 ? 0 : (double)NAN;
    }
    CHECK_OK(vs_ask_set(&ask, 0, k, dimmer));
    double dim = veil_of_first_point(&ask, shot->name);
    CHECK_TRUE(dim < thin);
    vs_vec3 way = vs_vec3_sub(shot->point[0].at_m, scene->camera[shot->camera].at_m);
    vs_vec3 direction = vs_vec3_unit(way);
    double length_m = vs_vec3_length(way), nits = 0;
    size_t columns = scene->light_count + 1;
    vs_bands *veil = calloc(2 * columns, sizeof *veil);
    vs_rays_block block = {1, &direction, &length_m, 0};
    vs_rays_light light = {.veil = veil, .bounced_veil = veil + columns};
    CHECK_OK(vs_ask_rays(&ask, 0, &block, &light));
    for (size_t i = 0; i < 2 * columns; i++) {
        nits += vs_bands_luminance(veil[i]);
    }
    CHECK_NEAR(nits, dim, 1e-6, 0);
    CHECK_NEAR(vs_bands_luminance(veil[3]) + vs_bands_luminance(veil[columns + 3]), 0, 0, 0);
    CHECK_OK(vs_ask_set(&ask, 0, NULL, NULL));
    CHECK_NEAR(veil_of_first_point(&ask, shot->name), before, 0, 0);
    k[0] = -1;
    CHECK_STATUS(vs_ask_set(&ask, 0, k, NULL), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_ask_set(&ask, scene->shot_count, NULL, NULL), VS_ERR_DOMAIN);
    dimmer[0] = 1.5;
    CHECK_STATUS(vs_ask_set(&ask, 0, NULL, dimmer), VS_ERR_DOMAIN);
    free(veil);
    free(dimmer);
    vs_ask_close(&ask);
}

/* Without means no file is read or written, and a message says so. */
static void nothing_is_lent(void **state) {
    (void)state;
    size_t length;
    vs_ask ask;
    vs_ask_answer answer;
    vs_faults faults = {0};
    char *text = tests_file("../data/demo/cellar.json", &length);
    CHECK_STATUS(vs_ask_open(&ask, text, length, "cellar.json", NULL, &faults), VS_ERR_FILE);
    CHECK_TRUE(faults.count == 1 && strstr(faults.item[0].where, "/lights/10/file"));
    CHECK_TRUE(ask.kept == NULL);
    vs_ask_close(&ask);
    free(text);
    text = tests_file("../data/demo/washroom.json", &length);
    memset(&faults, 0, sizeof faults);
    CHECK_OK(vs_ask_open(&ask, text, length, "washroom.json", NULL, &faults));
    const char *shot = vs_ask_scene_of(&ask)->shot[0].name;
    const char *const word[] = {"grade", "--shot", shot, "--cdl", "mine.cdl", NULL};
    CHECK_OK(vs_ask_command_run(&ask, word, &answer));
    CHECK_TRUE(answer.exit == VS_EXIT_FILE && strstr(answer.messages, "mine.cdl"));
    vs_ask_answer_free(&answer);
    const char *const none[] = {NULL};
    CHECK_OK(vs_ask_command_run(&ask, none, &answer));
    CHECK_TRUE(answer.exit == VS_EXIT_USAGE && answer.length == 0);
    vs_ask_answer_free(&answer);
    const char *const pair[] = {"pair", "a.png", "b.png", NULL};
    CHECK_OK(vs_ask_command_run(&ask, pair, &answer));
    CHECK_TRUE(answer.exit == VS_EXIT_USAGE);
    vs_ask_answer_free(&answer);
    vs_ask_close(&ask);
    free(text);
    CHECK_STATUS(vs_ask_open(&ask, "{", 1, "broken.json", NULL, &faults), VS_ERR_INPUT);
    CHECK_TRUE(faults.count > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_command_gives_the_programs_bytes),
        cmocka_unit_test(settings_count_for_every_question),
        cmocka_unit_test(nothing_is_lent),
    };
    return RUN_TESTS(tests);
}
