/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene's text to every command, and to lines of sight. What is asked of a text hangs on the text:
 * one command, sometimes after other settings, or a few lines. */
#include "fuzz.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file_list.h"
#include "veilstop/shot/rays.h"

/* Larger scenes only take longer. */
#define ROOMS_MAX    3
#define LIGHTS_MAX   10
#define SHOTS_MAX    5
#define OPENINGS_MAX 5

FUZZ_IS_JSON

static vs_status write_nowhere(void *context, const char *path, const void *bytes, size_t length) {
    (void)context;
    (void)path;
    FUZZ_TRUE(bytes != NULL && length > 0);
    return VS_OK;
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    return 0;
}

static const char *const question[][8] = {
    {"predict", "--json"},
    {"predict", "--haze", "thin,heavy", "--units", "ft"},
    {"predict", "--visibility", "20,300", "--json"},
    {"choose", "--json"},
    {"choose"},
    {"choose", "--spread", "--samples", "16", "--json"},
    {"dwell", "--json"},
    {"dwell", "--order", "chosen"},
    {"grade", "--json"},
    {"grade", "--best", "--json"},
    {"grade", "--cdl", "a.cdl", "--clf", "a.clf"},
    {"reading", "--json"},
    {"reading", "--as", "decay"},
    {"cautions", "--json"},
    {"cautions"},
    {"trust", "--paths", "200", "--json"},
    {"fluid", "glycol", "--json"},
};
#define QUESTIONS (sizeof question / sizeof question[0])

static void look(vs_ask *ask, const vs_scene *scene, uint32_t chosen) {
    static const vs_vec3 direction[] = {{1, 0, 0}, {0, -1, 0}, {0.6, 0, -0.8}, {-0.48, 0.64, 0.6}};
    enum { LINES = 4, COLUMNS = LIGHTS_MAX + 1 };
    size_t shot = chosen % scene->shot_count;
    double length_m[LINES];
    uint32_t surface[LINES];
    vs_bands through[LINES], veil[LINES * COLUMNS], bounced[LINES * COLUMNS],
        direct[LINES * COLUMNS];
    vs_rays_block block = {LINES, direction, NULL, 0};
    vs_rays_light light = {.length_m = length_m,
                           .surface = surface,
                           .transmission = through,
                           .veil = veil,
                           .bounced_veil = bounced,
                           .direct = direct};
    if (vs_ask_rays(ask, shot, &block, &light) != VS_OK) {
        return;
    }
    size_t columns = scene->light_count + 1;
    for (size_t i = 0; i < LINES; i++) {
        FUZZ_TRUE(length_m[i] >= 0);
        FUZZ_TRUE(through[i].v[1] >= 0 && through[i].v[1] <= 1 + 1e-9);
        for (size_t c = 0; c < columns; c++) {
            FUZZ_TRUE(veil[i * columns + c].v[1] >= 0 && isfinite(veil[i * columns + c].v[1]));
            FUZZ_TRUE(isfinite(bounced[i * columns + c].v[1]));
            FUZZ_TRUE(direct[i * columns + c].v[1] >= 0 && isfinite(direct[i * columns + c].v[1]));
        }
        (void)vs_ask_surface(ask, surface[i]);
    }
}

static void set_otherwise(vs_ask *ask, const vs_scene *scene, uint32_t chosen) {
    double extinction_per_m[ROOMS_MAX], dimmer[LIGHTS_MAX];
    for (size_t i = 0; i < scene->room_count; i++) {
        extinction_per_m[i] = 0.01 * (double)(chosen >> i & 7);
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        dimmer[i] = chosen >> i & 1 ? (double)NAN : 0.25 * (double)(chosen >> (i + 3) & 3);
    }
    FUZZ_TRUE(vs_ask_set(ask, chosen % scene->shot_count, extinction_per_m, dimmer) == VS_OK);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const vs_ask_means means = {.read = fuzz_read_project, .write = write_nowhere};
    vs_ask ask;
    vs_faults faults = {0};
    uint32_t chosen = fuzz_hash(data, size);
    vs_status status =
        vs_ask_open(&ask, (const char *)data, size, "tests/cli/good/fuzzed.json", &means, &faults);
    if (status != VS_OK) {
        FUZZ_TRUE(vs_faults_any(&faults) || status == VS_ERR_CONVERGENCE ||
                  status == VS_ERR_DOMAIN);
        return 0;
    }
    const vs_scene *scene = vs_ask_scene_of(&ask);
    if (scene->room_count <= ROOMS_MAX && scene->light_count <= LIGHTS_MAX &&
        scene->opening_count <= OPENINGS_MAX && scene->shot_count >= 1 &&
        scene->shot_count <= SHOTS_MAX) {
        if (chosen >> 8 & 1) {
            set_otherwise(&ask, scene, chosen >> 9);
        }
        if (chosen % (QUESTIONS + 2) < QUESTIONS) {
            fuzz_ask(&ask, question[chosen % (QUESTIONS + 2)]);
        } else {
            look(&ask, scene, chosen >> 20);
        }
    }
    vs_ask_close(&ask);
    return 0;
}
