/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scene files: every key ends up where scene.h says, in SI units; defaults are those of
 * docs/scene.md. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/scene/scene_file.h"

static vs_scene_file load(const char *name) {
    char path[TESTS_PATH_SIZE];
    tests_path(path, name);
    vs_scene_file file;
    vs_faults faults = {0};
    vs_status status = vs_scene_file_load(&file, path, NULL, &faults);
    for (size_t i = 0; i < faults.count; i++) {
        print_error("%s: %s\n", faults.item[i].where, faults.item[i].text);
    }
    CHECK_OK(status);
    return file;
}

static vs_scene_file parse(const char *text) {
    vs_scene_file file;
    vs_faults faults = {0};
    vs_status status = vs_scene_file_init(&file, text, strlen(text), NULL, &faults);
    for (size_t i = 0; i < faults.count; i++) {
        print_error("%s: %s\n", faults.item[i].where, faults.item[i].text);
    }
    CHECK_OK(status);
    return file;
}

static void check_vec(vs_vec3 got, double x, double y, double z) {
    CHECK_NEAR(got.x, x, 1e-14, 1e-15);
    CHECK_NEAR(got.y, y, 1e-14, 1e-15);
    CHECK_NEAR(got.z, z, 1e-14, 1e-15);
}

static void check_rooms(const vs_scene *s) {
    const vs_scene_room *hall = &s->room[0];
    CHECK_TRUE(s->room_count == 2);
    assert_string_equal(hall->name, "hall");
    check_vec(hall->size_m, 6, 3.048, 2.6);
    static const double reflectance[VS_FACE_COUNT] = {0.65, 0.7, 0.2, 0.1, 0.3, 0.8};
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        CHECK_NEAR(hall->reflectance[face], reflectance[face], 0, 0);
        CHECK_NEAR(s->room[1].reflectance[face], 0.4, 0, 0);
    }
    CHECK_NEAR(hall->air_change_per_s, 0.0002, 1e-15, 0);
    CHECK_NEAR(hall->deposition_per_s, 0.0001, 1e-15, 0);
    CHECK_NEAR(hall->mixing_s, 240, 0, 0);
    CHECK_NEAR(hall->purge_air_change_per_s, 0.002, 1e-15, 0);
    const vs_scene_opening *door = &s->opening[0], *window = &s->opening[1];
    CHECK_TRUE(door->room[0] == 1 && door->room[1] == 0);
    check_vec(door->corner_m[0], 6, 0.5, 0);
    check_vec(door->corner_m[1], 6, 1.4, 2);
    CHECK_NEAR(door->transmittance, 0.9, 0, 0);
    CHECK_NEAR(door->exchange_m3_per_s, 0.05, 1e-15, 0);
    CHECK_TRUE(window->room[0] == 0 && window->room[1] == VS_OUTSIDE);
    CHECK_NEAR(window->transmittance, 1, 0, 0);
    CHECK_NAN(window->exchange_m3_per_s);
    CHECK_NEAR(s->blocker[0].height_m, 0.6, 1e-15, 0);
    CHECK_NEAR(s->blocker[0].transmittance, 0.5, 0, 0);
    CHECK_TRUE(s->blocker_count == 11); /* the net, and the ten plates of a body */
    CHECK_NEAR(s->blocker[1].reflectance, 0.2, 0, 0);
}

