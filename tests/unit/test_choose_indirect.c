/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Indirect light laid between a few densities, against the same worked out at densities between:
 * the program's own prediction is the other party. Densities are random. */
#include "check.h"
#include "demo.h"
#include "runner.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "shot/choose/choose_shot.h"
#include "shot/choose/choose_work.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/want.h"

#define DENSITIES 6
#define PLANNED   0.023 /* [1/m] of every other shot */
#define WITHIN    1e-3  /* [1] of all light at a place: docs/physics.md */
#define OF_ITSELF 2e-3  /* [1] of the indirect veil, which is a part of it */

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
                   OF_ITSELF, 0);
        double is = vs_bands_luminance(b->indirect_veil);
        *worst =
            is > 0 ? fmax(*worst, fabs(vs_bands_luminance(a->indirect_veil) - is) / is) : *worst;
    }
    for (size_t i = 0; i < solved->beam_count; i++) {
        CHECK_NEAR(read->beam[i].background_nits, solved->beam[i].background_nits, WITHIN, 0);
        CHECK_NEAR(read->beam[i].beam_nits, solved->beam[i].beam_nits, 1e-12, 0);
    }
}

/* A density that is planned is no interpolation. */
static void check_planned(vs_predictor *p, vs_indirect_curve *curve) {
    vs_indirect_notes *notes = vs_indirect_curve_exactly(curve, PLANNED);
    CHECK_TRUE(notes != NULL);
    vs_shot_prediction read = predicted(p, curve->shot, PLANNED, notes);
    vs_shot_prediction solved = predicted(p, curve->shot, PLANNED, NULL);
    for (size_t i = 0; i < solved.shot->point_count; i++) {
        const vs_point_prediction *a = &read.point[i], *b = &solved.point[i];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            CHECK_TRUE(a->hazed_nits.v[band] == b->hazed_nits.v[band]);
            CHECK_TRUE(a->veil_nits.v[band] == b->veil_nits.v[band]);
            CHECK_TRUE(a->clear_nits.v[band] == b->clear_nits.v[band]);
        }
    }
    for (size_t i = 0; i < solved.beam_count; i++) {
        CHECK_TRUE(read.beam[i].background_nits == solved.beam[i].background_nits);
    }
    vs_shot_prediction_free(&read);
    vs_shot_prediction_free(&solved);
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
    vs_scene_file file;
    vs_predictor p;
    double worst = 0;
    demo_scene(name, &file);
    CHECK_OK(vs_predictor_init(&p, &file.scene));
    size_t count = file.scene.shot_count;
    vs_indirect_curve *curve = calloc(count, sizeof *curve);
    for (size_t i = 0; i < count; i++) {
        curve[i].shot = i;
        curve[i].search_end_per_m = vs_choose_search_end_per_m(&p, &file.scene.shot[i]);
        curve[i].planned_per_m = i % 2 ? (double)NAN : PLANNED;
    }
    CHECK_OK(vs_indirect_curves_make(&p, curve, count));
    for (size_t i = 0; i < count; i++) {
        CHECK_TRUE(curve[i].count > 0);
        CHECK_TRUE(vs_indirect_curve_at(&curve[i], 1.001 * curve[i].end_per_m) == NULL);
        CHECK_TRUE(vs_indirect_curve_exactly(&curve[i], 0.0987654321) == NULL);
        if (i % 2 == 0) {
            check_planned(&p, &curve[i]);
        }
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

/* Light is linear in each lamp: a lamp off, by what was written down with all on, is the prediction
 * without it. */
static void a_lamp_off_is_read_from_notes(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor p;
    demo_scene("../data/demo/cellar.json", &file);
    CHECK_OK(vs_predictor_init(&p, &file.scene));
    for (size_t shot = 0; shot < file.scene.shot_count; shot++) {
        const vs_scene_shot *s = &file.scene.shot[shot];
        size_t beams = vs_want_beam_place(s, s->want_count);
        size_t count = vs_note_count(s->point_count, beams) * file.scene.light_count;
        vs_indirect_notes notes = {.points = s->point_count};
        notes.note = calloc(count, sizeof *notes.note);
        notes.direct = calloc(count, sizeof *notes.direct);
        vs_shot_prediction all = predicted(&p, shot, PLANNED, &notes);
        notes.known = notes.direct_known = true;
        for (size_t i = 0; i < s->light_count; i++) {
            p.dim[s->light[i]] = 0;
            vs_shot_prediction read = predicted(&p, shot, PLANNED, &notes);
            vs_shot_prediction solved = predicted(&p, shot, PLANNED, NULL);
            p.dim[s->light[i]] = 1;
            for (size_t k = 0; k < s->point_count; k++) {
                CHECK_NEAR(vs_bands_luminance(read.point[k].hazed_nits),
                           vs_bands_luminance(solved.point[k].hazed_nits), 1e-9, 1e-12);
                CHECK_NEAR(vs_bands_luminance(read.point[k].clear_nits),
                           vs_bands_luminance(solved.point[k].clear_nits), 1e-9, 1e-12);
            }
            for (size_t k = 0; k < beams; k++) {
                CHECK_NEAR(read.beam[k].beam_nits, solved.beam[k].beam_nits, 1e-9, 1e-12);
                CHECK_NEAR(read.beam[k].background_nits, solved.beam[k].background_nits, 1e-4, 0);
            }
            vs_shot_prediction_free(&read);
            vs_shot_prediction_free(&solved);
        }
        vs_shot_prediction_free(&all);
        free(notes.note);
        free(notes.direct);
    }
    vs_predictor_free(&p);
    vs_scene_file_free(&file);
}

static vs_choices chosen_by(const vs_scene *scene, const vs_runner *runner) {
    vs_predictor p;
    vs_choices c;
    CHECK_OK(vs_predictor_init(&p, scene));
    p.runner = runner;
    CHECK_OK(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &c));
    vs_predictor_free(&p);
    return c;
}

/* Whoever does the work, in whatever order: the answer is the same to the last digit. */
static void workers_do_not_change_the_answer(void **state) {
    (void)state;
    vs_scene_file file;
    size_t jobs = 0;
    const vs_runner runner = backwards_runner(&jobs);
    demo_scene("../data/demo/cellar.json", &file);
    vs_choices alone = chosen_by(&file.scene, NULL), shared = chosen_by(&file.scene, &runner);
    CHECK_TRUE(jobs >= 5);
    for (size_t i = 0; i < alone.shot_count; i++) {
        const vs_choice *a = &alone.shot[i], *b = &shared.shot[i];
        CHECK_TRUE(a->recommended_per_m == b->recommended_per_m);
        CHECK_TRUE(a->want_count > 0 && a->want_count == b->want_count);
        for (size_t w = 0; w < a->want_count; w++) {
            CHECK_TRUE(a->want[w].planned.value == b->want[w].planned.value);
            CHECK_TRUE(a->want[w].recommended.margin == b->want[w].recommended.margin);
        }
    }
    vs_choices_free(&alone);
    vs_choices_free(&shared);
    vs_scene_file_free(&file);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lamp_off_is_read_from_notes),
        cmocka_unit_test(workers_do_not_change_the_answer),
        cmocka_unit_test(light_between_densities_is_as_worked_out),
    };
    return RUN_TESTS(tests);
}
