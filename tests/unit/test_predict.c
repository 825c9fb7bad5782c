/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's prediction against closed forms: Koschmieder, the inverse square, ISO 2720, and the
 * relations between the units of docs/scene.md. */
#include "check.h"

#include <math.h>
#include <string.h>

#include "parts.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/want.h"

/* A hall with one lamp, one camera, one shot; tests change what they need before predicting. */
typedef struct {
    vs_scene_room room[2];
    vs_scene_opening opening[1];
    vs_scene_blocker blocker[1];
    vs_light light[2];
    size_t used[2];
    vs_camera camera[1];
    vs_scene_point point[3];
    vs_scene_want want[7];
    double density[2];
    vs_scene_shot shot[2];
    vs_scene scene;
} hall;

static void hall_make(hall *h) {
    memset(h, 0, sizeof *h);
    vs_scene_room room = {.name = "hall", .size_m = {10, 6, 4}};
    h->room[0] = room;
    vs_light lamp = {.name = "lamp",
                     .kind = VS_LIGHT_LAMP,
                     .on = true,
                     .dimmer = 1,
                     .value = 100,
                     .at_m = {5, 5, 2}};
    h->light[0] = lamp;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    camera.at_m = (vs_vec3){1, 2, 1.5};
    camera.aim_m = (vs_vec3){10, 2, 1.5};
    camera.focal_m = camera.sensor_width_m;
    h->camera[0] = camera;
    vs_scene_point near_point = {.name = "near", .at_m = {4, 2, 1.5}, .value = 12};
    vs_scene_point far_point = {.name = "far", .at_m = {9, 2, 1.5}, .value = 1.5};
    h->point[0] = near_point;
    h->point[1] = far_point;
    h->density[0] = h->density[1] = 0.05;
    vs_scene_shot shot = {.name = "1",
                          .light = h->used,
                          .light_count = 1,
                          .density = VS_DENSITY_EXTINCTION,
                          .room_density = h->density,
                          .density_by_room = true,
                          .point = h->point,
                          .point_count = 2,
                          .want = h->want};
    h->shot[0] = shot;
    vs_fluid fluid = parts_fluid(0.75);
    h->scene.room = h->room;
    h->scene.room_count = 1;
    h->scene.opening = h->opening;
    h->scene.blocker = h->blocker;
    h->scene.fluid = fluid;
    h->scene.indirect = VS_INDIRECT_NONE;
    h->scene.light = h->light;
    h->scene.light_count = 1;
    h->scene.camera = h->camera;
    h->scene.camera_count = 1;
    h->scene.shot = h->shot;
    h->scene.shot_count = 1;
}

/* Koschmieder 1924: in uniform ambient light L over distance d a black object shows L (1 - T) and
 * any contrast shrinks by T = exp(-k d). */
static void uniform_ambient_is_koschmieder(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    h.shot[0].light_count = 0;
    h.scene.indirect = VS_INDIRECT_NITS;
    h.scene.indirect_nits = 2.37;
    vs_shot_prediction p = parts_predict(&h.scene);
    for (int i = 0; i < 2; i++) {
        double distance_m = h.point[i].at_m.x - 1, t = exp(-0.05 * distance_m);
        const vs_point_prediction *point = &p.point[i];
        CHECK_NEAR(point->distance_m, distance_m, 1e-15, 0);
        CHECK_NEAR(point->transmission.v[0], t, 1e-14, 0);
        CHECK_NEAR(vs_bands_luminance(point->veil_nits), 2.37 * (1 - t), 1e-13, 0);
        CHECK_NEAR(vs_bands_luminance(point->hazed_nits), h.point[i].value * t + 2.37 * (1 - t),
                   1e-13, 0);
    }
    double e = 12.5 * 2.8 * 2.8 * 48 / 800 / 256; /* ISO 2720, K = 12.5; 8 stops under grey */
    double la = vs_bands_luminance(p.point[0].hazed_nits);
    double lb = vs_bands_luminance(p.point[1].hazed_nits);
    double clear = log2((12 + e) / (1.5 + e)), hazed = log2((la + e) / (lb + e));
    CHECK_TRUE(p.contrast_count == 1 && p.separation_count == 1);
    CHECK_NEAR(p.contrast[0].clear_stops, clear, 1e-12, 0);
    CHECK_NEAR(p.contrast[0].lost_stops, clear - hazed, 1e-12, 0);
    double va = vs_bands_luminance(p.point[0].veil_nits);
    double vb = vs_bands_luminance(p.point[1].veil_nits);
    CHECK_NEAR(p.separation[0].stops, log2((vb + e) / (va + e)), 1e-12, 0);
    CHECK_NEAR(p.grey_nits, 12.5 * 2.8 * 2.8 * 48 / 800, 1e-14, 0);
    vs_shot_prediction_free(&p);
}