static void check_lights(const vs_scene *s) {
    CHECK_TRUE(s->light_count == 11); /* ten, and the low sun through the hatch */
    const vs_light *l = s->light;
    CHECK_TRUE(!l[0].on && l[0].strength == VS_STRENGTH_CANDELA && l[0].colour == VS_COLOUR_TINT);
    CHECK_NEAR(l[0].dimmer, 0.5, 0, 0);
    CHECK_NEAR(vs_bands_luminance(l[0].tint), 1, 1e-15, 0);
    CHECK_NEAR(l[0].tint.v[0] / l[0].tint.v[2], 4, 1e-15, 0);
    CHECK_TRUE(l[1].on && l[1].strength == VS_STRENGTH_LUX && l[1].colour == VS_COLOUR_KELVIN);
    CHECK_NEAR(l[1].lux_at_m, 3.048, 1e-15, 0);
    CHECK_NEAR(l[1].beam_rad, VS_PI / 9, 1e-15, 0);
    CHECK_NEAR(l[1].field_rad, 2 * VS_PI / 9, 1e-15, 0);
    CHECK_TRUE(l[2].strength == VS_STRENGTH_LUMENS && l[2].colour == VS_COLOUR_NEUTRAL);
    CHECK_TRUE(l[3].strength == VS_STRENGTH_FED && l[3].fed_by == 1 && !l[3].fed_front);
    CHECK_NEAR(l[3].fed_share + l[3].fed_direct, 0.5, 1e-15, 0);
    CHECK_TRUE(l[4].fed_by == 3 && l[4].fed_front);
    CHECK_TRUE(l[5].strength == VS_STRENGTH_NITS && l[5].width_m == 1);
    check_vec(l[6].at_m, 1, 0.5, 2.4);
    check_vec(l[6].aim_m, 2.2, 0.5, 2.4);
    CHECK_TRUE(l[7].through == 1 && l[7].strength == VS_STRENGTH_LUX);
    check_vec(l[7].travel, sqrt(0.5), 0, -sqrt(0.5));
    CHECK_TRUE(l[7].has_gel && l[7].gel.v[1] == 0.6 && l[7].gel_mired == 0);
    CHECK_TRUE(l[8].through == 1 && !l[8].is_part && l[8].gel_mired == -60 && !l[8].has_gel);
    CHECK_TRUE(l[10].through == 2 && l[10].is_part && l[10].part_of == 8 && l[10].value == 40000);
    /* 265 deg from north, 12 high: from just south of west */
    check_vec(l[10].travel, sin(85 * VS_PI / 180) * cos(VS_PI / 15),
              cos(85 * VS_PI / 180) * cos(VS_PI / 15), -sin(VS_PI / 15));
    CHECK_TRUE(l[9].through == 1 && l[9].value == 3000);
}

static void check_cameras(const vs_scene *s) {
    const vs_camera *a = &s->camera[0], *b = &s->camera[1];
    CHECK_NEAR(a->roll_rad, 0, 0, 0);
    CHECK_NEAR(b->roll_rad, -5 * VS_RAD_PER_DEG, 1e-15, 0);
    CHECK_NEAR(a->focal_m, 0.05, 1e-15, 0);
    CHECK_NEAR(a->sensor_width_m, 0.036, 1e-15, 0);
    CHECK_NEAR(a->shutter_s, 0.01, 1e-15, 0);
    CHECK_TRUE(a->t_stop == 4 && a->iso == 400 && a->nd_stops == 2 && a->white_kelvin == 3200);
    CHECK_TRUE(a->stops_above_grey == 5 && a->stops_below_grey == 7);
    CHECK_TRUE(a->curve.kind == VS_CURVE_BT709);
    CHECK_NEAR(b->shutter_s, 0.01, 0, 0);
    CHECK_TRUE(b->curve.kind == VS_CURVE_LOG && b->curve.c == 0.25 && b->curve.cut == 0.01);
}

static void check_shots(const vs_scene *s) {
    const vs_scene_shot *one = &s->shot[0];
    CHECK_TRUE(one->light_count == 4 && one->light[0] == 0 && one->light[1] == 1);
    CHECK_TRUE(one->light[2] == 8 && one->light[3] == 10);
    CHECK_TRUE(one->dimmer[0] == 0.3 && one->open[0] == 0.5 && one->open[1] == 0);
    CHECK_TRUE(one->open[2] == 1 && one->has_sun && !s->shot[1].has_sun && !s->shot[1].open);
    CHECK_NAN(one->dimmer[1]);
    CHECK_TRUE(one->camera == 2 && s->camera[2].t_stop == 2 && s->camera[2].iso == 800);
    CHECK_TRUE(s->camera[2].nd_stops == 1 && s->camera[2].white_kelvin == 3200);
    check_vec(one->sun_travel, sqrt(0.75), 0, -0.5);
    CHECK_TRUE(one->density == VS_DENSITY_EXTINCTION);
    CHECK_NEAR(one->room_density[0], 0.02, 0, 0);
    CHECK_NEAR(one->room_density[1], 0, 0, 0);
    CHECK_TRUE(one->length_s == 1500 && one->roll_s == 120 && one->reset_s == 240);
    CHECK_TRUE(one->point[0].kind == VS_POINT_NITS && one->point[2].kind == VS_POINT_STOPS);
    check_vec(one->point[1].facing, -1, 0, 0);
    const vs_scene_want *w = one->want;
    CHECK_TRUE(one->want_count == 7);
    for (size_t i = 0; i < 7; i++) {
        CHECK_TRUE((size_t)w[i].kind == i);
    }
    CHECK_TRUE(w[0].a == 0 && w[0].b == 1 && w[1].a == 1 && w[2].light == 1);
    check_vec(w[2].near_m, 3, 1.2, 1.5);
    CHECK_TRUE(w[4].limit == 25 && w[5].shot == 1 && w[5].a == 0 && w[5].other == 0);
    CHECK_NEAR(w[6].limit, VS_PI / 20, 1e-15, 0);
    CHECK_TRUE(s->shot[1].density == VS_DENSITY_MASS && s->shot[1].light_count == 10);
    CHECK_NEAR(s->shot[1].room_density[1], 0.005, 1e-15, 0);
    CHECK_TRUE(s->shot[1].after_count == 1 && s->shot[1].after[0] == 0);
    CHECK_TRUE(s->shot[2].density == VS_DENSITY_RANGE && s->shot[2].room_density[0] == 100);
}

