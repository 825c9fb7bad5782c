/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's overrides of its scene, suns by position, lights through several openings, gels: each
 * against the same thing stated another way, or against its definition. */
#include "check.h"
#include "written.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/shot/dwell.h"

#define SAME 1e-12 /* [1] one scene stated in two ways */

#define ROOM                                                                                       \
    "'rooms': [{'name': 'loft', 'size': [8, 5, 3], 'reflectance': 0.4},"                           \
    "          {'name': 'store', 'corner': [8, 0, 0], 'size': [4, 5, 3]}],"
#define OPENINGS                                                                                   \
    "'openings': [{'name': 'w1', 'rooms': ['loft', 'outside'], 'corners': [[0, 1, 1], [0, 2, "     \
    "2]]},"                                                                                        \
    " {'name': 'w2', 'rooms': ['loft', 'outside'], 'corners': [[0, 3, 1], [0, 4, 2]]},"            \
    " {'name': 'door', 'rooms': ['loft', 'store'], 'corners': [[8, 2, 0], [8, 3, 2]],"             \
    "  'exchange_m3_per_h': 200}],"
#define CAMERA "'cameras': [{'name': 'A', 'at': [4, 0.3, 1.5], 'aim': [4, 5, 1.2]}],"
#define POINTS                                                                                     \
    "'points': [{'name': 'wall', 'at': [4, 5, 1.2], 'reflectance': 0.4, 'facing': [0, -1, 0]},"    \
    "           {'name': 'mark', 'at': [5, 4, 1], 'nits': 3}]"
#define SCENE(lights, shot)                                                                        \
    "{'veilstop': 1, " ROOM OPENINGS "'lights': [" lights "], " CAMERA                             \
    "'shots': [{'name': '1', 'camera': 'A', 'extinction_per_m': 0.03, " shot POINTS "}]}"
#define LAMP(more) "{'name': 'bulb', 'kind': 'lamp', 'at': [6, 4, 2.4], 'candela': 90" more "}"
#define PLAIN_SUN(name, through, way)                                                              \
    "{'name': '" name "', 'kind': 'sun', 'through': " through ", " way ", 'lux': 40000}"
#define STANDS(azimuth, elevation)                                                                 \
    "'sun': {'azimuth_deg': " azimuth ", 'elevation_deg': " elevation "}"

/* Two texts for one scene: same veils, same surfaces. */
static void check_alike(const char *one, const char *other, double within) {
    written_scene a, b;
    written_init(&a, one);
    written_init(&b, other);
    for (size_t i = 0; i < 2; i++) {
        CHECK_TRUE(written_veil(&a, i) > 0);
        CHECK_NEAR(written_veil(&a, i), written_veil(&b, i), within, 0);
        CHECK_NEAR(written_clear(&a, i), written_clear(&b, i), within, 0);
    }
    written_free(&a);
    written_free(&b);
}

static void a_dimmer_stands_in_place_of_the_lamps_own(void **state) {
    (void)state;
    check_alike(SCENE(LAMP(", 'dimmer': 0.8"), "'dimmers': {'bulb': 0.3},"),
                SCENE(LAMP(", 'dimmer': 0.3"), ""), SAME);
    check_alike(SCENE(LAMP(", 'dimmer': 0"), "'dimmers': {'bulb': 1},"), SCENE(LAMP(""), ""), SAME);
}

static void a_dimmed_feed_dims_its_frame(void **state) {
    (void)state;
#define FRAME(dimmer)                                                                              \
    "{'name': 'key', 'kind': 'spot', 'at': [7, 4.8, 2], 'aim': [5, 4, 1.2], 'beam_deg': 30,"       \
    " 'candela': 9000" dimmer "}, {'name': 'frame', 'kind': 'panel', 'at': [6, 4.4, 1.6],"         \
    " 'aim': [4, 3, 1.2], 'size': [1, 1], 'fed_by': {'light': 'key', 'transmittance': 0.5}}"
    check_alike(SCENE(FRAME(""), "'dimmers': {'key': 0.25},"), SCENE(FRAME(", 'dimmer': 0.25"), ""),
                SAME);
}

