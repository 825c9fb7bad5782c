/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every number of a scene in turn at the ends of what a number can be: each command answers with
 * finite figures, or says in one clause what would be right, and where. */
#include "check.h"

#include <cjson/cJSON.h>
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/ask/ask.h"

#define COMMANDS 5
#define TEXTS    3 /* the first of them, as text too: what it says beyond the JSON */

typedef struct {
    size_t scenes, refused, asked, wrong;
    const char *number; /* the one that was changed */
} tally;

/* The place that a refused scene must name. */
static void check_refusal(tally *t, double value, const vs_faults *faults) {
    CHECK_TRUE(faults->count > 0);
    if (faults->item[0].where[0] != '/' || faults->item[0].text[0] == '\0') {
        print_error("%s at %g: refused as %s: %s\n", t->number, value, faults->item[0].where,
                    faults->item[0].text);
        t->wrong++;
    }
}

/* A word of its own, as printf writes what is no number. */
static bool shows_word(const char *text, const char *word) {
    for (const char *at = text; (at = strstr(at, word)); at++) {
        if (at > text && !isalnum((unsigned char)at[-1]) &&
            !isalnum((unsigned char)at[strlen(word)])) {
            return true;
        }
    }
    return false;
}

static bool is_all_numbers(const char *text) {
    return !shows_word(text, "nan") && !shows_word(text, "inf");
}

static void check_answer(tally *t, double value, const char *command, bool as_json,
                         const vs_ask_answer *answer) {
    bool answered = answer->exit <= VS_EXIT_UNMET;
    bool placed = strstr(answer->messages, ":/") || strstr(answer->messages, "--");
    bool good = answered ? as_json || is_all_numbers(answer->text)
                         : answer->exit <= VS_EXIT_INPUT && placed;
    cJSON *json = answered && as_json ? cJSON_Parse(answer->text) : cJSON_CreateNull();
    if (!good || !json) {
        print_error("%s at %g: %s ends with %d, %s\n", t->number, value, command, (int)answer->exit,
                    answered ? answer->text : answer->messages);
        t->wrong++;
    }
    cJSON_Delete(json);
}

static void try_scene(tally *t, double value, const cJSON *root) {
    static const char *const command[COMMANDS] = {"predict", "dwell", "cautions", "reading",
                                                  "choose"};
    vs_ask ask;
    vs_faults faults = {0};
    const vs_ask_means means = {0};
    char *text = cJSON_PrintUnformatted(root);
    assert_non_null(text);
    vs_status status = vs_ask_open(&ask, text, strlen(text), "extreme.json", &means, &faults);
    cJSON_free(text);
    if (status != VS_OK) {
        check_refusal(t, value, &faults);
        t->refused++;
        return;
    }
    for (size_t i = 0; i < COMMANDS + TEXTS; i++) {
        bool as_json = i < COMMANDS;
        const char *name = command[i % COMMANDS];
        vs_ask_answer answer;
        CHECK_OK(vs_ask_command_run(&ask, (const char *[]){name, as_json ? "--json" : NULL, NULL},
                                    &answer));
        check_answer(t, value, name, as_json, &answer);
        vs_ask_answer_free(&answer);
        t->asked++;
    }
    vs_ask_close(&ask);
    t->scenes++;
}

/* Each number under `item`, of the document `root`. */
static void try_numbers(tally *t, cJSON *root, cJSON *item, const char *key) {
    static const double value[] = {0, 1.1e-100, 1e-9, 1e10, 1.7e308};
    for (cJSON *child = item->child; child; child = child->next) {
        try_numbers(t, root, child, child->string ? child->string : key);
    }
    if (!cJSON_IsNumber(item)) {
        return;
    }
    double was = item->valuedouble;
    t->number = key;
    for (size_t i = 0; i < sizeof value / sizeof value[0]; i++) {
        item->valuedouble = value[i];
        try_scene(t, value[i], root);
    }
    item->valuedouble = was;
}

static void scene_at_its_ends(const char *name) {
    size_t length;
    tally t = {0};
    char *text = tests_file(name, &length);
    cJSON *root = cJSON_ParseWithLength(text, length);
    assert_non_null(root);
    try_scene(&t, NAN, root);
    CHECK_TRUE(t.scenes == 1);
    try_numbers(&t, root, root, "");
    printf("measured: %s: %zu scenes refused, %zu asked %zu questions\n", name, t.refused, t.scenes,
           t.asked);
    CHECK_TRUE(t.wrong == 0 && t.refused > 100 && t.scenes > 100);
    cJSON_Delete(root);
    free(text);
}

static void a_measured_haze(void **state) {
    (void)state;
    scene_at_its_ends("cli/good/every_key.json");
}

static void droplets_and_readings(void **state) {
    (void)state;
    scene_at_its_ends("cli/good/droplets.json");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_measured_haze),
        cmocka_unit_test(droplets_and_readings),
    };
    return RUN_TESTS(tests);
}
