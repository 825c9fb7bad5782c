/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes as a measured lamp's LM-63 file: read, and where that works, shone. */
#include "fuzz.h"

#include <math.h>

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file_list.h"
#include "veilstop/scene/lm63.h"

static const char *scene;
static size_t scene_length;

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    scene = fuzz_project_text("tests/fuzz/scenes/own_lamp.json", &scene_length);
    return 0;
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
    fuzz_file lamp = {"lamp.ies", data, size};
    vs_ask_means means = {.context = &lamp, .read = fuzz_read_one};
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
