/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Beams without a given place: where they are viewed, and that those crossing the frame are
 * reported without a want. */
#include "check.h"
#include "written.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/camera/view.h"

#define SCENE(k, wants)                                                                            \
    "{'veilstop': 1, 'indirect': 'none', 'rooms': [{'size': [12, 8, 4], 'reflectance': 0.3}],"     \
    "'openings': [{'name': 'w', 'rooms': ['room 1', 'outside'], 'corners': [[6, 8, 1], [7, 8, "    \
    "3]]}],"                                                                                       \
    "'lights': [{'name': 'back', 'kind': 'spot', 'at': [11, 7, 3.5], 'aim': [5, 3, 0.5],"          \
    " 'beam_deg': 15, 'candela': 3000},"                                                           \
    " {'name': 'behind', 'kind': 'spot', 'at': [0.3, 6, 3], 'aim': [0.2, 7, 1], 'beam_deg': 15,"   \
    " 'candela': 3000},"                                                                           \
    " {'name': 'bulb', 'kind': 'lamp', 'at': [9, 2, 2], 'candela': 20},"                           \
    " {'name': 'sun', 'kind': 'sun', 'through': 'w', 'direction': [0, -1, -0.4], 'lux': 20000}],"  \
    "'cameras': [{'name': 'A', 'at': [1, 2, 1.5], 'aim': [10, 5, 1.5], 'focal_mm': 20}],"          \
    "'shots': [{'camera': 'A', 'extinction_per_m': " k ", 'wants': [" wants "]}]}"
#define BACK(more) "{'want': 'beam', 'light': 'back', 'at_least_stops': 0.2" more "}"

/* The same beam, its place given. */
static double over_at(vs_vec3 near_m) {
    char text[2000];
    snprintf(text, sizeof text, SCENE("0.02", BACK(", 'near': [%.9f, %.9f, %.9f]")), near_m.x,
             near_m.y, near_m.z);
    written_scene w;
    written_init(&w, text);
    double over = w.shot.beam[0].over_stops;
    written_free(&w);
    return over;
}

/* No other visible place of the axis, from a tenth of the throw on, reads better. */
static void it_is_looked_at_where_it_reads_best(void **state) {
    (void)state;
    written_scene w;
    written_init(&w, SCENE("0.02", BACK("")));
    const vs_beam_prediction *beam = &w.shot.beam[0];
    vs_view view = vs_view_make(&w.file.scene.camera[0]);
    vs_vec3 from = w.file.scene.light[0].at_m;
    vs_vec3 axis = vs_vec3_unit(vs_vec3_sub(w.file.scene.light[0].aim_m, from));
    vs_vec3 way = vs_vec3_sub(beam->near_m, from);
    CHECK_NEAR(vs_vec3_dot(way, axis), vs_vec3_length(way), 1e-9, 0);
    CHECK_TRUE(vs_view_in_frame(&view, beam->near_m));
    CHECK_NEAR(beam->over_stops, over_at(beam->near_m), 1e-6, 0);
    size_t weighed = 0;
    for (double at_m = 1.2; at_m < 7.5; at_m += 0.5) {
        vs_vec3 p = vs_vec3_along(from, axis, at_m);
        if (vs_view_in_frame(&view, p)) {
            CHECK_TRUE(over_at(p) <= beam->over_stops + 0.1); /* the places tried are 0.3 m apart */
            weighed++;
        }
    }
    CHECK_TRUE(weighed >= 5);
    written_free(&w);
}

/* A place that depended on density would make the margin jump. */
static void the_place_is_the_same_at_every_density(void **state) {
    (void)state;
    written_scene thin, thick;
    written_init(&thin, SCENE("0.002", BACK("")));
    written_init(&thick, SCENE("0.1", BACK("")));
    vs_vec3 off = vs_vec3_sub(thin.shot.beam[0].near_m, thick.shot.beam[0].near_m);
    CHECK_TRUE(vs_vec3_length(off) == 0);
    written_free(&thin);
    written_free(&thick);
}

