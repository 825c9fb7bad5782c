/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes as a measured lamp's LM-63 file: read, and where that works, shone. */
#include "fuzz.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file_list.h"
#include "veilstop/scene/lm63.h"

typedef struct {
    const uint8_t *bytes;
    size_t length;
} lamp_file;

static const char *scene;
static size_t scene_length;

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    scene = fuzz_project_text("tests/fuzz/scenes/own_lamp.json", &scene_length);
    return 0;
}

static vs_status read_lamp(void *context, const char *path, size_t most, char **bytes,
                           size_t *length) {
    const lamp_file *lamp = context;
    size_t name = strlen("lamp.ies"), whole = strlen(path);
    *bytes = NULL;
    *length = 0;
    if (whole < name || strcmp(path + whole - name, "lamp.ies") != 0 || lamp->length > most) {
        errno = ENOENT;
        return VS_ERR_FILE;
    }
    *bytes = malloc(lamp->length + 1);
    if (!*bytes) {
        return VS_ERR_MEMORY;
    }
    memcpy(*bytes, lamp->bytes, lamp->length);
    (*bytes)[lamp->length] = '\0';
    *length = lamp->length;
    return VS_OK;
}

static bool reads_alone(const uint8_t *data, size_t size) {
    vs_lm63 file;
    vs_faults faults = {0};
    vs_status status = vs_lm63_init(&file, (const char *)data, size, &faults);
    FUZZ_TRUE(status == VS_OK || faults.count == 1);
    if (status == VS_OK) {
        for (double tilt_rad = 0; tilt_rad < 3; tilt_rad += 0.7) {
            double factor = vs_lm63_tilt_factor(&file, tilt_rad);
            FUZZ_TRUE(isnan(factor) || isfinite(factor));
        }
    }
    vs_lm63_free(&file);
    return status == VS_OK;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const char *const question[] = {"predict", "--json", NULL};
    lamp_file lamp = {data, size};
    vs_ask_means means = {.context = &lamp, .read = read_lamp};
    vs_ask ask;
    vs_faults faults = {0};
    if (!reads_alone(data, size)) {
        return 0;
    }
    if (vs_ask_open(&ask, scene, scene_length, "scene.json", &means, &faults) == VS_OK) {
        fuzz_ask(&ask, question);
        vs_ask_close(&ask);
    }
    return 0;
}
