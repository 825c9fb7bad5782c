/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The densities at which choose says that a want begins or ceases to be met, against the same found
 * by bisection of the program's own predictions, each solved by itself with nothing interpolated.
 * On the demo's scenes as they are, and with limits and lamps drawn at random. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/choose.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/want.h"

#define WITHIN       1e-3 /* [1] of the density: docs/physics.md, "choosing a density" */
#define BRACKET      0.02 /* [1] of the density: looked for it on both sides this far */
#define HALVINGS     14   /* down to 2.5e-6 of the density */
#define PLACES       12   /* densities at which a want is predicted anew to see whether it is met */
#define MARGIN       2e-3 /* [1] so near its limit a want may be either */
#define VARIANTS     1    /* of each scene */
#define LIMIT_BY     2.5  /* limits are drawn up to this factor off */
#define DIMMER_LEAST 0.3  /* [1] and dimmers down to this share */
#define SEED         20261128

/* One want of a shot, predicted at any density. */
typedef struct {
    vs_predictor *p;
    const vs_choices *chosen;
    size_t shot, want;
    vs_shot_prediction like; /* what it must look like */
    bool *asked;
    double *room_per_m;
} want_at;

static vs_shot_prediction predicted(const want_at *w, size_t shot, const vs_predict_part *part,
                                    double k) {
    vs_shot_prediction out;
    CHECK_OK(vs_held_rooms(w->p->scene, &w->p->scene->shot[shot], &w->p->haze, k, w->room_per_m));
    CHECK_OK(vs_predict_part_of_shot(w->p, shot, part, w->room_per_m, &out));
    return out;
}

static const vs_scene_want *want_of(const want_at *w) {
    return &w->p->scene->shot[w->shot].want[w->want];
}

static bool is_like_another(const want_at *w) {
    return want_of(w)->kind == VS_WANT_LIKE && want_of(w)->shot != w->shot;
}

static void want_begin(want_at *w) {
    const vs_scene *scene = w->p->scene;
    const vs_predict_part points = {NULL, true, false, NULL};
    w->asked = calloc(scene->shot[w->shot].want_count, sizeof *w->asked);
    w->room_per_m = calloc(scene->room_count, sizeof *w->room_per_m);
    CHECK_TRUE(w->asked && w->room_per_m);
    w->asked[w->want] = true;
    if (is_like_another(w)) {
        size_t other = want_of(w)->shot;
        w->like = predicted(w, other, &points, w->chosen->shot[other].planned_per_m);
    }
}

static void want_end(want_at *w) {
    if (is_like_another(w)) {
        vs_shot_prediction_free(&w->like);
    }
    free(w->asked);
    free(w->room_per_m);
}

static double margin_at(const want_at *w, double k) {
    const vs_predict_part part = {w->asked, false, false, NULL};
    const vs_scene *scene = w->p->scene;
    vs_shot_prediction there = predicted(w, w->shot, &part, k);
    const vs_shot_prediction *like = is_like_another(w) ? &w->like : &there;
    double margin = vs_want_evaluate(&there, w->want, &scene->camera[scene->shot[w->shot].camera],
                                     want_of(w)->kind == VS_WANT_LIKE ? like : NULL)
                        .margin;
    vs_shot_prediction_free(&there);
    return margin;
}