/* A card under one lamp: rho/pi I cos/r^2, dimmed by exp(-k r) in the haze (inverse square and
 * cosine law, Beer-Lambert). */
static void a_reflecting_point_is_lit_through_the_haze(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    vs_scene_point card = {.name = "card",
                           .at_m = {8, 5, 2},
                           .kind = VS_POINT_REFLECTANCE,
                           .value = 0.7,
                           .facing = {-1, 0, 0}};
    h.point[1] = card;
    vs_shot_prediction p = parts_predict(&h.scene);
    double clear = 0.7 / VS_PI * 100 / 9;
    CHECK_NEAR(vs_bands_luminance(p.point[1].clear_nits), clear, 1e-12, 0);
    CHECK_NEAR(vs_bands_luminance(p.point[1].surface_nits), clear * exp(-0.15), 1e-12, 0);
    /* turned away it gets nothing */
    h.point[1].facing.x = 1;
    vs_shot_prediction away = parts_predict(&h.scene);
    CHECK_NEAR(vs_bands_luminance(away.point[1].clear_nits), 0, 0, 0);
    vs_shot_prediction_free(&away);
    vs_shot_prediction_free(&p);
}

static void a_point_in_stops_is_over_middle_grey(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    h.point[0].kind = VS_POINT_STOPS;
    h.point[0].value = 2.5;
    vs_shot_prediction p = parts_predict(&h.scene);
    CHECK_NEAR(vs_bands_luminance(p.point[0].clear_nits), p.grey_nits * exp2(2.5), 1e-14, 0);
    vs_shot_prediction_free(&p);
}

/* WMO-No. 8 (5 %), AMS Glossary (2 %); decibel: 10 log10; one stop: a factor of 2. */
static void every_unit_of_density_agrees(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    vs_shot_prediction p = parts_predict(&h.scene);
    CHECK_NEAR(p.density.visible_range_m, 3.912 / 0.05, 1e-14, 0);
    CHECK_TRUE(vs_visible_range_m(0) == (double)INFINITY); /* clear air, without dividing by it */
    CHECK_NEAR(p.density.optical_range_m, 2.996 / 0.05, 1e-14, 0);
    CHECK_NEAR(p.density.mass_mg_per_m3, 12.5, 1e-14, 0);
    CHECK_NEAR(exp2(-p.density.stops_lost_per_10_m), exp(-0.5), 1e-14, 0);
    CHECK_NEAR(pow(10, -p.density.db_per_m), exp(-0.5), 1e-14, 0);
    CHECK_NEAR(p.density.percent_per_ft, 100 * (1 - exp(-0.05 * 0.3048)), 1e-12, 0);
    vs_shot_prediction_free(&p);
    h.shot[0].density = VS_DENSITY_MASS;
    h.density[0] = 0.0125;
    p = parts_predict(&h.scene);
    CHECK_NEAR(p.density.extinction_per_m, 0.05, 1e-14, 0);
    vs_shot_prediction_free(&p);
    h.shot[0].density = VS_DENSITY_RANGE;
    h.density[0] = 78.24;
    p = parts_predict(&h.scene);
    CHECK_NEAR(p.density.extinction_per_m, 0.05, 1e-14, 0);
    vs_shot_prediction_free(&p);
}

