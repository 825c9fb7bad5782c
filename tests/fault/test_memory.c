/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory runs out at each allocation in turn while a scene is read, a haze made, a shot predicted,
 * a day planned: that is reported, everything allocated is freed, and nothing crashes. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "failing.h"
#include "veilstop/optics/haze.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/predict.h"
#include "veilstop/scene/safety_file.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/predict.h"

/* An operation that allocates memory and frees all of it, whether it succeeds or not. */
typedef vs_status attempt(void *what);

/* Makes the attempt with its first allocation failing, then its second ..., until none does, which
 * must take at least `least` rounds if all allocations are seen, `parser` if only the parser's
 * are. */
static void run_out_of_memory(attempt *make, void *what, const char *name, long least,
                              long parser) {
    bool counting = is_counting();
    vs_status status = VS_ERR_MEMORY;
    long failures = 0;
    while (status != VS_OK && failures < 100000) {
        long before = alive;
        left = failures++;
        status = make(what);
        bool failed = left < 0;
        left = -1;
        if (failed && counting) {
            CHECK_STATUS(status, VS_ERR_MEMORY);
        }
        CHECK_TRUE(status == VS_OK || status == VS_ERR_MEMORY);
        CHECK_TRUE(!counting || alive == before);
    }
    CHECK_OK(status);
    CHECK_TRUE(failures > (counting ? least : parser));
    printf("measured: memory ran out at each of %ld allocations of %s: told each time\n",
           failures - 1, name);
}

typedef struct {
    const char *bytes;
    size_t length;
    vs_scene_places places;
} scene_text;

static vs_status read_scene(void *what) {
    const scene_text *text = what;
    vs_scene_file file;
    vs_faults faults = {0};
    vs_status status = vs_scene_file_init(&file, text->bytes, text->length, &text->places, &faults);
    CHECK_TRUE(status == VS_OK || file.memory == NULL);
    vs_scene_file_free(&file);
    return status;
}

static void a_scene(void **state) {
    (void)state;
    char folder[TESTS_PATH_SIZE];
    tests_path(folder, "cli/good");
    scene_text text = {.places = {.scene_directory = folder}};
    char *bytes = tests_file("cli/good/every_key.json", &text.length);
    text.bytes = bytes;
    run_out_of_memory(read_scene, &text, "a scene", 1000, 100);
    free(bytes);
}

static vs_status make_haze(void *what) {
    vs_haze haze;
    vs_status status = vs_haze_init(&haze, what);
    if (status != VS_OK) {
        CHECK_NAN(haze.extinction_m2_per_g.v[VS_BAND_GREEN]);
    }
    vs_haze_free(&haze);
    return status;
}

static void a_haze(void **state) {
    (void)state;
    vs_fluid fluid = {.density_g_per_ml = 1,
                      .half_life_s = INFINITY,
                      .index = {VS_INDEX_CONSTANT, {1.45, 0, 0}, 0},
                      .median_m = 0.3e-6,
                      .gsd = 1.4};
    run_out_of_memory(make_haze, &fluid, "a haze", 20, 0);
}

static vs_status safety_tables(void *what) {
    (void)what;
    vs_safety_file safety;
    vs_faults faults = {0};
    char *path;
    vs_status status = vs_safety_file_init(&safety, NULL, NULL, &faults, &path);
    CHECK_TRUE(path == NULL && (status == VS_OK || safety.memory == NULL));
    vs_safety_file_free(&safety);
    return status;
}

static void the_figures_behind_cautions(void **state) {
    (void)state;
    run_out_of_memory(safety_tables, NULL, "the limits, detectors and notices", 100, 100);
}

typedef struct {
    vs_fluid fluid;
    vs_safety_file safety;
    vs_scene scene;
} caution_case;

/* Whichever allocation failed, the cautions are there: they say what is missing and, if that
 * concerns a detector, to expect an alarm. */
static vs_status caution(void *what) {
    const caution_case *c = what;
    static const double extinction_per_m[1] = {1e-6}; /* under what any detector alarms at */
    const vs_style style = {VS_LENGTH_M, false};
    const vs_cautions_peaks peaks = {extinction_per_m, VS_CAUTIONS_BY_ANSWER};
    vs_caution_optics optics;
    vs_status status = vs_caution_optics_init(&optics, &c->fluid, &c->safety.tables);
    long rest = left;
    left = -1;
    vs_text text;
    vs_text_init(&text);
    vs_report_density_cautions(&text, &style, &c->scene, &c->safety.tables, &optics,
                               status == VS_OK ? NULL : vs_status_text(status), &peaks);
    for (char *at = text.bytes; at && *at; at++) {
        *at = *at == '\n' ? ' ' : *at; /* lines may break between any two words */
    }
    CHECK_TRUE(!text.failed && strstr(text.bytes, "Exits: ") && !strstr(text.bytes, "nan"));
    CHECK_TRUE(!strstr(text.bytes, "out of memory.") == (status == VS_OK));
    bool unseen = isnan(optics.at_detector[VS_DETECTOR_POINT]);
    bool unweighed = isnan(optics.low_m2_per_g) || isnan(optics.high_m2_per_g);
    CHECK_TRUE((strstr(text.bytes, "expect an") != NULL) == unseen);
    CHECK_TRUE((strstr(text.bytes, "mg/m3 of droplets") == NULL) == unweighed);
    bool lacking = unweighed;
    for (size_t kind = 0; kind < VS_DETECTOR_KIND_COUNT; kind++) {
        lacking = lacking || isnan(optics.at_detector[kind]);
    }
    CHECK_TRUE(lacking == (status != VS_OK));
    vs_text_free(&text);
    left = rest;
    return status;
}

