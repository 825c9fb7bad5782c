/* SPDX-License-Identifier: GPL-3.0-or-later */
/* shot/grade: on predictions made by hand, so that every figure has a closed form. */
#include "check.h"

#include <math.h>

#include "parts.h"
#include "veilstop/shot/grade.h"

#define POINTS 4

/* Points into itself: not to be moved. */
typedef struct {
    vs_scene scene;
    vs_camera camera;
    vs_scene_shot shot;
    vs_scene_point point[POINTS];
    vs_point_prediction predicted[POINTS];
    vs_shot_prediction prediction;
} set;

/* Haze of one source: V = S (1 - T), T by distance. Grey, but for the veil's tint. */
static void add_point(set *s, size_t i, double transmission, double surface_nits) {
    const double source[VS_BAND_COUNT] = {2, 1.8, 1.5};
    vs_point_prediction *p = &s->predicted[i];
    p->transmission = vs_bands_grey(transmission);
    p->surface_nits = p->clear_nits = vs_bands_grey(surface_nits);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        p->veil_nits.v[b] = source[b] * (1 - transmission);
        p->hazed_nits.v[b] = surface_nits * transmission + p->veil_nits.v[b];
    }
}

static void set_init(set *s) {
    const set blank = {0};
    *s = blank;
    /* T2.8, ISO 800, 1/48 s: 12.5 x 7.84 x 48 / 800 = 5.88 cd/m2 is middle grey (ISO 2720) */
    s->camera = parts_camera(VS_CURVE_ACESCCT);
    s->scene.camera = &s->camera;
    s->scene.camera_count = 1;
    s->shot.point = s->point;
    s->shot.point_count = POINTS;
    s->prediction.shot = &s->shot;
    s->prediction.point = s->predicted;
    add_point(s, 0, 0.5, 3);
    s->predicted[0].hidden = true;
    add_point(s, 1, 0.8, 12);
    add_point(s, 2, 0.95, 0.2);
    add_point(s, 3, 0.5, 30);
}

static void the_grade_brings_the_point_back(void **state) {
    (void)state;
    set s;
    set_init(&s);
    vs_shot_grade grade;
    CHECK_TRUE(vs_shot_grade_default(&s.prediction) == 1);
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 1, &grade));
    const double per_nit = 0.18 / 5.88;
    const double source[VS_BAND_COUNT] = {2, 1.8, 1.5};
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        double veil = source[b] * 0.2 * per_nit;
        CHECK_NEAR(grade.depth.veil.v[b], veil, 1e-12, 0);
        CHECK_NEAR(grade.linear.slope.v[b], 1.25, 1e-12, 0);
        CHECK_NEAR(grade.linear.offset.v[b], -1.25 * veil, 1e-12, 0);
        double graded = s.predicted[1].hazed_nits.v[b] * per_nit * grade.linear.slope.v[b] +
                        grade.linear.offset.v[b];
        CHECK_NEAR(graded, 12 * per_nit, 1e-12, 0);
        /* black goes from the veil's signal to that of 0, which is 7.29 % (Academy S-2016-001) */
        CHECK_NEAR(grade.offset_percent.v[b], 7.29055341958355 - 100 * (log2(veil) + 9.72) / 17.52,
                   1e-9, 0);
    }
    CHECK_NEAR(grade.error_stops[1], 0, 0, 1e-12);
    CHECK_NAN(grade.error_stops[0]);
    CHECK_TRUE(grade.error_stops[2] < 0); /* nearer: too much is taken off */
    double e = 0.18 / 256, source_lum = 0.2126 * 2 + 0.7152 * 1.8 + 0.0722 * 1.5;
    double hazed = (30 * 0.5 + source_lum * 0.5) * per_nit;
    CHECK_NEAR(grade.error_stops[3],
               log2((1.25 * (hazed - source_lum * 0.2 * per_nit) + e) / (30 * per_nit + e)), 1e-9,
               1e-12);
    vs_shot_grade_free(&grade);
    vs_shot_grade_free(&grade);
}

static void the_cdl_is_fitted_over_what_the_shot_uses(void **state) {
    (void)state;
    set s;
    set_init(&s);
    vs_shot_grade grade;
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 1, &grade));
    const double per_nit = 0.18 / 5.88;
    CHECK_NEAR(grade.cdl.low, fmin(0.18 / 32, 0.2 * per_nit), 1e-12, 0);
    CHECK_NEAR(grade.cdl.high, fmax(0.18 * exp2(2.5), 30 * per_nit), 1e-12, 0);
    CHECK_TRUE(grade.cdl.worst_stops < 0.3 && grade.cdl.mean_stops < 0.1);
    vs_shot_grade_free(&grade);
    s.predicted[2].surface_nits = vs_bands_grey(0); /* black: no further down than the floor */
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 1, &grade));
    CHECK_NEAR(grade.cdl.low, 0.18 / 256, 1e-12, 0);
    vs_shot_grade_free(&grade);
}

