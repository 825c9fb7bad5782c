/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Photometry lights of a scene: the file beside the scene, its table, its tilt, what is wrong. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "veilstop/base/units.h"
#include "veilstop/scene/scene_file.h"

#define FIGURES "1 -1 2 3 1 1 2 0 0 0\n0.5 1 60\n0 45 90\n0\n100 50 0\n"

static void write_text(const char *path, const char *text) {
    FILE *file = fopen(path, "wb");
    CHECK_TRUE(file != NULL);
    CHECK_TRUE(fputs(text, file) >= 0);
    CHECK_TRUE(fclose(file) == 0);
}

/* A scene of one room and one light, in folder "set" beside the lamp's file. */
static vs_status load(const char *light, vs_scene_file *file, vs_faults *faults) {
    char text[1024];
    snprintf(text, sizeof text,
             "{\"veilstop\": 1, \"rooms\": [{\"name\": \"a\", \"corner\": [0,0,0], \"size\": "
             "[5,4,3]}], \"lights\": [{\"name\": \"l\", \"kind\": \"photometry\", \"at\": [1,1,2], "
             "%s}], \"cameras\": [{\"name\": \"A\", \"at\": [1,1,1], \"aim\": [4,1,1]}]}",
             light);
    mkdir("set", 0700);
    write_text("set/scene.json", text);
    write_text("set/lamp.ies", "IESNA:LM-63-2002\nTILT=NONE\n" FIGURES);
    write_text("set/tilting.ies",
               "IESNA:LM-63-1995\nTILT=INCLUDE\n1 3\n0 30 60\n1 .9 .8\n" FIGURES);
    write_text("set/short.ies", "IESNA:LM-63-2002\nTILT=NONE\n1 -1 2 3 1 1 2 0 0 0\n0.5 1 60\n");
    memset(faults, 0, sizeof *faults);
    return vs_scene_file_load(file, "set/scene.json", NULL, faults);
}

static vs_scene_file load_good(const char *light) {
    vs_scene_file file;
    vs_faults faults;
    vs_status status = load(light, &file, &faults);
    for (size_t i = 0; i < faults.count; i++) {
        print_error("%s: %s\n", faults.item[i].where, faults.item[i].text);
    }
    CHECK_OK(status);
    return file;
}

static void a_table_lands_in_the_scene(void **state) {
    (void)state;
    vs_scene_file file =
        load_good("\"aim\": [1,1,0], \"file\": \"lamp.ies\", \"roll_deg\": 30, \"dimmer\": 0.5");
    const vs_light *light = &file.scene.light[0];
    CHECK_TRUE(light->kind == VS_LIGHT_PHOTOMETRY && light->strength == VS_STRENGTH_TABLE);
    CHECK_TRUE(light->dimmer == 0.5);
    CHECK_NEAR(light->roll_rad, VS_PI / 6, 1e-15, 0);
    CHECK_OK(vs_photometric_check(&light->table));
    CHECK_TRUE(light->table.vertical_count == 3 && light->table.horizontal_count == 1);
    CHECK_NEAR(light->table.vertical_rad[2], VS_PI / 2, 1e-15, 0);
    CHECK_NEAR(light->table.candela[0], 100, 1e-15, 0); /* multiplier 2, ballast 0.5 */
    CHECK_NEAR(light->table.candela[1], 50, 1e-15, 0);
    vs_scene_file_free(&file);
}

/* Tilt is from straight down to the aim: 45 degrees lie between the file's 0.9 and 0.8. */
static void a_tilt_table_dims_by_the_aim(void **state) {
    (void)state;
    vs_scene_file file = load_good("\"aim\": [1,1,0], \"file\": \"tilting.ies\"");
    CHECK_NEAR(file.scene.light[0].table.candela[0], 100, 1e-15, 0);
    vs_scene_file_free(&file);
    file = load_good("\"aim\": [2,1,1], \"file\": \"tilting.ies\"");
    CHECK_NEAR(file.scene.light[0].table.candela[0], 85, 1e-12, 0);
    CHECK_NEAR(file.scene.light[0].table.candela[1], 42.5, 1e-12, 0);
    vs_scene_file_free(&file);
}

