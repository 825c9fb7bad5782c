/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Repeated predictions: parts alone, lamps dimmed and moved in between. */
#include "check.h"
#include "hall.h"

#include "veilstop/shot/predict.h"
#include "veilstop/shot/want.h"

#define SAME 2e-4 /* [1] */

static vs_shot_prediction predicted(vs_predictor *p, double k) {
    vs_shot_prediction prediction;
    CHECK_OK(vs_predict_shot(p, 0, &k, &prediction));
    return prediction;
}

/* Two points' veils and blacks of two predictions agree, as closely as the bounce is solved: the
 * number of its sweeps depends on which lights are solved for together. */
static void check_same(const vs_shot_prediction *a, const vs_shot_prediction *b) {
    for (size_t i = 0; i < 2; i++) {
        CHECK_NEAR(vs_bands_luminance(a->point[i].veil_nits),
                   vs_bands_luminance(b->point[i].veil_nits), SAME, 0);
        CHECK_NEAR(vs_bands_luminance(a->point[i].clear_nits),
                   vs_bands_luminance(b->point[i].clear_nits), SAME, 0);
        CHECK_NEAR(vs_bands_luminance(a->point[i].indirect_veil),
                   vs_bands_luminance(b->point[i].indirect_veil), SAME, 0);
    }
}

/* Bounced light solved once serves dimmed lamps, and is solved again for moved ones, as by a
 * predictor that never saw another light. */
static void bounced_light_follows_the_lamps(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0);
    h.scene.indirect = VS_INDIRECT_COMPUTED;
    hall_add_lamp(&h, (vs_vec3){14, 5, 3}, 300);
    hall_add_lamp(&h, (vs_vec3){6, 1, 3}, 200);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 17, 2);
    hall_add_point(&h, 18, 0.3);
    h.point[0][1].kind = VS_POINT_REFLECTANCE;
    h.point[0][1].facing = (vs_vec3){-1, 0, 0};
    vs_predictor used, fresh;
    CHECK_OK(vs_predictor_init(&used, &h.scene));
    vs_shot_prediction first = predicted(&used, 0.02), got, want;
    used.dim[0] = 0.3;
    used.dim[1] = 0;
    got = predicted(&used, 0.02);
    h.light[0].dimmer = 0.3;
    h.light[1].dimmer = 0;
    CHECK_OK(vs_predictor_init(&fresh, &h.scene));
    want = predicted(&fresh, 0.02);
    check_same(&got, &want);
    CHECK_TRUE(vs_bands_luminance(want.point[1].clear_nits) <
               0.5 * vs_bands_luminance(first.point[1].clear_nits));
    vs_shot_prediction_free(&got);
    vs_shot_prediction_free(&want);
    vs_predictor_free(&fresh);
    used.dim[0] = used.dim[1] = 1;
    h.light[0].at_m = (vs_vec3){9, 5, 2};
    h.light[1].dimmer = 1;
    got = predicted(&used, 0.02);
    CHECK_OK(vs_predictor_init(&fresh, &h.scene));
    want = predicted(&fresh, 0.02);
    check_same(&got, &want);
    vs_shot_prediction_free(&got);
    vs_shot_prediction_free(&want);
    vs_shot_prediction_free(&first);
    vs_predictor_free(&fresh);
    vs_predictor_free(&used);
}

/* A part of a prediction has the figures of the whole. */
static void a_part_is_as_the_whole(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0.4);
    hall_add_lamp(&h, (vs_vec3){14, 5, 3}, 300);
    hall_add_spot(&h, (vs_vec3){6, 5, 3.5}, (vs_vec3){9, 1, 0.5}, 12, 900);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 17, 2);
    hall_add_point(&h, 5, 12);
    hall_add_point(&h, 8, 1);
    hall_add_want(&h, VS_WANT_CONTRAST, 0.8);
    hall_add_want(&h, VS_WANT_BLACK, 5)->a = 2;
    vs_scene_want *beam = hall_add_want(&h, VS_WANT_BEAM, 0.8);
    beam->near_m = (vs_vec3){7.5, 3, 2};
    beam->light = 1;
    hall_add_want(&h, VS_WANT_GLOW, 0.01);
    double k = 0.05;
    vs_predictor p;
    vs_shot_prediction whole, part;
    CHECK_OK(vs_predictor_init(&p, &h.scene));
    CHECK_OK(vs_predict_shot(&p, 0, &k, &whole));
    for (size_t i = 0; i < 4; i++) {
        bool asked[4] = {i == 0, i == 1, i == 2, i == 3};
        const vs_predict_part one = {asked, false, false, NULL};
        CHECK_OK(vs_predict_part_of_shot(&p, 0, &one, &k, &part));
        double value = vs_want_evaluate(&whole, i, &h.camera[0], NULL).value;
        CHECK_NEAR(vs_want_evaluate(&part, i, &h.camera[0], NULL).value, value, 0, 0);
        CHECK_TRUE(value > 0 && part.point[i == 1 ? 0 : 2].distance_m == 0);
        vs_shot_prediction_free(&part);
    }
    vs_shot_prediction_free(&whole);
    vs_predictor_free(&p);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bounced_light_follows_the_lamps),
        cmocka_unit_test(a_part_is_as_the_whole),
    };
    return RUN_TESTS(tests);
}