/* Middle grey by ISO 2720: 12.5 N^2 2^nd / (t S). 1/48 s is the default's 180 deg at 24 a second.
 */
static void a_shot_sets_its_exposure(void **state) {
    (void)state;
    written_scene a, b;
    written_init(&a, SCENE(LAMP(""), "'t_stop': 4, 'iso': 400, 'nd_stops': 2,"));
    written_init(&b, SCENE(LAMP(""), ""));
    CHECK_NEAR(a.shot.grey_nits, 12.5 * 16 * 4 * 48 / 400, 1e-12, 0);
    CHECK_NEAR(b.shot.grey_nits, 12.5 * 2.8 * 2.8 * 48 / 800, 1e-12, 0);
    CHECK_NEAR(written_veil(&a, 0), written_veil(&b, 0), SAME, 0);
    written_free(&a);
    written_free(&b);
}

/* Two suns that differ by rounding: straight light agrees, the walks of bounced light differ. */
static void check_same_sun(const char *one, const char *other) {
    written_scene a, b;
    written_init(&a, one);
    written_init(&b, other);
    double veil = vs_bands_luminance(a.shot.point[0].veil_by_light[0]);
    CHECK_TRUE(veil > 0);
    CHECK_NEAR(veil, vs_bands_luminance(b.shot.point[0].veil_by_light[0]), 1e-9, 0);
    written_free(&a);
    written_free(&b);
}

/* A sun in the west (270 deg from north, clockwise) at atan(1/10) sends light east and down; 270 -
 * atan(1/4) is southwest: north-east and down. */
static void a_sun_stands_where_the_compass_says(void **state) {
    (void)state;
    check_same_sun(SCENE(PLAIN_SUN("sun", "'w1'", STANDS("270", "5.710593137499643")), ""),
                   SCENE(PLAIN_SUN("sun", "'w1'", "'direction': [10, 0, -1]"), ""));
    check_same_sun(SCENE(PLAIN_SUN("sun", "'w1'", STANDS("255.963756532073521", "0")), ""),
                   SCENE(PLAIN_SUN("sun", "'w1'", "'direction': [4, 1, 0]"), ""));
    check_alike(SCENE(PLAIN_SUN("sun", "'w1'", STANDS("265", "0")), STANDS("290", "30") ","),
                SCENE(PLAIN_SUN("sun", "'w1'", STANDS("290", "30")), ""), SAME);
}

/* One sun through two windows is two suns through one each; the sums are exact, the bounced light
 * as exact as its tracing. */
static void several_openings_add_up(void **state) {
    (void)state;
    written_scene one, two;
    written_init(&one, SCENE(PLAIN_SUN("sun", "['w1', 'w2']", STANDS("260", "20")), ""));
    written_init(&two, SCENE(PLAIN_SUN("a", "'w1'", STANDS("260", "20")) "," PLAIN_SUN(
                                 "b", "'w2'", STANDS("260", "20")),
                             ""));
    CHECK_TRUE(one.file.scene.light_count == 2 && one.file.scene.light[1].is_part);
    for (size_t i = 0; i < 2; i++) {
        const vs_bands *whole = one.shot.point[i].veil_by_light;
        const vs_bands *apart = two.shot.point[i].veil_by_light;
        double first = vs_bands_luminance(apart[0]), second = vs_bands_luminance(apart[1]);
        CHECK_NEAR(vs_bands_luminance(whole[0]), first + second, SAME, 0);
        CHECK_TRUE(vs_bands_luminance(whole[1]) == 0);
        CHECK_NEAR(written_veil(&one, i), written_veil(&two, i), 1e-6, 0);
        CHECK_NEAR(written_clear(&one, i), written_clear(&two, i), 1e-6, 0);
    }
    written_free(&one);
    written_free(&two);
}

