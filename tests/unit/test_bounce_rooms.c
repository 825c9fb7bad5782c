/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight rooms, each built to expose one rule of the bounced light, against kept random walks: a
 * narrow beam onto a near dark wall, lines of sight that end in a pool of light and beside it, a
 * bright room beyond a door, a deep room with a white floor, a shadow in the middle of a patch of
 * wall, seen from near and across the room, a line of sight beside a narrow beam, the dark beyond a
 * door. The references are our own, computed by random walks
 * (trust), which share no transport with the prediction. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/predict.h"

#define ROWS   49
#define SIGMAS 3 /* of the walks' own error, allowed on top */

typedef struct {
    vs_scene_file file;
    vs_predictor predictor;
    vs_shot_prediction prediction;
} predicted;

static void predict(const char *room, predicted *p) {
    char name[128];
    snprintf(name, sizeof name, "reference/rooms/%s.json", room);
    demo_scene(name, &p->file);
    CHECK_OK(vs_predictor_init(&p->predictor, &p->file.scene));
    CHECK_OK(vs_predict_shot(&p->predictor, 0, NULL, &p->prediction));
}

static void predicted_free(predicted *p) {
    vs_shot_prediction_free(&p->prediction);
    vs_predictor_free(&p->predictor);
    vs_scene_file_free(&p->file);
}

static double nits_of(const predicted *p, const char *point, const char *light) {
    const vs_scene_shot *shot = &p->file.scene.shot[0];
    for (size_t i = 0; i < shot->point_count; i++) {
        const vs_point_prediction *at = &p->prediction.point[i];
        if (strcmp(shot->point[i].name, point) == 0) {
            return vs_bands_luminance(strcmp(light, "clear") == 0  ? at->clear_nits
                                      : strcmp(light, "veil") == 0 ? at->veil_nits
                                                                   : at->hazed_nits);
        }
    }
    fail_msg("no point %s", point);
    return NAN;
}

static void rooms_that_expose_a_rule(void **state) {
    (void)state;
    predicted p;
    const char *room = "";
    double worst = 0;
    int close = 0;
    table t = table_read("rooms.csv", ROWS);
    for (size_t i = 0; i < ROWS; i++) {
        const char *next = table_text(&t, i, "room");
        if (strcmp(next, room) != 0) {
            if (*room) {
                predicted_free(&p);
            }
            predict(room = next, &p);
        }
        double want = table_number(&t, i, "nits"), within = table_number(&t, i, "within");
        double got = nits_of(&p, table_text(&t, i, "point"), table_text(&t, i, "light"));
        CHECK_NEAR(got, want, within, SIGMAS * table_number(&t, i, "error_nits"));
        worst = fmax(worst, fabs(got / want - 1));
        close += fabs(got / want - 1) <= 0.02;
    }
    predicted_free(&p);
    table_free(&t);
    printf("measured: eight rooms by walks: %d of %d luminances within 2 %%, worst %.1f %%\n",
           close, ROWS, 100 * worst);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(rooms_that_expose_a_rule)};
    return RUN_TESTS(tests);
}