static void part_of_the_haze_comes_back_in_part(void **state) {
    (void)state;
    set s;
    set_init(&s);
    vs_shot_grade none, half, all;
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 0, &none));
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 0.5, &half));
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 1, &all));
    CHECK_NEAR(none.linear.slope.v[0], 1, 1e-14, 0);
    CHECK_NEAR(none.cdl.worst_stops, 0, 0, 1e-6);
    CHECK_NEAR(half.noise.added_stops, 0.5 * log2(1.25), 1e-12, 0);
    CHECK_NEAR(all.noise.added_stops, log2(1.25), 1e-12, 0);
    CHECK_TRUE(half.cdl.worst_stops < all.cdl.worst_stops);
    CHECK_NEAR(half.latitude_stops, all.latitude_stops, 1e-14, 0);
    vs_shot_grade_free(&none);
    vs_shot_grade_free(&half);
    vs_shot_grade_free(&all);
}

/* Over the shares of the haze, the worst error is smallest at the share found: no share of a finer
 * search is better by more than its step allows. */
static void the_best_share_is_the_least_harm(void **state) {
    (void)state;
    set s;
    set_init(&s);
    vs_shot_grade_share best;
    CHECK_OK(vs_shot_grade_best(&s.scene, &s.prediction, 1, &best));
    CHECK_TRUE(best.recover > 0 && best.recover <= 1);
    const double per_nit = 0.18 / 5.88, e = 0.18 / 256;
    double least = INFINITY, at_found = 0;
    for (int i = 0; i <= 2500; i++) {
        double recover = i < 2500 ? i / 2499.0 : best.recover, worst = 0;
        vs_linear_grade grade;
        vs_depth depth = {s.predicted[1].transmission,
                          vs_bands_scale(s.predicted[1].veil_nits, per_nit)};
        CHECK_OK(vs_grade_undo(&depth, recover, &grade));
        for (size_t p = 1; p < POINTS; p++) {
            double clear = vs_bands_luminance(s.predicted[p].clear_nits) * per_nit, graded = 0;
            const double luma[] = {0.2126, 0.7152, 0.0722};
            for (int b = 0; b < VS_BAND_COUNT; b++) {
                graded += luma[b] * (s.predicted[p].hazed_nits.v[b] * per_nit * grade.slope.v[b] +
                                     grade.offset.v[b]);
            }
            worst = fmax(worst, fabs(log2((fmax(0, graded) + e) / (clear + e))));
        }
        least = fmin(least, worst);
        at_found = worst;
    }
    CHECK_NEAR(at_found, fabs(best.worst_stops), 1e-9, 0);
    CHECK_TRUE(at_found <= least + 5e-3);
    CHECK_STATUS(vs_shot_grade_best(&s.scene, &s.prediction, 0, &best), VS_ERR_DOMAIN);
    CHECK_NAN(best.recover);
    vs_shot_grade grade;
    CHECK_OK(vs_shot_grade_init(&s.scene, &s.prediction, 1, 1, &grade));
    size_t harm = vs_shot_grade_harm(&grade, POINTS);
    CHECK_TRUE(harm == (fabs(grade.error_stops[2]) > fabs(grade.error_stops[3]) ? 2 : 3));
    vs_shot_grade_free(&grade);
}

static void what_cannot_be_graded_says_so(void **state) {
    (void)state;
    set s;
    set_init(&s);
    vs_shot_grade grade;
    CHECK_STATUS(vs_shot_grade_init(&s.scene, &s.prediction, 0, 1, &grade), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_shot_grade_init(&s.scene, &s.prediction, POINTS, 1, &grade), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_shot_grade_init(&s.scene, &s.prediction, 1, 2, &grade), VS_ERR_DOMAIN);
    s.predicted[1].veil_nits = vs_bands_grey(5.88 * 100); /* over six stops: white all over */
    CHECK_STATUS(vs_shot_grade_init(&s.scene, &s.prediction, 1, 1, &grade), VS_ERR_UNREACHABLE);
    CHECK_TRUE(grade.error_stops == NULL);
    for (size_t i = 0; i < POINTS; i++) {
        s.predicted[i].hidden = true;
    }
    CHECK_TRUE(vs_shot_grade_default(&s.prediction) == VS_NONE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_grade_brings_the_point_back),
        cmocka_unit_test(the_cdl_is_fitted_over_what_the_shot_uses),
        cmocka_unit_test(part_of_the_haze_comes_back_in_part),
        cmocka_unit_test(the_best_share_is_the_least_harm),
        cmocka_unit_test(what_cannot_be_graded_says_so),
    };
    return RUN_TESTS(tests);
}
