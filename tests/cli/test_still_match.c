/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The camera of a photo by the library's door: words for places, the answer's form, one line for
 * each set that tells none. Pixels are those of the demo's own camera by the pinhole's definition;
 * how exact the fit is: unit/test_match.c. */
#include "check.h"
#include "demo.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "veilstop/ask/ask.h"
#include "veilstop/base/units.h"
#include "veilstop/camera/view.h"

#define WIDTH  1920
#define HEIGHT 1080
#define TEXT   4096

static void open_cellar(vs_ask *ask) {
    size_t length;
    vs_faults faults = {0};
    char *text = tests_file("../data/demo/cellar.json", &length);
    CHECK_OK(vs_ask_open(ask, text, length, "data/demo/cellar.json", &demo_means, &faults));
    free(text);
}

/* A place of the cellar in words, and where that is. */
typedef struct {
    const char *word;
    vs_vec3 at_m;
} place;

static const place places[] = {{"corner:floor-south-east", {9, 0, 0}},
                               {"opening:cellar door:top-north", {9, 2.9, 2.1}},
                               {"6, 6 ft,50 cm", {6, 1.8288, 0.5}},
                               {"corner:cellar:north-east-floor", {9, 5, 0}},
                               {"opening:cellar door:south-bottom", {9, 1.9, 0}},
                               {"point:face", {4.2, 2.2, 1.6}},
                               {"7.2,4.2,0.5", {7.2, 4.2, 0.5}}};
#define PLACES (sizeof places / sizeof *places)

/* A camera's pixels of places, as an option's value. */
static void pairs_seen(const vs_camera *by, const place *seen, size_t count, char text[TEXT]) {
    vs_camera camera = *by;
    double pixel_m = vs_view_pixel_m(&camera, WIDTH, HEIGHT);
    camera.sensor_width_m = pixel_m * WIDTH;
    camera.sensor_height_m = pixel_m * HEIGHT;
    vs_view view = vs_view_make(&camera);
    size_t length = 0;
    for (size_t i = 0; i < count; i++) {
        double x, y;
        CHECK_TRUE(vs_view_place(&view, seen[i].at_m, &x, &y));
        length += (size_t)snprintf(text + length, TEXT - length, "%s%.4f,%.4f=%s", i ? "; " : "",
                                   WIDTH / 2.0 * (1 + x), HEIGHT / 2.0 * (1 - y), seen[i].word);
    }
}

/* Camera A's pixels of the first so many places. */
static void pairs_of(const vs_scene *scene, size_t count, char text[TEXT]) {
    pairs_seen(&scene->camera[0], places, count, text);
}

static vs_ask_answer ask_match(vs_ask *ask, const char *pairs, const char *form) {
    const char *const word[] = {"still",   "--shot", "1 wide", "--size", "1920x1080",
                                "--match", pairs,    form,     NULL};
    vs_ask_answer answer;
    CHECK_OK(vs_ask_command_run(ask, word, &answer));
    return answer;
}

static void words_for_places_give_the_camera(void **state) {
    (void)state;
    vs_ask ask;
    char pairs[TEXT];
    open_cellar(&ask);
    const vs_camera *a = &vs_ask_scene_of(&ask)->camera[0];
    pairs_of(vs_ask_scene_of(&ask), PLACES, pairs);
    vs_ask_answer got = ask_match(&ask, pairs, "--json");
    CHECK_TRUE(got.exit == VS_EXIT_DONE);
    const char *at = strstr(got.text, "\"at\":[");
    CHECK_TRUE(at != NULL);
    CHECK_NEAR(program_number_after(got.text, "\"at\":["), a->at_m.x, 0, 1e-3);
    CHECK_NEAR(program_number_after(got.text, "\"focal_mm\":"), 32, 0, 0.01);
    CHECK_NEAR(program_number_after(got.text, "\"roll_deg\":"), 0, 0, 0.01);
    CHECK_TRUE(program_number_after(got.text, "\"residual_px\":") < 0.01);
    CHECK_TRUE(strstr(got.text, "\"command\":\"still\"") && strstr(got.text, "\"others\":[]"));
    vs_ask_answer_free(&got);
    got = ask_match(&ask, pairs, NULL);
    CHECK_TRUE(got.exit == VS_EXIT_DONE && strstr(got.text, "camera of the photo, by 7 pairs"));
    CHECK_TRUE(strstr(got.text, "Defer to local code") != NULL);
    program_check_lines(got.text);
    vs_ask_answer_free(&got);
    /* three pairs: the focal length is the scene's */
    pairs_of(vs_ask_scene_of(&ask), 3, pairs);
    got = ask_match(&ask, pairs, "--json");
    CHECK_TRUE(got.exit == VS_EXIT_DONE);
    CHECK_NEAR(program_number_after(got.text, "\"at\":["), a->at_m.x, 0, 1e-3);
    vs_ask_answer_free(&got);
    vs_ask_close(&ask);
}