/* The crossing near a density; NaN: there is none within the bracket. */
static double bisected(const want_at *w, double near_per_m) {
    double low = near_per_m * (1 - BRACKET), high = near_per_m * (1 + BRACKET);
    bool met = margin_at(w, low) >= 0;
    if (met == (margin_at(w, high) >= 0)) {
        return NAN;
    }
    for (int i = 0; i < HALVINGS; i++) {
        double middle = (low + high) / 2;
        if ((margin_at(w, middle) >= 0) == met) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return (low + high) / 2;
}

/* What was compared. */
typedef struct {
    size_t crossings, places;
    double worst;
} tally;

static void check_crossing(const want_at *w, double told_per_m, tally *t) {
    if (isnan(told_per_m)) {
        return;
    }
    double is_per_m = bisected(w, told_per_m);
    double off = fabs(told_per_m - is_per_m) / is_per_m;
    if (!(off <= WITHIN)) {
        printf("shot %s, want %zu: told %.6g, is %.6g /m\n", w->p->scene->shot[w->shot].name,
               w->want, told_per_m, is_per_m);
    }
    CHECK_NEAR(told_per_m, is_per_m, WITHIN, 0);
    t->worst = fmax(t->worst, off);
    t->crossings++;
}

/* Beyond the densities said to meet a want none does. Between them some may not. */
static void check_outside(const want_at *w, const vs_choice *c, tally *t) {
    const vs_choice_want *told = &c->want[w->want];
    double low = isnan(told->at_least_per_m) ? 0 : told->at_least_per_m;
    double high = isnan(told->at_most_per_m) ? c->search_end_per_m : told->at_most_per_m;
    for (int i = 1; i <= PLACES; i++) {
        double part = (double)i / PLACES, k = c->search_end_per_m * part * part;
        if (!told->possible || k < low || k > high) {
            CHECK_TRUE(margin_at(w, k) <= MARGIN);
            t->places++;
        }
    }
}

static void check_choice(vs_predictor *p, const vs_choices *chosen, size_t shot, tally *t) {
    const vs_choice *c = &chosen->shot[shot];
    for (size_t i = 0; i < c->want_count; i++) {
        want_at w = {.p = p, .chosen = chosen, .shot = shot, .want = i};
        want_begin(&w);
        check_crossing(&w, c->want[i].at_least_per_m, t);
        check_crossing(&w, c->want[i].at_most_per_m, t);
        check_outside(&w, c, t);
        want_end(&w);
    }
}

static void check_scene(const vs_scene *scene, tally *t) {
    vs_predictor p;
    vs_choices chosen;
    CHECK_OK(vs_predictor_init(&p, scene));
    CHECK_OK(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &chosen));
    for (size_t i = 0; i < scene->shot_count; i++) {
        check_choice(&p, &chosen, i, t);
    }
    vs_choices_free(&chosen);
    vs_predictor_free(&p);
}

static void *copied(const void *from, size_t bytes) {
    void *copy = malloc(bytes + 1);
    CHECK_TRUE(copy != NULL);
    memcpy(copy, from, bytes);
    return copy;
}

/* The scene with other limits and lamps dimmed. */
static void check_varied(const vs_scene *scene, random_stream *r, tally *t) {
    vs_scene varied = *scene;
    vs_scene_shot *shot = copied(scene->shot, scene->shot_count * sizeof *shot);
    vs_light *light = copied(scene->light, scene->light_count * sizeof *light);
    vs_scene_want **want = calloc(scene->shot_count, sizeof *want);
    CHECK_TRUE(want != NULL);
    for (size_t i = 0; i < scene->light_count; i++) {
        light[i].dimmer *= random_log_uniform(r, DIMMER_LEAST, 1);
    }
    for (size_t i = 0; i < scene->shot_count; i++) {
        shot[i].want = want[i] = copied(shot[i].want, shot[i].want_count * sizeof *shot[i].want);
        for (size_t k = 0; k < shot[i].want_count; k++) {
            want[i][k].limit *= random_log_uniform(r, 1 / LIMIT_BY, LIMIT_BY);
        }
    }
    varied.shot = shot;
    varied.light = light;
    check_scene(&varied, t);
    for (size_t i = 0; i < scene->shot_count; i++) {
        free(want[i]);
    }
    free(want);
    free(shot);
    free(light);
}

static void densities_are_where_predictions_cross_their_limits(void **state) {
    (void)state;
    static const char *const demo[] = {"../data/demo/cellar.json", "../data/demo/yard.json",
                                       "../data/demo/loft.json", "../data/demo/washroom.json"};
    random_stream r = {SEED};
    for (size_t d = 0; d < sizeof demo / sizeof demo[0]; d++) {
        vs_scene_file file;
        tally t = {0};
        demo_scene(demo[d], &file);
        check_scene(&file.scene, &t);
        for (int i = 0; i < VARIANTS; i++) {
            check_varied(&file.scene, &r, &t);
        }
        CHECK_TRUE(t.crossings > 0);
        printf("measured: %s: %zu crossings within %.1e, none met at %zu other densities\n",
               demo[d], t.crossings, t.worst, t.places);
        vs_scene_file_free(&file);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(densities_are_where_predictions_cross_their_limits),
    };
    return RUN_TESTS(tests);
}