static void the_cautions_of_an_answer(void **state) {
    (void)state;
    vs_scene_room room = {.name = "loft", .size_m = {9, 6, 3}};
    caution_case c = {.fluid = {.density_g_per_ml = 1,
                                .half_life_s = INFINITY,
                                .index = {VS_INDEX_CONSTANT, {1.45, 0, 0}, 0},
                                .median_m = 0.3e-6,
                                .gsd = 1.4},
                      .scene = {.room = &room, .room_count = 1}};
    vs_faults faults = {0};
    char *path;
    CHECK_OK(vs_safety_file_init(&c.safety, NULL, NULL, &faults, &path));
    run_out_of_memory(caution, &c, "an answer's cautions", 9, 0);
    vs_safety_file_free(&c.safety);
}

/* A shot predicted and reported as JSON and as a table. */
static vs_status predict_shot(vs_predictor *predictor, size_t shot) {
    const vs_scene *scene = predictor->scene;
    vs_shot_prediction prediction;
    vs_want_result want[16] = {{0}};
    vs_predict_answer answer = {&prediction, want};
    vs_style style = {VS_LENGTH_M, false};
    vs_text text;
    vs_json json;
    vs_text_init(&text);
    vs_json_begin(&json, &text);
    vs_status status = vs_predict_shot(predictor, shot, NULL, &prediction);
    if (status == VS_OK) {
        vs_report_predict_json(&json, scene, &answer);
        vs_report_predict_text(&text, &style, scene, &answer);
        status = text.failed ? VS_ERR_MEMORY : VS_OK;
        CHECK_TRUE(text.failed || !json.broken[0]);
    }
    vs_text_free(&text);
    vs_shot_prediction_free(&prediction);
    return status;
}

static vs_status predict_all(void *what) {
    const vs_scene *scene = what;
    vs_predictor first, beside = {0};
    vs_status status = vs_predictor_init(&first, scene);
    if (status == VS_OK) {
        status = vs_predictor_init_beside(&beside, &first);
    }
    for (size_t i = 0; i < scene->shot_count && status == VS_OK; i++) {
        status = predict_shot(i % 2 ? &first : &beside, i);
    }
    vs_predictor_free(&beside);
    vs_predictor_free(&first);
    return status;
}

static vs_status plan_day(void *what) {
    const vs_scene *scene = what;
    vs_haze haze;
    vs_dwell dwell;
    vs_status status = vs_haze_init(&haze, &scene->fluid);
    if (status == VS_OK) {
        status = vs_dwell_plan(scene, &haze, NULL, NULL, &dwell);
        vs_dwell_free(&dwell);
    }
    vs_haze_free(&haze);
    return status;
}

static void a_days_answers(void **state) {
    (void)state;
    size_t length;
    char *bytes = tests_file("cli/scenes/hall.json", &length);
    vs_scene_places places = {.scene_directory = "."};
    vs_scene_file file;
    vs_faults faults = {0};
    CHECK_OK(vs_scene_file_init(&file, bytes, length, &places, &faults));
    free(bytes);
    run_out_of_memory(predict_all, &file.scene, "a prediction, its table and its JSON", 50, 0);
    file.scene.indirect = VS_INDIRECT_COMPUTED;
    size_t shots = file.scene.shot_count;
    file.scene.shot_count = 1;
    run_out_of_memory(predict_all, &file.scene, "a prediction with bounced light", 30, 0);
    file.scene.shot_count = shots;
    run_out_of_memory(plan_day, &file.scene, "a day's plan", 8, 0);
    vs_scene_file_free(&file);
}

int main(void) {
    fail_in_the_parser();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_scene),
        cmocka_unit_test(a_haze),
        cmocka_unit_test(the_figures_behind_cautions),
        cmocka_unit_test(the_cautions_of_an_answer),
        cmocka_unit_test(a_days_answers),
    };
    return RUN_TESTS(tests);
}