/* A dimmer and an empty sky over several windows act on all of them. */
static void parts_go_by_their_whole(void **state) {
    (void)state;
    check_alike(SCENE("{'name': 'sky', 'kind': 'sky', 'through': ['w1', 'w2'], 'nits': 4000}",
                      "'lights': ['sky'], 'dimmers': {'sky': 0.5},"),
                SCENE("{'name': 'a', 'kind': 'sky', 'through': 'w1', 'nits': 2000},"
                      "{'name': 'b', 'kind': 'sky', 'through': 'w2', 'nits': 2000}",
                      ""),
                1e-6);
}

/* A beam over its background includes all parts of its light. */
static void a_beam_is_that_of_all_parts(void **state) {
    (void)state;
#define WANT                                                                                       \
    "'wants': [{'want': 'beam', 'light': 'sun', 'near': [4, 3.5, 1.1], 'at_least_stops': 1}],"
    written_scene one, first, second;
    written_init(&one, SCENE(PLAIN_SUN("sun", "['w1', 'w2']", STANDS("270", "4")), WANT));
    written_init(&first, SCENE(PLAIN_SUN("sun", "'w1'", STANDS("270", "4")), WANT));
    written_init(&second, SCENE(PLAIN_SUN("sun", "'w2'", STANDS("270", "4")), WANT));
    double sum = first.shot.beam[0].beam_nits + second.shot.beam[0].beam_nits;
    CHECK_TRUE(first.shot.beam[0].beam_nits > 0 && second.shot.beam[0].beam_nits > 0);
    CHECK_NEAR(one.shot.beam[0].beam_nits, sum, SAME, 0);
    written_free(&one);
    written_free(&first);
    written_free(&second);
}

static void a_gel_lets_through_what_it_says(void **state) {
    (void)state;
    written_scene bare, gelled;
    written_init(&bare, SCENE(LAMP(""), ""));
    written_init(&gelled, SCENE(LAMP(", 'gel': [0.8, 0.4, 0.1]"), ""));
    static const double share[] = {0.8, 0.4, 0.1};
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        CHECK_NEAR(gelled.shot.point[1].veil_nits.v[b],
                   share[b] * bare.shot.point[1].veil_nits.v[b], 1e-9, 0);
    }
    written_free(&bare);
    written_free(&gelled);
}

/* A mired is a million over kelvin (its definition; CIE e-ILV 17-23-071, from memory): 5600 K to
 * 3200 K are 312.5 - 178.571 = 133.929. The colour is that of a lamp of 3200 K; the clearest band,
 * red, loses nothing. */
static void a_shift_in_mired_makes_the_colour(void **state) {
    (void)state;
    written_scene gelled, lamp, bare;
    written_init(&gelled, SCENE(LAMP(", 'kelvin': 5600, 'gel_mired': 133.928571428571429"), ""));
    written_init(&lamp, SCENE(LAMP(", 'kelvin': 3200"), ""));
    written_init(&bare, SCENE(LAMP(", 'kelvin': 5600"), ""));
    const double *g = gelled.shot.point[1].veil_nits.v, *l = lamp.shot.point[1].veil_nits.v;
    CHECK_NEAR(g[0] / g[2], l[0] / l[2], 1e-9, 0);
    CHECK_NEAR(g[1] / g[2], l[1] / l[2], 1e-9, 0);
    CHECK_NEAR(g[0], bare.shot.point[1].veil_nits.v[0], 1e-9, 0);
    CHECK_TRUE(g[2] < 0.5 * bare.shot.point[1].veil_nits.v[2]);
    written_free(&gelled);
    written_free(&lamp);
    written_free(&bare);
}