static void an_open_density_is_refused(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    h.shot[0].density = VS_DENSITY_OPEN;
    h.shot[0].room_density = NULL;
    vs_predictor predictor;
    vs_shot_prediction p;
    CHECK_OK(vs_predictor_init(&predictor, &h.scene));
    CHECK_STATUS(vs_predict_shot(&predictor, 0, NULL, &p), VS_ERR_INPUT);
    double k = 0.02;
    CHECK_OK(vs_predict_shot(&predictor, 0, &k, &p));
    CHECK_NEAR(p.density.extinction_per_m, 0.02, 0, 0);
    vs_shot_prediction_free(&p);
    k = -1;
    CHECK_STATUS(vs_predict_shot(&predictor, 0, &k, &p), VS_ERR_DOMAIN);
    vs_predictor_free(&predictor);
}

/* Black level: x = 0.18 veil / grey through the curve (Academy S-2016-001 below its break). */
static void a_black_thing_shows_the_veil(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    h.shot[0].light_count = 0;
    h.scene.indirect = VS_INDIRECT_NITS;
    h.scene.indirect_nits = 1;
    h.density[0] = 0.01;
    vs_shot_prediction p = parts_predict(&h.scene);
    double x = 0.18 * (1 - exp(-0.03)) / p.grey_nits;
    assert_true(x < 0.0078125);
    CHECK_NEAR(p.point[0].black_lift_percent, 100 * 10.5402377416545 * x, 1e-10, 0);
    CHECK_NEAR(p.point[0].black_percent, 100 * (10.5402377416545 * x + 0.0729055341958355), 1e-12,
               0);
    vs_shot_prediction_free(&p);
}

/* An obstructing card: what is behind it is hidden, and the veil ends at it. */
static void a_hidden_point_shows_what_hides_it(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    vs_scene_blocker card = {
        .name = "card", .at_m = {3, 2, 1.5}, .aim_m = {1, 2, 1.5}, .width_m = 1, .height_m = 1};
    h.blocker[0] = card;
    h.scene.blocker_count = 1;
    h.shot[0].light_count = 0;
    h.scene.indirect = VS_INDIRECT_NITS;
    h.scene.indirect_nits = 1;
    vs_shot_prediction p = parts_predict(&h.scene);
    CHECK_TRUE(p.point[0].hidden && p.point[1].hidden);
    CHECK_NEAR(p.point[0].hidden_at_m, 2, 1e-12, 0);
    assert_string_equal(p.point[0].hidden_by, "card");
    CHECK_NEAR(vs_bands_luminance(p.point[0].hazed_nits), 1 - exp(-0.1), 1e-12, 0);
    vs_shot_prediction_free(&p);
    /* a net of the same size transmits a third of it */
    h.blocker[0].transmittance = 1.0 / 3;
    p = parts_predict(&h.scene);
    CHECK_TRUE(!p.point[0].hidden);
    CHECK_NEAR(p.point[0].transmission.v[1], exp(-0.15) / 3, 1e-12, 0);
    vs_shot_prediction_free(&p);
}

static void aim_spot(hall *h) {
    vs_light spot = {.name = "spot",
                     .kind = VS_LIGHT_SPOT,
                     .on = true,
                     .dimmer = 1,
                     .value = 8000,
                     .at_m = {5, 5.5, 2},
                     .aim_m = {5, 0, 1},
                     .beam_rad = 10 * VS_RAD_PER_DEG,
                     .field_rad = NAN};
    h->light[0] = spot;
    vs_scene_want beam = {.kind = VS_WANT_BEAM, .near_m = {5, 2, 1.36}, .limit = 0.5};
    h->want[0] = beam;
    h->shot[0].want_count = 1;
}

