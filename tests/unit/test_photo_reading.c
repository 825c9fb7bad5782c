/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Extinction from two photos, on luminances that predictions of the demo and of locations drawn at
 * random give (no rule was set on them), with a photo's noise and lamps brighter or darker than the
 * scene has them: the stated interval holds the truth nine times in ten. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "location.h"
#include "veilstop/air/rooms.h"
#include "veilstop/base/units.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/photo_reading.h"

#define FIRST_SEED 97001 /* of locations that no rule here was set on */
#define SCENES     10
#define DENSITIES  3  /* of each */
#define PHOTOS     10 /* of each density */

static double normal(random_stream *r) {
    double u = random_uniform(r, 1e-12, 1), v = random_uniform(r, 0, 1);
    return sqrt(-2 * log(u)) * cos(2 * VS_PI * v);
}

/* What the points show in a haze; R, T and V apart. */
typedef struct {
    vs_bands clear, through, veil;
    bool lit; /* by the lamps; else it shines by itself */
} shown;

static void show(vs_predictor *predictor, double k, shown *of, const size_t *point, size_t count) {
    static const vs_predict_part points = {.points = true};
    vs_shot_prediction p;
    double rooms[VS_ROOMS_MAX];
    CHECK_OK(
        vs_held_rooms(predictor->scene, &predictor->scene->shot[0], &predictor->haze, k, rooms));
    CHECK_OK(vs_predict_part_of_shot(predictor, 0, &points, rooms, &p));
    for (size_t i = 0; i < count; i++) {
        const vs_point_prediction *at = &p.point[point[i]];
        of[i].clear = at->clear_nits;
        of[i].through = vs_bands_mul(at->surface_nits, at->transmission);
        of[i].veil = at->veil_nits;
        of[i].lit = predictor->scene->shot[0].point[point[i]].kind == VS_POINT_REFLECTANCE;
    }
    vs_shot_prediction_free(&p);
}

/* A photo: each band off by its own share, and by a floor of noise.
 * lamps  how bright they are over the scene's  veils  and the veil over what they make: the scene
 * has their proportions wrong */
static void photograph(random_stream *r, const shown *of, size_t count, double sd, double lamps,
                       double veils, double floor_nits, const size_t *point,
                       vs_photo_patch *patch) {
    for (size_t i = 0; i < count; i++) {
        patch[i].point = point[i];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double own = of[i].lit ? lamps : 1, clear = own * of[i].clear.v[band];
            double hazed = own * of[i].through.v[band] + lamps * veils * of[i].veil.v[band];
            double clear_sd = hypot(sd * clear, floor_nits),
                   hazed_sd = hypot(sd * hazed, floor_nits);
            patch[i].clear.v[band] = fmax(clear + clear_sd * normal(r), 0.1 * clear);
            patch[i].hazed.v[band] = fmax(hazed + hazed_sd * normal(r), 0.1 * hazed);
            patch[i].clear_sd.v[band] = clear_sd;
            patch[i].hazed_sd.v[band] = hazed_sd;
        }
    }
}

typedef struct {
    size_t trials, read, inside, near, good;
    double worst;
} tally;

/* Points of a shot that are seen and not black. */
static size_t seen_points(vs_predictor *predictor, size_t *point) {
    static const vs_predict_part points = {.points = true};
    const vs_scene *scene = predictor->scene;
    vs_shot_prediction p;
    double rooms[VS_ROOMS_MAX] = {0};
    size_t count = 0;
    CHECK_OK(vs_predict_part_of_shot(predictor, 0, &points, rooms, &p));
    for (size_t i = 0; i < scene->shot[0].point_count; i++) {
        bool lit = !p.point[i].hidden;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            lit = lit && p.point[i].clear_nits.v[band] > 1e-3;
        }
        if (lit) {
            point[count++] = i;
        }
    }
    vs_shot_prediction_free(&p);
    return count;
}