/* Returns where the wanted beam is looked at. */
static vs_vec3 check_as_afresh(vs_predictor *p, const vs_scene *scene, double k) {
    vs_predictor fresh;
    vs_shot_prediction kept, anew;
    CHECK_OK(vs_predictor_init(&fresh, scene));
    memcpy(fresh.dim, p->dim, scene->light_count * sizeof *p->dim);
    CHECK_OK(vs_predict_shot(p, 0, &k, &kept));
    CHECK_OK(vs_predict_shot(&fresh, 0, &k, &anew));
    CHECK_TRUE(kept.extra_beam_count == 1 && anew.extra_beam_count == 1);
    for (size_t i = 0; i < 2; i++) {
        const vs_beam_prediction *a = &kept.beam[i], *b = &anew.beam[i];
        CHECK_TRUE(vs_vec3_length(vs_vec3_sub(a->near_m, b->near_m)) == 0);
        CHECK_TRUE(a->over_stops == b->over_stops);
        CHECK_NEAR(a->reads_from_m, b->reads_from_m, 0, 0);
        CHECK_NEAR(a->reads_to_m, b->reads_to_m, 0, 0);
    }
    vs_vec3 near_m = kept.beam[0].near_m;
    vs_shot_prediction_free(&kept);
    vs_shot_prediction_free(&anew);
    vs_predictor_free(&fresh);
    return near_m;
}

/* Places are kept from one density to the next, and found anew where a lamp is moved or dimmed. */
static void kept_places_are_those_found_afresh(void **state) {
    (void)state;
    written_scene w;
    vs_predictor p;
    written_init(&w, SCENE("0.02", BACK("")));
    vs_scene scene = w.file.scene;
    vs_light light[4];
    CHECK_TRUE(scene.light_count == 4);
    memcpy(light, scene.light, sizeof light);
    scene.light = light;
    CHECK_OK(vs_predictor_init(&p, &scene));
    vs_vec3 before_m = check_as_afresh(&p, &scene, 0.01);
    for (int i = 1; i < 4; i++) {
        check_as_afresh(&p, &scene, 0.01 * (i + 1));
    }
    light[0].at_m.y -= 1;
    vs_vec3 after_m = check_as_afresh(&p, &scene, 0.02);
    CHECK_TRUE(vs_vec3_length(vs_vec3_sub(after_m, before_m)) > 0.1);
    p.dim[2] = 3000;
    check_as_afresh(&p, &scene, 0.02);
    p.dim[2] = 1;
    check_as_afresh(&p, &scene, 0.02);
    vs_predictor_free(&p);
    written_free(&w);
}

static void what_crosses_the_frame_is_told(void **state) {
    (void)state;
    written_scene w;
    written_init(&w, SCENE("0.02", BACK("")));
    CHECK_TRUE(w.shot.beam_count == 1 && w.shot.extra_beam_count == 1);
    CHECK_TRUE(w.shot.beam[1].light == 3 && w.shot.beam[1].beam_nits > 0);
    written_free(&w);
    written_init(&w, SCENE("0.02", ""));
    CHECK_TRUE(w.shot.beam_count == 0 && w.shot.extra_beam_count == 2);
    CHECK_TRUE(w.shot.beam[0].light == 0 && w.shot.beam[1].light == 3);
    CHECK_TRUE(w.shot.beam[0].over_stops > 0 && w.shot.beam[0].reads == VS_READS_STRONG);
    written_free(&w);
}

static void a_beam_out_of_frame_is_no_beam(void **state) {
    (void)state;
    written_scene w;
    written_init(&w, SCENE("0.02", "{'want': 'beam', 'light': 'behind', 'at_least_stops': 0.2}"));
    CHECK_NAN(w.shot.beam[0].near_m.x);
    CHECK_TRUE(w.shot.beam[0].over_stops == 0 && w.shot.beam[0].reads == VS_READS_NOT);
    written_free(&w);
}

static void a_lamp_has_no_beam_to_look_along(void **state) {
    (void)state;
    CHECK_TRUE(
        written_refused(SCENE("0.02", "{'want': 'beam', 'light': 'bulb', 'at_least_stops': 1}"),
                        "/shots/0/wants/0", "must give near"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_looked_at_where_it_reads_best),
        cmocka_unit_test(the_place_is_the_same_at_every_density),
        cmocka_unit_test(kept_places_are_those_found_afresh),
        cmocka_unit_test(what_crosses_the_frame_is_told),
        cmocka_unit_test(a_beam_out_of_frame_is_no_beam),
        cmocka_unit_test(a_lamp_has_no_beam_to_look_along),
    };
    return RUN_TESTS(tests);
}