static void check_venue_and_readings(const vs_scene *s) {
    const vs_scene_reading *first = &s->reading[0], *second = &s->reading[1];
    CHECK_TRUE(first->at_s == 750 && first->camera == 0 && first->percent);
    CHECK_TRUE(first->lit_from_m == 2 && first->lit_by == VS_NONE && first->hazed_black == 9.1);
    CHECK_TRUE(second->lit_by == 0 && second->uncertainty_stops == 0.1 &&
               second->camera == VS_NONE);
    const vs_scene_detector *d = s->venue.detector;
    /* 0.1 dB/m = 0.02303 /m (10 / ln 10 dB a unit of optical depth) */
    CHECK_NEAR(d[0].alarm_per_m, 0.0230258509299405, 1e-14, 0);
    CHECK_NEAR(d[1].alarm_per_m, -log(0.98) / 0.3048, 1e-14, 0);
    CHECK_NEAR(d[2].alarm_per_m, -log(0.7) / 5, 1e-14, 0);
    CHECK_NAN(d[3].alarm_per_m);
    CHECK_TRUE(d[3].kind == VS_DETECTOR_ASPIRATING && d[3].room == 1);
    CHECK_TRUE(s->venue.person[0].length_s == 36000 && s->venue.exit_m == 14);
    CHECK_TRUE(s->venue.exit_reflecting && s->venue.rule_count == 2);
    assert_string_equal(s->uncertain[1].pointer, "/rooms/0/size/0");
    CHECK_NEAR(s->uncertain[1].half_width, 0.1, 0, 0);
}

static void every_key_lands_in_its_place(void **state) {
    (void)state;
    vs_scene_file file = load("cli/good/every_key.json");
    const vs_scene *s = &file.scene;
    assert_string_equal(s->title, "Every key once");
    CHECK_TRUE(s->start_s == 68700 && s->lengths == VS_LENGTH_M);
    CHECK_TRUE(s->fluid.measured && s->fluid.g == 0.75 && s->fluid.class_ == VS_FLUID_OIL);
    /* two machines: 36 ml/h at 0.8 and 18 at 0.4, so 28.8 and 7.2 of 36 ml/h stay in the air */
    CHECK_TRUE(s->hazer.room == 0 && s->hazer.burst_max_s == 90 && s->hazer.warm_up_s == 60);
    CHECK_TRUE(s->hazer.burst_min_s == 5 && s->hazer.machine_count == 2);
    CHECK_NEAR(s->hazer.fluid_ml_per_s, 0.015, 1e-15, 0);
    CHECK_NEAR(s->hazer.airborne_fraction, 2.0 / 3, 1e-15, 0);
    CHECK_NEAR(s->hazer.share[0], 0.8, 1e-15, 0);
    CHECK_NEAR(s->hazer.share[1], 0.2, 1e-15, 0);
    CHECK_TRUE(s->indirect == VS_INDIRECT_NITS && s->indirect_nits == 2);
    check_rooms(s);
    check_lights(s);
    check_cameras(s);
    check_shots(s);
    check_venue_and_readings(s);
    vs_scene_file_free(&file);
    vs_scene_file_free(&file);
}