/* over = log2(1 + beam/background); a spot's edge must separate it from the line beside it. */
static void a_beam_reads_over_its_background(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    aim_spot(&h);
    h.scene.indirect = VS_INDIRECT_NITS;
    h.scene.indirect_nits = 0.4;
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        h.room[0].reflectance[face] = 0.5;
    }
    vs_shot_prediction p = parts_predict(&h.scene);
    const vs_beam_prediction *beam = &p.beam[0];
    CHECK_TRUE(p.beam_count == 1 && beam->beam_nits > 0);
    double e = vs_camera_floor_nits(&h.camera[0]);
    CHECK_NEAR(beam->over_stops,
               log2((beam->background_nits + beam->beam_nits + e) / (beam->background_nits + e)),
               1e-12, 0);
    CHECK_TRUE(beam->edge_stops > 0 && beam->edge_stops <= beam->over_stops + 0.3);
    CHECK_TRUE(beam->reads_from_m >= 0 && beam->reads_to_m > beam->reads_from_m);
    /* the wall behind is at least lit by the ambient radiance: 0.5 x 0.4 nits, and the ambient veil
     * closes in on 0.4 */
    CHECK_TRUE(beam->background_nits > 0.2);
    vs_want_result result = vs_want_evaluate(&p, 0, &h.camera[0], NULL);
    CHECK_NEAR(result.value, beam->over_stops, 0, 0);
    CHECK_TRUE(result.met == (beam->over_stops >= 0.5) && !result.at_most);
    CHECK_NEAR(result.margin, (beam->over_stops - 0.5) / 0.5, 1e-12, 0);
    vs_shot_prediction_free(&p);
}

/* Common practice, no source: the words for how a beam reads (docs/words.md). */
static void the_words_for_a_beam(void **state) {
    (void)state;
    CHECK_TRUE(vs_reads_of(0.029) == VS_READS_NOT && vs_reads_of(0.03) == VS_READS_BARELY);
    CHECK_TRUE(vs_reads_of(0.07) == VS_READS_SOFT && vs_reads_of(0.249) == VS_READS_SOFT);
    CHECK_TRUE(vs_reads_of(NAN) == VS_READS_NOT);
    CHECK_TRUE(vs_reads_of(0.25) == VS_READS_CLEAR && vs_reads_of(1) == VS_READS_STRONG);
}

/* Around an isotropic lamp of I cd in thin haze the veil at an angle v from it is the vanishing
 * limit of Sun et al. 2005: s I/(4 pi h) (atan((d - a)/h) + atan(a/h)), a = D cos v, h = D sin v.
 */
static double thin_veil(double s_per_m, double candela, double distance_m, double wall_m,
                        double v) {
    double a = distance_m * cos(v), h = distance_m * sin(v), d = wall_m / cos(v);
    return s_per_m * candela / (4 * VS_PI * h) * (atan((d - a) / h) + atan(a / h));
}

static void glow_ends_where_the_veil_is_the_level_asked_for(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    h.light[0].at_m.x = 8;
    h.light[0].at_m.y = 2;
    h.light[0].at_m.z = 1.5;
    h.light[0].value = 2000;
    h.density[0] = 0.001;
    h.scene.fluid.g = 0;
    vs_shot_prediction p = parts_predict(&h.scene);
    CHECK_TRUE(p.glow[0].seen);
    CHECK_NEAR(thin_veil(0.001, 2000, 7, 9, p.glow[0].tenth_rad), p.grey_nits / 10, 0.01, 0);
    CHECK_NEAR(thin_veil(0.001, 2000, 7, 9, p.glow[0].grey_rad), p.grey_nits, 0.01, 0);
    vs_shot_prediction_free(&p);
}

/* A bounce: the panel's luminance is the reflectance times its mean illuminance over pi; a far,
 * small one has that of its middle (inverse square). It is lit only if its feed is in the shot. */
