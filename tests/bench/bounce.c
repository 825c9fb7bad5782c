/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What bounced light costs in the demo's cellar: to open it with a first shot, a density not seen
 * before, a line of sight - beside the once-scattered light of the same lines - and a place on a
 * wall. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "shot/predict/camera_setup.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/predict.h"

#define BEST_OF 5
#define ACROSS  20
#define DOWN    12
#define RAYS    (ACROSS * DOWN)
#define PLACES  200
#define LAMPS   64

static double ray_s(const vs_bounce *bounce, vs_camera_setup *setup, bool bounced) {
    vs_bands once[LAMPS], more[LAMPS];
    const vs_predictor *p = setup->predictor;
    double began = clock_now_s();
    for (size_t i = 0; i < LAMPS; i++) {
        once[i] = vs_bands_grey(0);
    }
    for (int n = 0; n < RAYS; n++) {
        vs_vec3 way = {1, (n % ACROSS - ACROSS / 2 + 0.5) * 0.05,
                       (n / ACROSS - DOWN / 2 + 0.5) * 0.04};
        vs_camera_ray sight =
            vs_camera_ray_along(&setup->hazed, setup->camera->at_m, vs_vec3_unit(way), INFINITY);
        for (size_t i = 0; i < p->scene->light_count && !bounced; i++) {
            CHECK_OK(vs_airlight_fast(&setup->predictor->work, &setup->hazed, &sight,
                                      &p->hazed_light[i], &once[i]));
        }
        if (bounced) {
            CHECK_OK(vs_bounce_veil(bounce, &setup->hazed, &sight, once, more));
        }
    }
    return (clock_now_s() - began) / RAYS;
}

static double place_s(const vs_bounce *bounce, const vs_camera_setup *setup) {
    const vs_vec3 west = {-1, 0, 0};
    vs_bands lux[LAMPS];
    double began = clock_now_s();
    for (int n = 0; n < PLACES; n++) {
        const vs_vec3 at = {9, 1 + 0.003 * n, 1.5};
        CHECK_OK(vs_bounce_lux(bounce, &setup->hazed, at, west, NULL, lux));
    }
    return (clock_now_s() - began) / PLACES;
}

int main(void) {
    char path[TESTS_PATH_SIZE];
    vs_scene_file file;
    vs_faults faults = {0};
    double open = INFINITY, density = INFINITY, once = INFINITY, ray = INFINITY, place = INFINITY;
    tests_begin();
    tests_path(path, "../data/demo/cellar.json");
    CHECK_OK(vs_scene_file_load(&file, path, NULL, &faults));
    for (int n = 0; n < BEST_OF; n++) {
        vs_predictor p;
        vs_shot_prediction shot;
        vs_bounce next;
        double k[] = {0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03}, began = clock_now_s();
        CHECK_TRUE(file.scene.room_count <= sizeof k / sizeof *k);
        CHECK_OK(vs_predictor_init(&p, &file.scene));
        CHECK_OK(vs_predict_shot(&p, 0, k, &shot));
        open = fmin(open, clock_now_s() - began);
        for (size_t r = 0; r < file.scene.room_count; r++) {
            k[r] = 0.031;
        }
        vs_camera_setup setup = vs_camera_setup_make(&p, &file.scene.shot[0], k);
        began = clock_now_s();
        CHECK_OK(vs_bounce_solve(&p.bounces[p.in_hand], &setup.hazed, p.hazed_light, &next));
        density = fmin(density, clock_now_s() - began);
        once = fmin(once, ray_s(&next, &setup, false));
        ray = fmin(ray, ray_s(&next, &setup, true));
        place = fmin(place, place_s(&next, &setup));
        vs_shot_prediction_free(&shot);
        vs_bounce_free(&next);
        vs_predictor_free(&p);
    }
    printf("bounced light in the cellar, one core: open and predict %.0f ms; a new density %.0f "
           "ms, %.2f of "
           "that\n",
           1e3 * open, 1e3 * density, density / open);
    printf("  a line of sight %.0f us, %.1f times its once-scattered light (%.0f us); a place %.0f "
           "us\n",
           1e6 * ray, ray / once, 1e6 * once, 1e6 * place);
    vs_scene_file_free(&file);
    return 0;
}