/* The defaults of docs/scene.md, in a minimal scene. */
static void what_is_not_given_has_its_default(void **state) {
    (void)state;
    vs_scene_file file = parse(
        "{\"veilstop\": 1, \"rooms\": [{\"size\": [6, 2, 2.6]}], \"hazer\": {}, "
        "\"lights\": [{\"kind\": \"lamp\", \"at\": [1, 1, 1], \"candela\": 5}, "
        "{\"kind\": \"spot\", \"at\": [1, 1, 1], \"aim\": [2, 1, 1], \"beam_deg\": 9, \"candela\": "
        "5}],"
        "\"cameras\": [{\"at\": [0, 1, 1], \"aim\": [6, 1, 1]}], "
        "\"shots\": [{\"camera\": \"camera 1\", \"extinction_per_m\": 0.01, \"takes\": {}, "
        "\"points\": [{\"at\": [6, 1, 1], \"reflectance\": 0.5}]}], "
        "\"venue\": {\"people\": [{\"minutes\": 10}], \"detectors\": [{\"kind\": \"beam\"}]}}");
    const vs_scene *s = &file.scene;
    CHECK_TRUE(s->title == NULL);
    assert_string_equal(s->room[0].name, "room 1");
    check_vec(s->room[0].corner_m, 0, 0, 0);
    CHECK_NEAR(s->room[0].reflectance[VS_FACE_FLOOR], 0.5, 0, 0);
    CHECK_NEAR(s->room[0].air_change_per_s * 3600, 0.5, 1e-15, 0);
    CHECK_NEAR(s->room[0].deposition_per_s * 3600, 0.3, 1e-15, 0);
    CHECK_NEAR(s->room[0].mixing_s, 300, 0, 0);
    CHECK_NAN(s->room[0].purge_air_change_per_s);
    CHECK_NAN(s->start_s);
    assert_string_equal(s->fluid.name, "glycol");
    CHECK_TRUE(s->hazer.room == 0 && s->hazer.airborne_fraction == 0.9 && s->hazer.warm_up_s == 60);
    CHECK_NEAR(s->hazer.fluid_ml_per_s * 3600, 30, 1e-15, 0);
    CHECK_TRUE(s->hazer.burst_min_s == 5 && s->hazer.burst_max_s == 120);
    CHECK_TRUE(s->indirect == VS_INDIRECT_COMPUTED);
    CHECK_TRUE(s->light[0].on && s->light[0].dimmer == 1);
    CHECK_NAN(s->light[1].field_rad);
    const vs_camera *c = &s->camera[0];
    CHECK_NEAR(c->focal_m, 0.035, 1e-15, 0);
    CHECK_NEAR(c->sensor_width_m, 0.0249, 1e-15, 0);
    CHECK_NEAR(c->sensor_height_m, 0.014, 1e-15, 0);
    CHECK_NEAR(c->shutter_s, 1.0 / 48, 1e-15, 0);
    CHECK_TRUE(c->t_stop == 2.8 && c->iso == 800 && c->nd_stops == 0 && c->white_kelvin == 5600);
    CHECK_TRUE(c->stops_above_grey == 6 && c->stops_below_grey == 8);
    CHECK_TRUE(c->curve.kind == VS_CURVE_ACESCCT);
    const vs_scene_shot *shot = &s->shot[0];
    CHECK_TRUE(shot->light_count == 2 && shot->length_s == 1800);
    CHECK_TRUE(shot->roll_s == 180 && shot->reset_s == 300);
    check_vec(shot->point[0].facing, -1, 0, 0);
    CHECK_NAN(s->venue.exit_m);
    CHECK_TRUE(!s->venue.exit_reflecting && s->venue.detector[0].path_m == 6);
    assert_string_equal(s->venue.person[0].who, "crew");
    vs_scene_file_free(&file);
}

/* NIST SP 811: 1 ft = 0.3048 m. Keys that end in _m stay in metres. */
static void feet_are_feet(void **state) {
    (void)state;
    vs_scene_file file =
        parse("{\"veilstop\": 1, \"lengths\": \"ft\", "
              "\"rooms\": [{\"name\": \"a\", \"size\": [10, 20, 8]}, "
              "{\"name\": \"b\", \"corner\": [10, 0, 0], \"size\": [\"2 m\", 20, 8]}], "
              "\"openings\": [{\"rooms\": [\"a\", \"b\"], \"corners\": [[\"120 in\", 1, 0], [10, "
              "4, 7]]}], "
              "\"venue\": {\"exit_m\": 3}}");
    const vs_scene *s = &file.scene;
    check_vec(s->room[0].size_m, 3.048, 6.096, 2.4384);
    check_vec(s->room[1].size_m, 2, 6.096, 2.4384);
    check_vec(s->opening[0].corner_m[1], 3.048, 1.2192, 2.1336);
    CHECK_NEAR(s->venue.exit_m, 3, 0, 0);
    CHECK_TRUE(s->lengths == VS_LENGTH_FT);
    vs_scene_file_free(&file);
}

