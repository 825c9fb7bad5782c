/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data files of the user's own: a fluid, limits, detectors, notices. The input's "$" says which (no
 * file has such a key, so it is taken out): the fluid's sheet or the cautions of a scene with it, which
 * one hangs on the bytes. */
#include "fuzz.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file_list.h"

FUZZ_IS_JSON

static const char *scene;
static size_t scene_length;

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    scene = fuzz_project_text("tests/fuzz/scenes/own_fluid.json", &scene_length);
    return 0;
}

/* The file's text without "$", which names the file; NULL: none. */
static char *take_name(const uint8_t *data, size_t size, char *name, size_t name_size) {
    cJSON *document = cJSON_ParseWithLength((const char *)data, size);
    cJSON *which = cJSON_DetachItemFromObjectCaseSensitive(document, "$");
    char *text = NULL;
    if (cJSON_IsString(which)) {
        snprintf(name, name_size, "%s", which->valuestring);
        text = cJSON_PrintUnformatted(document);
    }
    cJSON_Delete(which);
    cJSON_Delete(document);
    return text;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const char *const question[][5] = {{"fluid", "mine", "--json"},
                                              {"fluid", "mine", "--nm", "900"},
                                              {"cautions", "--json"},
                                              {"cautions"},
                                              {"dwell", "--units", "ft"}};
    char name[64];
    char *text = take_name(data, size, name, sizeof name);
    if (!text) {
        return 0;
    }
    fuzz_file own = {name, text, strlen(text)};
    vs_ask_means means = {.context = &own, .read = fuzz_read_one};
    bool is_fluid = strcmp(name, "fluids/mine.json") == 0;
    vs_ask ask;
    vs_faults faults = {0};
    cJSON *with = cJSON_ParseWithLength(scene, scene_length);
    if (!is_fluid) {
        cJSON_DeleteItemFromObjectCaseSensitive(with, "fluid");
    }
    char *scene_text = cJSON_PrintUnformatted(with);
    cJSON_Delete(with);
    if (vs_ask_open(&ask, scene_text, strlen(scene_text), "scene.json", &means, &faults) == VS_OK) {
        size_t first = is_fluid ? 0 : 2, count = sizeof question / sizeof question[0] - first;
        fuzz_ask(&ask, question[first + fuzz_hash(data, size) % count]);
        vs_ask_close(&ask);
    }
    free(scene_text);
    free(text);
    return 0;
}