static void what_is_wrong_is_told_at_the_light(void **state) {
    (void)state;
    static const struct {
        const char *light, *where, *what;
    } bad[] = {
        {"\"aim\": [1,1,0]", "/lights/0/file", "must be a text in double quotes (got nothing)"},
        {"\"aim\": [1,1,0], \"file\": \"none.ies\"", "/lights/0/file",
         "must be an LM-63 file in the scene's folder (got none.ies: No such file or directory)"},
        {"\"aim\": [1,1,0], \"file\": \"..\"", "/lights/0/file",
         "must be an LM-63 file in the scene's folder (got ..: a folder)"},
        {"\"aim\": [1,1,0], \"file\": \"short.ies\"", "/lights/0/file",
         "short.ies, line 5: must be a number: vertical angle 1 (got the end of the file)"},
        {"\"aim\": [1,1,0], \"file\": \"scene.json\"", "/lights/0/file",
         "scene.json, line 1: must have a line TILT=NONE or TILT=INCLUDE (got the end of the "
         "file)"},
        {"\"aim\": [1,3,2], \"file\": \"tilting.ies\"", "/lights/0/aim",
         "must be at most 60 degrees from straight down, where the file's tilt table ends (got "
         "90)"},
        {"\"aim\": [1,1,0], \"file\": \"lamp.ies\", \"roll_deg\": 400", "/lights/0/roll_deg",
         "must be between -360 and 360 (got 400)"},
        {"\"aim\": [1,1,0], \"file\": \"lamp.ies\", \"lumens\": 400", "/lights/0/lumens",
         "must not stand with kind \"photometry\", only with lamp, spot, panel, tube"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        vs_scene_file file;
        vs_faults faults;
        bool unread = strstr(bad[i].what, "in the scene's folder") != NULL;
        CHECK_STATUS(load(bad[i].light, &file, &faults), unread ? VS_ERR_FILE : VS_ERR_INPUT);
        CHECK_TRUE(faults.count == 1);
        assert_string_equal(faults.item[0].where, bad[i].where);
        assert_string_equal(faults.item[0].text, bad[i].what);
    }
}

static void a_scene_without_a_folder_can_name_no_file(void **state) {
    (void)state;
    const char *text =
        "{\"veilstop\": 1, \"rooms\": [{\"name\": \"a\", \"corner\": [0,0,0], \"size\": [5,4,3]}], "
        "\"lights\": [{\"kind\": \"photometry\", \"at\": [1,1,2], \"aim\": [1,1,0], \"file\": "
        "\"lamp.ies\"}]}";
    vs_scene_file file;
    vs_faults faults = {0};
    CHECK_STATUS(vs_scene_file_init(&file, text, strlen(text), NULL, &faults), VS_ERR_INPUT);
    assert_string_equal(faults.item[0].where, "/lights/0/file");
    assert_string_equal(faults.item[0].text,
                        "must stand in a scene that is read from a file: no other file can be read "
                        "here");
}

/* The demo's bulkhead sits on a wall and its eyelid shades what is above it. */
static void the_demo_bulkhead_hangs_the_right_way_up(void **state) {
    (void)state;
    char path[TESTS_PATH_SIZE];
    tests_path(path, "../data/demo/cellar.json");
    vs_scene_file file;
    vs_faults faults = {0};
    CHECK_OK(vs_scene_file_load(&file, path, NULL, &faults));
    const vs_light *light = NULL;
    for (size_t i = 0; i < file.scene.light_count; i++) {
        if (file.scene.light[i].kind == VS_LIGHT_PHOTOMETRY) {
            light = &file.scene.light[i];
        }
    }
    assert_non_null(light);
    vs_photometric_frame f = vs_photometric_frame_make(light->at_m, light->aim_m, light->roll_rad);
    vs_vec3 up = vs_vec3_unit((vs_vec3){0, 1, 1}), down = vs_vec3_unit((vs_vec3){0, 1, -1});
    vs_vec3 left = vs_vec3_unit((vs_vec3){-1, 1, 0}), right = vs_vec3_unit((vs_vec3){1, 1, 0});
    CHECK_NEAR(vs_photometric_candela(&light->table, &f, up), 51, 1e-9, 0); /* the file's own */
    CHECK_NEAR(vs_photometric_candela(&light->table, &f, down), 118, 1e-9, 0);
    CHECK_NEAR(vs_photometric_candela(&light->table, &f, left), 95, 1e-9, 0);
    CHECK_NEAR(vs_photometric_candela(&light->table, &f, right), 95, 1e-9, 0);
    printf("measured: the demo's bulkhead sends %.0f lm (invented)\n",
           vs_photometric_lumens(&light->table));
    vs_scene_file_free(&file);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_table_lands_in_the_scene),
        cmocka_unit_test(a_tilt_table_dims_by_the_aim),
        cmocka_unit_test(what_is_wrong_is_told_at_the_light),
        cmocka_unit_test(a_scene_without_a_folder_can_name_no_file),
        cmocka_unit_test(the_demo_bulkhead_hangs_the_right_way_up),
    };
    return RUN_TESTS(tests);
}