static void try_scene(const vs_scene *scene, random_stream *r, tally *t) {
    vs_predictor predictor;
    vs_photo_model model;
    size_t point[VS_PHOTO_POINTS_MAX];
    shown of[VS_PHOTO_POINTS_MAX];
    vs_photo_patch patch[VS_PHOTO_POINTS_MAX];
    CHECK_OK(vs_predictor_init(&predictor, scene));
    size_t count = seen_points(&predictor, point);
    if (count >= 2) {
        CHECK_OK(vs_photo_model_init(&model, &predictor, 0, point, count, 0.03));
        for (int d = 0; d < DENSITIES; d++) {
            double k = random_log_uniform(r, 0.015, 0.1);
            double floor_nits = vs_camera_grey_nits(&scene->camera[scene->shot[0].camera]) * 1e-4;
            show(&predictor, k, of, point, count);
            for (int i = 0; i < PHOTOS; i++) {
                vs_photo_reading reading;
                photograph(r, of, count, random_log_uniform(r, 0.005, 0.03),
                           random_uniform(r, 0.7, 1.4), exp(0.4 * normal(r)), floor_nits, point,
                           patch);
                vs_status status = vs_photo_read(&model, patch, count, &reading);
                CHECK_TRUE(status == VS_OK || status == VS_ERR_UNREACHABLE);
                t->trials++;
                if (status != VS_OK) {
                    continue;
                }
                double off = fabs(reading.extinction_per_m / k - 1);
                bool inside = reading.low_per_m <= k && k <= reading.high_per_m;
                t->read++;
                t->inside += inside;
                t->near += off <= 0.05;
                t->good += inside || off <= 0.05;
                t->worst = fmax(t->worst, inside ? 0 : off);
            }
        }
        vs_photo_model_free(&model);
    }
    vs_predictor_free(&predictor);
}

static void load_demo(const char *name, vs_scene_file *file) {
    char from[64];
    snprintf(from, sizeof from, "../data/demo/%s.json", name);
    demo_scene(from, file);
}

static void three_hundred_trials(void **state) {
    (void)state;
    random_stream r = {FIRST_SEED};
    tally t = {0};
    for (uint64_t i = 0; t.trials < 300 && i < 10 * SCENES; i++) {
        vs_scene_file file;
        location_read(FIRST_SEED + i, 1 + i % 2, &file);
        try_scene(&file.scene, &r, &t);
        vs_scene_file_free(&file);
    }
    print_message("%zu trials, %zu read: the 90 %% interval holds %.1f %%, within 5 %% %.1f %%, "
                  "either %.1f %%, worst outside the interval off by %.0f %%\n",
                  t.trials, t.read, 100.0 * (double)t.inside / (double)t.read,
                  100.0 * (double)t.near / (double)t.read, 100.0 * (double)t.good / (double)t.read,
                  100 * t.worst);
    CHECK_TRUE(t.trials >= 300 && t.read >= 0.95 * (double)t.trials);
    double held = (double)t.inside / (double)t.read;
    CHECK_TRUE(held >= 0.85 && held <= 0.95);
}

/* Without noise the truth comes back, whatever the lamps. */
static void the_truth_without_noise(void **state) {
    (void)state;
    vs_scene_file file;
    vs_predictor predictor;
    vs_photo_model model;
    size_t point[VS_PHOTO_POINTS_MAX];
    shown of[VS_PHOTO_POINTS_MAX];
    vs_photo_patch patch[VS_PHOTO_POINTS_MAX];
    random_stream r = {3};
    load_demo("cellar", &file);
    CHECK_OK(vs_predictor_init(&predictor, &file.scene));
    size_t count = seen_points(&predictor, point);
    CHECK_TRUE(count == 3);
    CHECK_OK(vs_photo_model_init(&model, &predictor, 0, point, count, 0.03));
    for (double k = 0.01; k < 0.12; k *= 1.7) {
        vs_photo_reading reading;
        show(&predictor, k, of, point, count);
        photograph(&r, of, count, 1e-7, 1.3, 1, 0, point, patch);
        CHECK_OK(vs_photo_read(&model, patch, count, &reading));
        CHECK_NEAR(reading.extinction_per_m, k, 0.01, 0);
        CHECK_NEAR(reading.veil_ratio, 1.3, 0.02, 0);
        CHECK_TRUE(reading.low_per_m <= reading.extinction_per_m &&
                   reading.extinction_per_m <= reading.high_per_m && reading.off_share < 0.01);
    }
    /* one is no reading, and swapped photos are none */
    vs_photo_reading reading;
    CHECK_STATUS(vs_photo_read(&model, patch, 1, &reading), VS_ERR_INPUT);
    CHECK_NAN(reading.extinction_per_m);
    patch[0].hazed.v[1] = 0;
    CHECK_STATUS(vs_photo_read(&model, patch, count, &reading), VS_ERR_DOMAIN);
    vs_photo_model_free(&model);
    CHECK_STATUS(vs_photo_model_init(&model, &predictor, 0, point, 0, 0.03), VS_ERR_DOMAIN);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_truth_without_noise),
        cmocka_unit_test(three_hundred_trials),
    };
    return RUN_TESTS(tests);
}
