/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes as the words of a question, one a line, asked of a scene that is opened once: command names,
 * options, their values, densities, positions and names. A line "=1 0.02 0.5" does not ask but sets
 * a shot's density and dimmers. */
#include "fuzz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TEXT_MAX  2048
#define WORDS_MAX 48

static vs_ask ask;

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    fuzz_open_small(&ask);
    return 0;
}

/* What only takes longer is made small: paths and samples that are a number over 64. */
static void hold_short(const char **word, size_t count) {
    static const char *const slow[] = {"--paths", "--samples"};
    for (size_t i = 0; i + 1 < count; i++) {
        for (size_t k = 0; k < sizeof slow / sizeof slow[0]; k++) {
            char *end;
            if (strcmp(word[i], slow[k]) == 0 && strtod(word[i + 1], &end) > 64 && !*end) {
                word[i + 1] = "64";
            }
        }
    }
}

static void set(const char *text) {
    const vs_scene *scene = vs_ask_scene_of(&ask);
    double density[16], dimmer[16];
    char *rest;
    size_t shot = strtoul(text, &rest, 10);
    FUZZ_TRUE(scene->room_count <= 16 && scene->light_count <= 16);
    for (size_t i = 0; i < scene->room_count; i++) {
        density[i] = strtod(rest, &rest);
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        dimmer[i] = strtod(rest, &rest);
    }
    vs_status status = vs_ask_set(&ask, shot, density, dimmer);
    FUZZ_TRUE(status == VS_OK || status == VS_ERR_DOMAIN);
}

static void ask_words(const char **word, size_t count) {
    word[count] = NULL;
    if (count > 0 && *word[0] == '=') {
        set(word[0] + 1);
    } else if (count > 0) {
        hold_short(word, count);
        fuzz_ask(&ask, word);
        fuzz_read_back("tests/fuzz/scenes/small.json");
    }
}

/* Questions are set apart by an empty line. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char text[TEXT_MAX];
    const char *word[WORDS_MAX + 1];
    size_t count = 0;
    if (size >= TEXT_MAX) {
        return 0;
    }
    memcpy(text, data, size);
    text[size] = '\0';
    for (char *at = text, *end; at < text + size; at = end + 1) {
        end = at + strcspn(at, "\n");
        if (end == at || count == WORDS_MAX) {
            ask_words(word, count);
            count = 0;
        }
        *end = '\0';
        if (*at) {
            word[count++] = at;
        }
    }
    ask_words(word, count);
    for (size_t i = 0; i < vs_ask_scene_of(&ask)->shot_count; i++) { /* the next begins anew */
        FUZZ_TRUE(vs_ask_set(&ask, i, NULL, NULL) == VS_OK);
    }
    return 0;
}
