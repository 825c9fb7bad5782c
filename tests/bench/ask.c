/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calls of the library's front door (vs_ask) on the cellar, one core, processor time: opening it, a
 * new density and a new dimmer for the first shot's prediction, and its camera's lines of sight. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "veilstop/ask/ask.h"
#include "veilstop/base/numerics.h"
#include "veilstop/camera/view.h"

#define FEW  144
#define MANY 10000

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double predict_s(vs_ask *ask) {
    const char *const word[] = {"predict", "--shot", "1 wide", "--json", NULL};
    vs_ask_answer answer;
    double start = seconds();
    if (vs_ask_command_run(ask, word, &answer) != VS_OK) {
        return NAN;
    }
    vs_ask_answer_free(&answer);
    return seconds() - start;
}

/* The same by a handle that has nothing of earlier questions. */
static double predict_afresh_s(const vs_ask *first, const double *room_per_m) {
    vs_ask ask;
    double start = seconds();
    if (vs_ask_open_beside(&ask, first) != VS_OK ||
        vs_ask_set(&ask, 0, room_per_m, NULL) != VS_OK) {
        return NAN;
    }
    predict_s(&ask);
    vs_ask_close(&ask);
    return seconds() - start;
}

/* bounced  the veil of bounced light is computed too */
static double rays_s(vs_ask *ask, size_t count, bool bounced) {
    const vs_scene *scene = vs_ask_scene_of(ask);
    vs_view view = vs_view_make(&scene->camera[scene->shot[0].camera]);
    size_t columns = scene->light_count + 1, side = (size_t)sqrt((double)count);
    vs_vec3 *direction = calloc(count, sizeof *direction);
    vs_bands *veil = calloc(2 * count * columns, sizeof *veil);
    for (size_t i = 0; direction && i < count; i++) {
        double x = (2.0 * (double)(i % side) + 1) / (double)side - 1;
        direction[i] =
            vs_view_direction(&view, x, (2.0 * (double)(i / side) + 1) / (double)side - 1);
    }
    vs_rays_block block = {count, direction, NULL, 0};
    vs_rays_light light = {.veil = veil, .bounced_veil = bounced ? veil + count * columns : NULL};
    double start = seconds();
    vs_status status = direction && veil ? vs_ask_rays(ask, 0, &block, &light) : VS_ERR_MEMORY;
    double took = status == VS_OK ? seconds() - start : (double)NAN;
    free(direction);
    free(veil);
    return took;
}

int main(void) {
    size_t length;
    vs_ask ask;
    vs_faults faults = {0};
    vs_numerics_handler_off();
    char *text = tests_file("../data/demo/cellar.json", &length);
    double start = seconds();
    if (vs_ask_open(&ask, text, length, "data/demo/cellar.json", &demo_means, &faults) != VS_OK) {
        return 1;
    }
    printf("ask, open the cellar: %.1f ms\n", 1e3 * (seconds() - start));
    printf("ask, predict its first shot: %.1f ms\n", 1e3 * predict_s(&ask));
    double k[3] = {0.02, 0.015, 0.01}, dimmer[32];
    for (size_t i = 0; i < sizeof dimmer / sizeof dimmer[0]; i++) {
        dimmer[i] = i == 3 ? 0.5 : (double)NAN;
    }
    if (vs_ask_set(&ask, 0, k, NULL) != VS_OK) {
        return 1;
    }
    printf("ask, predict at a new density: %.1f ms", 1e3 * predict_s(&ask));
    printf(" (again, bounced light solved: %.1f ms;", 1e3 * predict_s(&ask));
    printf(" by a handle with nothing kept: %.1f ms)\n", 1e3 * predict_afresh_s(&ask, k));
    printf("ask, first %d lines of sight: %.1f ms\n", FEW, 1e3 * rays_s(&ask, FEW, true));
    printf("ask, %d more: %.1f ms\n", FEW, 1e3 * rays_s(&ask, FEW, true));
    printf("ask, %d lines without bounce: %.1f ms\n", MANY, 1e3 * rays_s(&ask, MANY, false));
    if (vs_ask_set(&ask, 0, k, dimmer) != VS_OK) {
        return 1;
    }
    printf("ask, %d lines at a new dimmer: %.1f ms\n", FEW, 1e3 * rays_s(&ask, FEW, true));
    k[0] = 0.025;
    if (vs_ask_set(&ask, 0, k, dimmer) != VS_OK) {
        return 1;
    }
    printf("ask, %d lines at a new density: %.1f ms\n", FEW, 1e3 * rays_s(&ask, FEW, true));
    vs_ask_close(&ask);
    free(text);
    return 0;
}