/* Pointless but possible, so no fault: always met. */
static void a_shot_may_be_like_itself(void **state) {
    (void)state;
    vs_scene_file file =
        parse("{\"veilstop\": 1, \"rooms\": [{\"size\": [6, 2, 2.6]}], "
              "\"cameras\": [{\"name\": \"A\", \"at\": [0, 1, 1], \"aim\": [6, 1, 1]}], "
              "\"shots\": [{\"name\": \"1\", \"camera\": \"A\", \"extinction_per_m\": 0.01, "
              "\"points\": [{\"name\": \"face\", \"at\": [3, 1, 1], \"nits\": 5}], "
              "\"wants\": [{\"want\": \"like\", \"shot\": \"1\", \"at\": \"face\", "
              "\"within_stops\": 0.2}]}]}");
    const vs_scene_want *want = file.scene.shot[0].want;
    CHECK_TRUE(want->shot == 0 && want->a == 0 && want->other == 0);
    vs_scene_file_free(&file);
}

static void the_demo_is_in_order(void **state) {
    (void)state;
    vs_scene_file file = load("../data/demo/cellar.json");
    CHECK_TRUE(file.scene.room_count == 3 && file.scene.light_count >= 5);
    CHECK_TRUE(file.scene.camera_count == 2 && file.scene.shot_count == 4);
    bool wanted[VS_WANT_GLOW + 1] = {false};
    for (size_t i = 0; i < file.scene.shot_count; i++) {
        for (size_t j = 0; j < file.scene.shot[i].want_count; j++) {
            wanted[file.scene.shot[i].want[j].kind] = true;
        }
    }
    for (int kind = VS_WANT_CONTRAST; kind <= VS_WANT_LIKE; kind++) {
        CHECK_TRUE(wanted[kind]);
    }
    vs_scene_file_free(&file);
}

static void a_file_that_is_not_there_is_named(void **state) {
    (void)state;
    vs_scene_file file;
    vs_faults faults = {0};
    CHECK_STATUS(vs_scene_file_load(&file, "no such file.json", NULL, &faults), VS_ERR_FILE);
    assert_string_equal(faults.item[0].text,
                        "must be a file that can be read (got: No such file or directory)");
    memset(&faults, 0, sizeof faults);
    CHECK_STATUS(vs_scene_file_load(&file, ".", NULL, &faults), VS_ERR_FILE);
    CHECK_TRUE(faults.count == 1 && file.memory == NULL);
}

/* Only the uncertain numbers change, and the original not at all; an invalid result is reported. */
static void uncertain_numbers_are_varied(void **state) {
    (void)state;
    vs_scene_file file = load("cli/good/every_key.json"), varied;
    vs_faults faults = {0};
    const double factor[] = {1.25, 1}, back[] = {1, 1}, gone[] = {1, -1};
    double fluid = file.scene.hazer.fluid_ml_per_s, size_m = file.scene.room[0].size_m.x;
    CHECK_TRUE(file.scene.uncertain_count == 2);
    CHECK_TRUE(vs_scene_moves_air_alone("/hazer/fluid_ml_per_h") &&
               vs_scene_moves_air_alone("/rooms/0/air_changes_per_h") &&
               !vs_scene_moves_air_alone("/rooms/0/size/0") &&
               !vs_scene_moves_air_alone("/fluid/g"));
    CHECK_OK(vs_scene_file_vary(&file, factor, &varied, &faults));
    CHECK_NEAR(varied.scene.hazer.fluid_ml_per_s, fluid + 0.25 * 0.01, 1e-15, 0);
    CHECK_NEAR(varied.scene.room[1].size_m.x, file.scene.room[1].size_m.x, 0, 0);
    CHECK_TRUE(varied.scene.light_count == file.scene.light_count);
    CHECK_NEAR(file.scene.hazer.fluid_ml_per_s, fluid, 0, 0);
    vs_scene_file again;
    CHECK_OK(vs_scene_file_vary(&varied, back, &again, &faults));
    vs_scene_file_free(&varied);
    CHECK_NEAR(again.scene.hazer.fluid_ml_per_s, fluid + 0.25 * 0.01, 1e-15, 0);
    vs_scene_file_free(&again);
    CHECK_TRUE(!vs_faults_any(&faults) && file.scene.room[0].size_m.x == size_m);
    CHECK_STATUS(vs_scene_file_vary(&file, gone, &varied, &faults), VS_ERR_INPUT);
    CHECK_TRUE(faults.count > 0 && strstr(faults.item[0].where, "/rooms/0/size/0") != NULL);
    vs_scene_file_free(&file);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key_lands_in_its_place),
        cmocka_unit_test(what_is_not_given_has_its_default),
        cmocka_unit_test(feet_are_feet),
        cmocka_unit_test(a_shot_may_be_like_itself),
        cmocka_unit_test(uncertain_numbers_are_varied),
        cmocka_unit_test(the_demo_is_in_order),
        cmocka_unit_test(a_file_that_is_not_there_is_named),
    };
    return RUN_TESTS(tests);
}