static void a_shift_out_of_range_is_refused_by_camera(void **state) {
    (void)state;
    CHECK_TRUE(written_refused(SCENE(LAMP(", 'gel_mired': -170"), ""), "/lights/0/gel_mired",
                               "camera's white"));
}

/* Half open is half the pane; closed is dark. */
static void an_opening_is_as_far_open_as_the_shot_says(void **state) {
    (void)state;
    written_scene half, shut, whole;
    written_init(&whole, SCENE(PLAIN_SUN("sun", "'w1'", STANDS("260", "20")), ""));
    written_init(&half,
                 SCENE(PLAIN_SUN("sun", "'w1'", STANDS("260", "20")), "'open': {'w1': 0.5},"));
    written_init(&shut, SCENE(PLAIN_SUN("sun", "'w1'", STANDS("260", "20")), "'open': {'w1': 0},"));
    double all = vs_bands_luminance(whole.shot.point[0].veil_by_light[0]);
    CHECK_NEAR(vs_bands_luminance(half.shot.point[0].veil_by_light[0]), all / 2, SAME, 0);
    CHECK_TRUE(written_veil(&shut, 0) == 0 && written_clear(&shut, 0) == 0);
    written_free(&whole);
    written_free(&half);
    written_free(&shut);
}

#define DAY(open)                                                                                  \
    "{'veilstop': 1, " ROOM OPENINGS "'lights': [], " CAMERA                                       \
    "'hazer': {'room': 'loft', 'fluid_ml_per_h': 60}, 'shots': ["                                  \
    "{'name': '1', 'camera': 'A', 'extinction_per_m': 0.03, 'minutes': 60" open "},"               \
    "{'name': '2', 'camera': 'A', 'extinction_per_m': 0.03, 'minutes': 60}]}"

/* Extinction in the store at the end of each shot. */
static void store_after(const char *text, double k[2]) {
    written_scene w;
    vs_dwell d;
    written_init(&w, text);
    CHECK_OK(vs_dwell_plan(&w.file.scene, &w.predictor.haze, NULL, NULL, &d));
    for (size_t shot = 0; shot < 2; shot++) {
        for (size_t i = 0; i < d.sample_count; i++) {
            k[shot] = d.sample_s[i] <= d.shot[shot].end_s + 1e-6
                          ? d.sample_g_per_m3[2 * i + 1] * d.extinction_m2_per_g
                          : k[shot];
        }
    }
    vs_dwell_free(&d);
    written_free(&w);
}

/* A closed door keeps the store clear, to the last digit, until the shot that opens it. */
static void a_shut_door_holds_haze_back(void **state) {
    (void)state;
    double as_is[2], shut[2], half[2];
    store_after(DAY(""), as_is);
    store_after(DAY(", 'open': {'door': 0}"), shut);
    store_after(DAY(", 'open': {'door': 0.5}"), half);
    CHECK_TRUE(shut[0] == 0 && shut[1] > 0.1 * as_is[1]);
    CHECK_TRUE(half[0] > 0.3 * as_is[0] && half[0] < 0.8 * as_is[0]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dimmer_stands_in_place_of_the_lamps_own),
        cmocka_unit_test(a_dimmed_feed_dims_its_frame),
        cmocka_unit_test(a_shot_sets_its_exposure),
        cmocka_unit_test(a_sun_stands_where_the_compass_says),
        cmocka_unit_test(several_openings_add_up),
        cmocka_unit_test(parts_go_by_their_whole),
        cmocka_unit_test(a_beam_is_that_of_all_parts),
        cmocka_unit_test(a_gel_lets_through_what_it_says),
        cmocka_unit_test(a_shift_in_mired_makes_the_colour),
        cmocka_unit_test(a_shift_out_of_range_is_refused_by_camera),
        cmocka_unit_test(an_opening_is_as_far_open_as_the_shot_says),
        cmocka_unit_test(a_shut_door_holds_haze_back),
    };
    return RUN_TESTS(tests);
}