static void a_bounce_is_fed_by_its_lamp(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    vs_light bounce = {.name = "bounce",
                       .kind = VS_LIGHT_PANEL,
                       .on = true,
                       .dimmer = 1,
                       .strength = VS_STRENGTH_FED,
                       .fed_by = 0,
                       .fed_share = 0.8,
                       .fed_front = true,
                       .at_m = {5, 1, 2},
                       .aim_m = {5, 6, 2},
                       .width_m = 0.02,
                       .height_m = 0.02};
    h.light[1] = bounce;
    h.scene.light_count = 2;
    h.used[0] = 0;
    h.used[1] = 1;
    h.shot[0].light_count = 2;
    vs_predictor predictor;
    vs_shot_prediction p;
    CHECK_OK(vs_predictor_init(&predictor, &h.scene));
    CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &p));
    double want = 0.8 / VS_PI * 100 / 16;
    CHECK_NEAR(vs_bands_luminance(predictor.clear_light[1].strength), want, 1e-4, 0);
    CHECK_NEAR(vs_bands_luminance(predictor.hazed_light[1].strength), want * exp(-0.2), 1e-4, 0);
    vs_shot_prediction_free(&p);
    h.used[0] = 1;
    h.shot[0].light_count = 1;
    CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &p));
    CHECK_NEAR(vs_bands_luminance(predictor.hazed_light[1].strength), 0, 0, 0);
    vs_shot_prediction_free(&p);
    vs_predictor_free(&predictor);
    /* A large one close to the lamp is lit unevenly; what all of it gets is the lamp's intensity
     * times its solid angle, 4 atan(uv/(z sqrt(u^2 + v^2 + z^2))) from before its middle. */
    h.used[0] = 0;
    h.shot[0].light_count = 2;
    h.light[1].width_m = 3;
    h.light[1].height_m = 2;
    h.light[1].at_m = vs_vec3_along(h.light[0].at_m, (vs_vec3){0, -1, 0}, 1.2);
    h.light[1].aim_m = h.light[0].at_m;
    double solid_sr = 4 * atan(1.5 * 1 / (1.2 * sqrt(1.5 * 1.5 + 1 * 1 + 1.2 * 1.2)));
    CHECK_OK(vs_predictor_init(&predictor, &h.scene));
    CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &p));
    CHECK_NEAR(vs_bands_luminance(predictor.clear_light[1].strength),
               0.8 / VS_PI * 100 * solid_sr / (3 * 2), 1e-3, 0);
    vs_shot_prediction_free(&p);
    vs_predictor_free(&predictor);
}

/* A predictor beside another gives the same results to the last bit and does not disturb it. */
static void a_second_predictor_answers_as_the_first(void **state) {
    (void)state;
    hall h;
    hall_make(&h);
    h.scene.indirect = VS_INDIRECT_COMPUTED;
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        h.room[0].reflectance[face] = 0.5;
    }
    vs_predictor first, beside;
    vs_shot_prediction a, b, again;
    CHECK_OK(vs_predictor_init(&first, &h.scene));
    CHECK_OK(vs_predict_shot(&first, 0, NULL, &a));
    CHECK_OK(vs_predictor_init_beside(&beside, &first));
    CHECK_OK(vs_predict_shot(&beside, 0, NULL, &b));
    vs_predictor_free(&beside);
    CHECK_OK(vs_predict_shot(&first, 0, NULL, &again));
    for (size_t i = 0; i < 2; i++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double want = a.point[i].hazed_nits.v[band];
            CHECK_TRUE(want > 0 && a.point[i].indirect_veil.v[band] > 0);
            CHECK_NEAR(b.point[i].hazed_nits.v[band], want, 0, 0);
            CHECK_NEAR(again.point[i].hazed_nits.v[band], want, 0, 0);
        }
    }
    vs_shot_prediction_free(&a);
    vs_shot_prediction_free(&b);
    vs_shot_prediction_free(&again);
    vs_predictor_free(&first);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uniform_ambient_is_koschmieder),
        cmocka_unit_test(a_reflecting_point_is_lit_through_the_haze),
        cmocka_unit_test(a_point_in_stops_is_over_middle_grey),
        cmocka_unit_test(every_unit_of_density_agrees),
        cmocka_unit_test(an_open_density_is_refused),
        cmocka_unit_test(a_black_thing_shows_the_veil),
        cmocka_unit_test(a_hidden_point_shows_what_hides_it),
        cmocka_unit_test(a_beam_reads_over_its_background),
        cmocka_unit_test(the_words_for_a_beam),
        cmocka_unit_test(glow_ends_where_the_veil_is_the_level_asked_for),
        cmocka_unit_test(a_bounce_is_fed_by_its_lamp),
        cmocka_unit_test(a_second_predictor_answers_as_the_first),
    };
    return RUN_TESTS(tests);
}
