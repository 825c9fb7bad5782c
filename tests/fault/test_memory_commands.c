/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory runs out at one allocation after the other while the library's door is used: a scene
 * opened, every command asked, lines of sight. Either it is told, or the answer is byte by byte
 * what it is with memory enough; all that was taken is given back when the scene is closed. GSL's own
 * allocations do not fail here. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "failing.h"
#include "veilstop/ask/ask.h"

#define WORDS_MAX 8

static char *scene;
static size_t scene_length;

static vs_status write_nowhere(void *context, const char *path, const void *bytes, size_t length) {
    (void)context;
    (void)path;
    return bytes && length > 0 ? VS_OK : VS_ERR_FILE;
}

static const vs_ask_means means = {.write = write_nowhere};

static vs_status open_scene(vs_ask *ask) {
    vs_faults faults = {0};
    vs_status status = vs_ask_open(ask, scene, scene_length, "scene.json", &means, &faults);
    if (status == VS_ERR_INPUT) { /* no fault is found for lack of memory */
        print_error("%s: %s\n", faults.item[0].where, faults.item[0].text);
    }
    return status;
}

static bool is_same(const vs_ask_answer *a, const vs_ask_answer *b) {
    return a->exit == b->exit && strcmp(a->text, b->text) == 0 &&
           strcmp(a->messages, b->messages) == 0;
}

/* Asks with an allocation failing; whether that allocation was reached. */
static bool ask_starved(vs_ask *ask, const char *const *word, long at, const vs_ask_answer *want) {
    vs_ask_answer answer = {.exit = VS_EXIT_DONE};
    left = at;
    vs_status status = vs_ask_command_run(ask, word, &answer);
    bool reached = left < 0;
    left = -1;
    CHECK_TRUE(status == VS_OK || status == VS_ERR_MEMORY);
    if (status == VS_OK) {
        bool told = answer.exit > VS_EXIT_UNMET && strstr(answer.messages, "memory");
        bool lacking = answer.exit > VS_EXIT_UNMET && strstr(answer.text, "memory");
        if (!told && !lacking && !is_same(&answer, want)) {
            fprintf(stderr, "%s, allocation %ld: status %d, %s%s\nbut\n%s", word[0], at,
                    (int)answer.exit, answer.messages, answer.text, want->text);
            fail();
        }
        vs_ask_answer_free(&answer);
    }
    return reached;
}

typedef struct {
    const char *word[WORDS_MAX];
    long step; /* each so many-th allocation fails in turn: more where answers take long */
} starved;

static void starve(const starved *s) {
    vs_ask ask;
    vs_ask_answer want;
    long before = alive, at = 0;
    CHECK_OK(open_scene(&ask));
    CHECK_OK(vs_ask_command_run(&ask, s->word, &want));
    if (want.exit > VS_EXIT_UNMET) {
        fail_msg("%s", want.messages);
    }
    while (ask_starved(&ask, s->word, at, &want)) {
        at += s->step;
    }
    CHECK_TRUE(!is_counting() || at > 5);
    vs_ask_answer_free(&want);
    vs_ask_close(&ask);
    CHECK_TRUE(!is_counting() || alive == before);
    printf("measured: memory ran out in %s, one in %ld of %ld allocations: told, or the same "
           "answer\n",
           s->word[0], s->step, at);
}

static void every_command(void **state) {
    (void)state;
    static const starved each[] = {
        {{"predict", "--json"}, 1},
        {{"predict", "--haze", "thin,heavy"}, 7},
        {{"choose", "--json"}, 5},
        {{"choose"}, 5},
        {{"choose", "--spread", "--samples", "16"}, 499},
        {{"dwell"}, 3},
        {{"dwell", "--order", "chosen", "--json"}, 7},
        {{"grade", "--shot", "2 thin", "--cdl", "a.cdl", "--clf", "a.clf"}, 97},
        {{"grade", "--shot", "2 thin", "--best", "--json"}, 97},
        {{"reading", "--json"}, 7},
        {{"cautions", "--json"}, 1},
        {{"trust", "--shot", "2 thin", "--paths", "100"}, 3},
        {{"fluid", "glycol", "--json"}, 1},
    };
    for (size_t i = 0; i < sizeof each / sizeof each[0]; i++) {
        starve(&each[i]);
    }
}

static vs_status look(void) {
    static const vs_vec3 ahead[2] = {{1, 0, 0}, {0, 0.6, 0.8}};
    vs_ask ask, beside;
    vs_bands through[2], veil[2 * 16];
    vs_rays_block block = {2, ahead, NULL, 0};
    vs_rays_light light = {.transmission = through, .veil = veil};
    double extinction_per_m[2] = {0.02, 0.01};
    vs_status status = open_scene(&ask);
    if (status != VS_OK) {
        return status;
    }
    CHECK_TRUE(vs_ask_scene_of(&ask)->light_count < 16);
    CHECK_TRUE(vs_ask_scene_of(&ask)->room_count == 2);
    status = vs_ask_set(&ask, 0, extinction_per_m, NULL);
    if (status == VS_OK) {
        status = vs_ask_rays(&ask, 0, &block, &light);
    }
    if (status == VS_OK) {
        status = vs_ask_open_beside(&beside, &ask);
    }
    if (status == VS_OK) {
        status = vs_ask_set(&beside, 0, extinction_per_m, NULL);
        status = status == VS_OK ? vs_ask_rays(&beside, 0, &block, &light) : status;
        vs_ask_close(&beside);
    }
    vs_ask_close(&ask);
    return status;
}

static void opening_and_lines_of_sight(void **state) {
    (void)state;
    long before = alive, at = 0;
    vs_status status = VS_ERR_MEMORY;
    for (bool reached = true; reached; at++) {
        left = at;
        status = look();
        reached = left < 0;
        left = -1;
        CHECK_TRUE(status == VS_OK || status == VS_ERR_MEMORY);
        CHECK_TRUE(!is_counting() || alive == before);
        CHECK_TRUE(!is_counting() || !reached || status == VS_ERR_MEMORY);
    }
    CHECK_OK(status);
    printf("measured: memory ran out at each of %ld allocations of a scene opened, set and looked "
           "at, on two handles: told each time\n",
           at - 1);
}

static int read_scene(void **state) {
    (void)state;
    scene = tests_file("fault/day.json", &scene_length);
    return 0;
}

static int free_scene(void **state) {
    (void)state;
    free(scene);
    return 0;
}

int main(void) {
    fail_in_the_parser();
    spares_gsl = true;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(opening_and_lines_of_sight),
        cmocka_unit_test(every_command),
    };
    tests_begin();
    return cmocka_run_group_tests(tests, read_scene, free_scene);
}
