/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Indirect light laid between a few densities, against the same worked out at densities between:
 * the program's own prediction is the other party. Densities are random. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "shot/choose/choose_shot.h"
#include "shot/choose/choose_work.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/held.h"

#define DENSITIES 4
/* [1] of the light itself: as closely as the bounce is solved */
#define WITHIN 2e-4

static vs_shot_prediction predicted(vs_predictor *p, size_t shot, double k,
                                    vs_indirect_notes *notes) {
    const vs_predict_part part = {NULL, true, false, notes};
    double *room = calloc(p->scene->room_count, sizeof *room);
    vs_shot_prediction out;
    CHECK_OK(vs_held_rooms(p->scene, &p->scene->shot[shot], &p->haze, k, room));
    CHECK_OK(vs_predict_part_of_shot(p, shot, &part, room, &out));
    free(room);
    return out;
}

static void compare(const vs_shot_prediction *read, const vs_shot_prediction *solved,
                    double *worst) {
    for (size_t i = 0; i < solved->shot->point_count; i++) {
        const vs_point_prediction *a = &read->point[i], *b = &solved->point[i];
        CHECK_NEAR(vs_bands_luminance(a->hazed_nits), vs_bands_luminance(b->hazed_nits), WITHIN, 0);
        CHECK_NEAR(vs_bands_luminance(a->clear_nits), vs_bands_luminance(b->clear_nits), WITHIN, 0);
        CHECK_NEAR(vs_bands_luminance(a->surface_nits), vs_bands_luminance(b->surface_nits), WITHIN,
                   0);
        CHECK_NEAR(vs_bands_luminance(a->indirect_veil), vs_bands_luminance(b->indirect_veil),
                   WITHIN, 0);
        double is = vs_bands_luminance(b->indirect_veil);
        *worst = fmax(*worst, fabs(vs_bands_luminance(a->indirect_veil) - is) / is);
    }
    for (size_t i = 0; i < solved->beam_count; i++) {
        CHECK_NEAR(read->beam[i].background_nits, solved->beam[i].background_nits, WITHIN, 0);
        CHECK_NEAR(read->beam[i].beam_nits, solved->beam[i].beam_nits, 1e-12, 0);
    }
}

/* One lamp off: what began at the others stays. */
static void check_lamp_off(vs_predictor *p, vs_indirect_curve *curve, size_t lamp, double k,
                           double *worst) {
    p->dim[lamp] = 0;
    vs_shot_prediction read = predicted(p, curve->shot, k, vs_indirect_curve_at(curve, k));
    vs_shot_prediction solved = predicted(p, curve->shot, k, NULL);
    compare(&read, &solved, worst);
    p->dim[lamp] = 1;
    vs_shot_prediction_free(&read);
    vs_shot_prediction_free(&solved);
}

static double check_demo(const char *name, random_stream *r) {
    char path[TESTS_PATH_SIZE];
    vs_faults faults = {0};
    vs_scene_file file;
    vs_predictor p;
    double worst = 0;
    tests_path(path, name);
    CHECK_OK(vs_scene_file_load(&file, path, NULL, &faults));
    CHECK_OK(vs_predictor_init(&p, &file.scene));
    size_t count = file.scene.shot_count;
    vs_indirect_curve *curve = calloc(count, sizeof *curve);
    for (size_t i = 0; i < count; i++) {
        curve[i].shot = i;
        curve[i].search_end_per_m = vs_choose_search_end_per_m(&p, &file.scene.shot[i]);
    }
    CHECK_OK(vs_indirect_curves_make(&p, curve, count));
    for (size_t i = 0; i < count; i++) {
        CHECK_TRUE(curve[i].count > 0);
        CHECK_TRUE(vs_indirect_curve_at(&curve[i], 1.001 * curve[i].end_per_m) == NULL);
        for (int d = 0; d < DENSITIES; d++) {
            double k = curve[i].search_end_per_m * random_log_uniform(r, 1e-3, 1);
            vs_shot_prediction read = predicted(&p, i, k, vs_indirect_curve_at(&curve[i], k));
            vs_shot_prediction solved = predicted(&p, i, k, NULL);
            compare(&read, &solved, &worst);
            vs_shot_prediction_free(&read);
            vs_shot_prediction_free(&solved);
        }
        check_lamp_off(&p, &curve[i], file.scene.shot[i].light[0], 0.02, &worst);
        vs_indirect_curve_free(&curve[i]);
    }
    free(curve);
    vs_predictor_free(&p);
    vs_scene_file_free(&file);
    return worst;
}

static void light_between_densities_is_as_worked_out(void **state) {
    (void)state;
    static const char *const demo[] = {"../data/demo/cellar.json", "../data/demo/yard.json",
                                       "../data/demo/loft.json", "../data/demo/washroom.json"};
    random_stream r = {20261127};
    for (size_t d = 0; d < sizeof demo / sizeof demo[0]; d++) {
        double worst = check_demo(demo[d], &r);
        printf("measured: %s: indirect veil between densities within %.1e\n", demo[d], worst);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(light_between_densities_is_as_worked_out),
    };
    return RUN_TESTS(tests);
}
