/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Standing bodies: what they hide and carry, against Lambert's law and plain geometry. Proportions:
 * shoulders 0.818 of the height and 0.259 of it wide (Drillis & Contini 1966, from memory). */
#include "check.h"
#include "written.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"

#define SCENE(figure, lamp, points)                                                                \
    "{'veilstop': 1, 'rooms': [{'size': [10, 8, 4], 'reflectance': 0}], 'indirect': 'none',"       \
    "'figures': [{'name': 'brewer', " figure "}],"                                                 \
    "'lights': [{'name': 'bulb', 'kind': 'lamp', 'at': " lamp ", 'candela': 100}],"                \
    "'cameras': [{'name': 'A', 'at': [1, 1, 1.5], 'aim': [5, 4, 1.5]}],"                           \
    "'shots': [{'camera': 'A', 'extinction_per_m': 0, 'points': [" points "]}]}"

/* A wall point behind a body 1.8 m tall, of half width 0.2331 m: the lamp stands 2 m before it and
 * the wall 2 m behind, so the shadow is twice as wide as the body. */
static void a_body_shades_as_wide_as_it_is(void **state) {
    (void)state;
    static const struct {
        const char *points;
        bool lit;
    } place[] = {{"{'at': [5, 8, 1], 'reflectance': 0.5}", false},
                 {"{'at': [5.44, 8, 1], 'reflectance': 0.5}", false},
                 {"{'at': [5.52, 8, 1], 'reflectance': 0.5}", true},
                 {"{'at': [5, 8, 1.78], 'reflectance': 0.5}", false},  /* the head */
                 {"{'at': [5.3, 8, 1.78], 'reflectance': 0.5}", true}, /* beside it */
                 {"{'at': [5, 8, 2.7], 'reflectance': 0.5}", true}};   /* over it */
    for (size_t i = 0; i < sizeof place / sizeof place[0]; i++) {
        char text[1200];
        snprintf(text, sizeof text, SCENE("'at': [5, 6, 0], 'height': 1.8", "[5, 4, 1.3]", "%s"),
                 place[i].points);
        written_scene w;
        written_init(&w, text);
        if ((written_clear(&w, 0) > 0) != place[i].lit) {
            fail_msg("%s: must be %s", place[i].points, place[i].lit ? "lit" : "in the shade");
        }
        written_free(&w);
    }
}

/* Turned sideways the body is 0.14 x 1.8 m deep: half of it 0.126 m, the shadow's edge at 0.25. */
static void a_body_turns(void **state) {
    (void)state;
    written_scene w;
    written_init(&w, SCENE("'at': [5, 6, 0], 'height': 1.8, 'facing_deg': 90", "[5, 4, 1.3]",
                           "{'at': [5.3, 8, 1], 'reflectance': 0.5},"
                           "{'at': [5.2, 8, 1], 'reflectance': 0.5}"));
    CHECK_TRUE(written_clear(&w, 0) > 0 && written_clear(&w, 1) == 0);
    written_free(&w);
}

/* A point on the front of a body that looks east, lit from 3 m before its face: Lambert's law,
 * L = rho I / (pi d^2). The face is half the head's depth, 0.06 x 1.8 m, before the axis. */
static void a_figure_carries_points(void **state) {
    (void)state;
    written_scene w;
    written_init(&w, SCENE("'at': [5, 4, 0], 'height': 1.8, 'facing_deg': 90, 'reflectance': 0.4",
                           "[8.108, 4, 1.6]",
                           "{'on': 'brewer', 'height': 1.6},"
                           "{'on': 'brewer', 'height': 1.6, 'reflectance': 0.8},"
                           "{'on': 'brewer'}, {'on': 'brewer', 'nits': 7}"));
    const vs_scene_point *p = w.file.scene.shot[0].point;
    CHECK_NEAR(p[0].at_m.x, 5.108, 1e-12, 0);
    CHECK_NEAR(p[2].at_m.z, 0.92 * 1.8, 1e-12, 0);
    CHECK_NEAR(written_clear(&w, 0), 0.4 * 100 / (VS_PI * 9), 1e-9, 0);
    CHECK_NEAR(written_clear(&w, 1), 0.8 * 100 / (VS_PI * 9), 1e-9, 0);
    CHECK_NEAR(written_clear(&w, 3), 7, 1e-12, 0);
    written_free(&w);
}

/* Lit from behind, the face is dark; and a camera behind sees the back, not the face. */
static void a_back_is_not_a_face(void **state) {
    (void)state;
    written_scene w;
    written_init(&w, SCENE("'at': [5, 4, 0], 'facing_deg': 90", "[2, 4, 1.6]", "{'on': 'brewer'}"));
    CHECK_TRUE(written_clear(&w, 0) == 0 && w.shot.point[0].hidden);
    written_free(&w);
}

/* A body removes light from the air behind it: its shadow is 0.41 m to either side where the line
 * of sight crosses it, a tenth of what the lamp lights of it by 1/d^2, less for haze scatters
 * forward. */
static void a_body_cuts_a_veil(void **state) {
    (void)state;
#define HAZED(figures)                                                                             \
    "{'veilstop': 1, 'rooms': [{'size': [10, 8, 4], 'reflectance': 0}], 'indirect': "              \
    "'none'," figures                                                                              \
    "'lights': [{'name': 'bulb', 'kind': 'lamp', 'at': [5, 7.5, 1.2], 'candela': 100}],"           \
    "'cameras': [{'name': 'A', 'at': [1, 1, 1.2], 'aim': [9, 1, 1.2]}],"                           \
    "'shots': [{'camera': 'A', 'extinction_per_m': 0.02, 'points': [{'at': [10, 1, 1.2], 'nits': " \
    "1}]}]}"
    written_scene with, without;
    written_init(&with, HAZED("'figures': [{'at': [5, 4, 0]}],"));
    written_init(&without, HAZED(""));
    CHECK_TRUE(written_veil(&with, 0) > 0.88 * written_veil(&without, 0));
    CHECK_TRUE(written_veil(&with, 0) < 0.98 * written_veil(&without, 0));
    written_free(&with);
    written_free(&without);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_body_shades_as_wide_as_it_is),
        cmocka_unit_test(a_body_turns),
        cmocka_unit_test(a_figure_carries_points),
        cmocka_unit_test(a_back_is_not_a_face),
        cmocka_unit_test(a_body_cuts_a_veil),
    };
    return RUN_TESTS(tests);
}