static void each_fault_is_one_line(void **state) {
    (void)state;
    static const struct {
        const char *pairs, *message;
        vs_exit exit;
    } bad[] = {
        {"10,10=corner:floor-west-north", "four pairs or more", VS_EXIT_INPUT},
        {"10,10", "pair 1 must be X,Y=PLACE", VS_EXIT_USAGE},
        {"10,x=1,2,3", "pair 1 must be X,Y=PLACE", VS_EXIT_USAGE},
        {"10,2000=1,2,3", "must lie in the photo, 1920 x 1080", VS_EXIT_USAGE},
        {"10,20=1,2", "must be three lengths", VS_EXIT_USAGE},
        {"10,20=corner:floor-west", "must be a corner such as", VS_EXIT_USAGE},
        {"10,20=corner:floor-west-north-", "must be a corner such as", VS_EXIT_USAGE},
        {"10,20=corner:floor-floor-north", "must be a corner such as", VS_EXIT_USAGE},
        {"10,20=corner:celar:floor-west-north", "did you mean cellar", VS_EXIT_USAGE},
        {"10,20=opening:hatch:bottom-north", "opening:hatch:north-east", VS_EXIT_USAGE},
        {"10,20=opening:hatc:north-west", "did you mean hatch", VS_EXIT_USAGE},
        {"10,20=point:far wal", "did you mean far wall", VS_EXIT_USAGE},
        {"10,10=1,1,1;10,10=2,2,2;30,30=3,1,1;40,10=5,1,1", "the same in pairs 1 and 2",
         VS_EXIT_INPUT},
        {"0,500=9,1,1;500,500=9,2,1;1000,500=9,3,1;1500,500=9,4,1", "along one line",
         VS_EXIT_INPUT},
        {"0,0=9,1,1;5,0=9,2,1;0,5=9,1,2;5,5=8,2,2", "further apart", VS_EXIT_INPUT},
    };
    vs_ask ask;
    open_cellar(&ask);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        vs_ask_answer got = ask_match(&ask, bad[i].pairs, NULL);
        if (got.exit != bad[i].exit || !strstr(got.messages, bad[i].message)) {
            fail_msg("%s\ngave %d, %s", bad[i].pairs, (int)got.exit, got.messages);
        }
        CHECK_TRUE(got.length == 0 && strchr(got.messages, '\n')[1] == '\0');
        vs_ask_answer_free(&got);
    }
    vs_ask_close(&ask);
}

/* Pairs that are well formed, but that no camera of the scene sees so, or many do. */
static void what_no_one_camera_sees_is_refused(void **state) {
    (void)state;
    static const place swapped[] = {
        {"corner:floor-south-east", {9, 5, 0}}, {"opening:cellar door:top-north", {9, 2.9, 2.1}},
        {"6,1.8,0.5", {6, 1.8, 0.5}},           {"corner:cellar:north-east-floor", {9, 0, 0}},
        {"point:face", {4.2, 2.2, 1.6}},        {"7.2,4.2,0.5", {7.2, 4.2, 0.5}}};
    static const place beside[] = {{"corner:floor-south-east", {9, 0, 0}},
                                   {"6,1.8,0.5", {6, 2.3, 0.5}},
                                   {"corner:cellar:north-east-floor", {9, 5, 0}},
                                   {"point:face", {4.2, 2.2, 1.6}},
                                   {"7.2,4.2,0.5", {7.2, 3.6, 0.9}}};
    static const place wall[] = {
        {"9,1,1", {9, 1, 1}}, {"9,4,1", {9, 4, 1}}, {"9,1,2", {9, 1, 2}}, {"9,4,2", {9, 4, 2}}};
    vs_ask ask;
    char pairs[TEXT];
    open_cellar(&ask);
    vs_camera square = vs_ask_scene_of(&ask)->camera[0], outside = square;
    square.at_m = (vs_vec3){3, 2.5, 1.5};
    square.aim_m = (vs_vec3){9, 2.5, 1.5};
    outside.at_m = (vs_vec3){-4, 2.5, 1.5};
    outside.aim_m = (vs_vec3){9, 2.5, 1.2};
    const struct {
        const vs_camera *camera;
        const place *seen;
        size_t count;
        const char *message;
    } bad[] = {
        /* that no camera sees them, or the nearest one sees them far off: as the descents end */
        {&vs_ask_scene_of(&ask)->camera[0], swapped, 6, "is each corner the one that is named?"},
        {&vs_ask_scene_of(&ask)->camera[0], beside, 5,
         "must have pairs that go together: the "
         "nearest camera draws them"},
        {&square, wall, 4, "one wall seen square on, or --focal MM"},
        {&outside, places, PLACES,
         "must be seen from inside a room of the scene (got a "
         "camera at -4.00, 2.50, 1.50 m)"}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        pairs_seen(bad[i].camera, bad[i].seen, bad[i].count, pairs);
        vs_ask_answer got = ask_match(&ask, pairs, NULL);
        if (got.exit != VS_EXIT_INPUT || !strstr(got.messages, bad[i].message)) {
            fail_msg("%s\ngave %d, %s%s", pairs, (int)got.exit, got.messages, got.text);
        }
        CHECK_TRUE(got.length == 0 && strchr(got.messages, '\n')[1] == '\0');
        vs_ask_answer_free(&got);
    }
    vs_ask_close(&ask);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_for_places_give_the_camera),
        cmocka_unit_test(each_fault_is_one_line),
        cmocka_unit_test(what_no_one_camera_sees_is_refused),
    };
    return RUN_TESTS(tests);
}
