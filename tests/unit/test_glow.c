/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a light glows, against the closed form of thin haze, the edge of a screen, and a dense
 * scan by adaptive quadrature. */
#include "check.h"
#include "hall.h"

#include <math.h>
#include <stdio.h>

#include "shot/sight/camera_setup.h"
#include "shot/sight/glow.h"
#include "veilstop/light/airlight_fast.h"

#define DISTANCE_M 7.0                           /* camera to light, both 3 m from the side walls */
#define EAST_M     19.0                          /* camera to the wall behind */
#define THIN_PER_M 1e-6                          /* optical depths here stay under 1e-4 */
#define GREY_NITS  (12.5 * 2.8 * 2.8 * 48 / 800) /* ISO 2720, K = 12.5: the hall's camera */

/* From the camera to the wall or floor right of its axis, above, left, below. */
static const double side_m[4] = {3, 2.5, 3, 1.5};

/* Around an isotropic lamp in thin haze the veil at an angle v from it is the vanishing limit of
 * Sun, Ramamoorthi, Narasimhan, Nayar 2005, ACM TOG 24, 1040: s I/(4 pi h) (atan((d - a)/h) +
 * atan(a/h)), a = D cos v, h = D sin v, d the length of the line. */
static double thin_veil(double candela, double v, int side) {
    double a = DISTANCE_M * cos(v), h = DISTANCE_M * sin(v);
    double d = fmin(EAST_M / cos(v), side_m[side] / sin(v));
    return THIN_PER_M * candela / (4 * VS_PI * h) * (atan((d - a) / h) + atan(a / h));
}

/* Where that falls through a level, by halving. */
static double thin_reach(double candela, double nits, int side) {
    double low = 1e-6, high = VS_PI / 2;
    for (int i = 0; i < 60; i++) {
        double v = (low + high) / 2;
        *(thin_veil(candela, v, side) >= nits ? &low : &high) = v;
    }
    return low;
}

static void thin_hall(hall_set *h, double candela) {
    hall_init(h, 0);
    h->scene.indirect = VS_INDIRECT_NONE;
    h->scene.fluid.g = 0;
    hall_add_lamp(h, (vs_vec3){1 + DISTANCE_M, 3, 1.5}, candela);
    hall_add_shot(h, 0);
    hall_give(h, THIN_PER_M);
}

static vs_glow_prediction glow_of(const vs_scene *scene) {
    vs_predictor predictor;
    vs_shot_prediction p;
    CHECK_OK(vs_predictor_init(&predictor, scene));
    CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &p));
    vs_glow_prediction glow = p.glow[0];
    CHECK_TRUE(glow.seen);
    CHECK_NEAR(p.grey_nits, GREY_NITS, 1e-12, 0);
    vs_shot_prediction_free(&p);
    vs_predictor_free(&predictor);
    return glow;
}

static void a_lamp_glows_as_the_closed_form_in_thin_haze(void **state) {
    (void)state;
    double worst = 0;
    for (double candela = 1e4; candela < 1e10; candela *= 30) {
        hall_set h;
        thin_hall(&h, candela);
        vs_glow_prediction glow = glow_of(&h.scene);
        double tenth = 0, grey = 0;
        for (int side = 0; side < 4; side++) {
            tenth += thin_reach(candela, GREY_NITS / 10, side) / 4;
            grey += thin_reach(candela, GREY_NITS, side) / 4;
        }
        if (grey > 2e-4) {
            CHECK_NEAR(glow.grey_rad, grey, 5e-4, 0);
            worst = fmax(worst, fabs(glow.grey_rad / grey - 1));
        }
        CHECK_NEAR(glow.tenth_rad, tenth, 5e-4, 0);
        worst = fmax(worst, fabs(glow.tenth_rad / tenth - 1));
    }
    printf("measured: glow in thin haze within %.2g of its closed form\n", worst);
}

/* Below 1e-4 rad it is the source itself; the search ends at a right angle. */
static void a_glow_may_be_nothing_or_everywhere(void **state) {
    (void)state;
    hall_set h;
    thin_hall(&h, 1);
    vs_glow_prediction glow = glow_of(&h.scene);
    CHECK_NEAR(glow.tenth_rad, 0, 0, 0);
    CHECK_NEAR(glow.grey_rad, 0, 0, 0);
    thin_hall(&h, 1e12);
    glow = glow_of(&h.scene);
    CHECK_NEAR(glow.tenth_rad, VS_PI / 2, 1e-12, 0);
    CHECK_NEAR(glow.grey_rad, VS_PI / 2, 1e-12, 0);
}

/* A black screen close before the camera, from an angle on: there the veil falls to nothing. */
static void a_glow_ends_at_the_edge_of_a_blocker(void **state) {
    (void)state;
    const double candela = 1.5e7, edge_m = 0.3;
    hall_set h;
    thin_hall(&h, candela);
    vs_scene_blocker blocker = {.name = "screen",
                                .at_m = {2, 3 - edge_m - 0.5, 1.5},
                                .aim_m = {0, 3 - edge_m - 0.5, 1.5},
                                .width_m = 1,
                                .height_m = 1};
    h.scene.blocker = &blocker;
    h.scene.blocker_count = 1;
    double tenth = atan(edge_m) / 4;
    CHECK_TRUE(thin_reach(candela, GREY_NITS / 10, 0) > 1.2 * atan(edge_m));
    for (int side = 1; side < 4; side++) {
        tenth += thin_reach(candela, GREY_NITS / 10, side) / 4;
    }
    CHECK_NEAR(glow_of(&h.scene).tenth_rad, tenth, 5e-4, 0);
}

/* The state of a dense scan. */
typedef struct {
    vs_airlight work;
    vs_camera_setup look;
    const vs_emitter *emitter;
    vs_vec3 ahead, side;
} look_round;

static double veil_at(look_round *r, double turn_rad, bool adaptive) {
    vs_bands veil;
    vs_vec3 way = vs_vec3_along(vs_vec3_scale(r->ahead, cos(turn_rad)), r->side, sin(turn_rad));
    vs_camera_ray sight = vs_camera_ray_along(&r->look.hazed, r->look.camera->at_m, way, INFINITY);
    if (adaptive) {
        CHECK_OK(vs_airlight_adaptive(&r->work, &r->look.hazed, &sight, r->emitter, 1e-3, &veil));
    } else {
        CHECK_OK(vs_airlight_fast(&r->work, &r->look.hazed, &sight, r->emitter, &veil));
    }
    return vs_bands_luminance(veil);
}

/* Steps of 2 % out, then halving; by adaptive quadrature the veil there is the level. */
static double dense_reach(look_round *r, double nits) {
    double low = 0.01, high = low;
    CHECK_TRUE(veil_at(r, low, false) >= nits);
    while (veil_at(r, high, false) >= nits) {
        low = high;
        high *= 1.02;
    }
    for (int i = 0; i < 8; i++) {
        double middle = (low + high) / 2;
        *(veil_at(r, middle, false) >= nits ? &low : &high) = middle;
    }
    CHECK_NEAR(veil_at(r, low, true), nits, 2e-3, 0);
    return low;
}

/* A panel before a wall, a corner of it through the wall, behind the edge of a screen. */
static void a_hidden_panel_glows_as_a_dense_look_round_tells(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0);
    h.scene.indirect = VS_INDIRECT_NONE;
    hall_add_lamp(&h, (vs_vec3){8, 5.9, 2.2}, 1);
    h.light[0].kind = VS_LIGHT_PANEL;
    h.light[0].strength = VS_STRENGTH_NITS;
    h.light[0].value = 12000;
    h.light[0].aim_m = (vs_vec3){6, 5.2, 1.8};
    h.light[0].width_m = 0.6;
    h.light[0].height_m = 0.4;
    hall_add_shot(&h, 0);
    hall_give(&h, 0.03);
    vs_scene_blocker blocker = {.name = "screen",
                                .at_m = {6, 4.4, 1.9},
                                .aim_m = {5, 3.4, 1.9},
                                .width_m = 0.5,
                                .height_m = 0.5};
    h.scene.blocker = &blocker;
    h.scene.blocker_count = 1;
    vs_predictor predictor;
    vs_shot_prediction p;
    CHECK_OK(vs_predictor_init(&predictor, &h.scene));
    CHECK_OK(vs_predict_shot(&predictor, 0, NULL, &p));
    look_round r = {.look = vs_camera_setup_make(&predictor, &h.shot[0], p.room_extinction_per_m),
                    .emitter = &predictor.hazed_light[0]};
    CHECK_TRUE(r.emitter->through_wall);
    CHECK_OK(vs_airlight_init(&r.work));
    r.ahead = vs_vec3_unit(vs_vec3_sub(h.light[0].at_m, h.camera[0].at_m));
    vs_vec3 right = vs_vec3_unit(vs_vec3_cross(r.ahead, r.look.view.up));
    vs_vec3 up = vs_vec3_cross(right, r.ahead);
    const vs_vec3 side[4] = {right, up, vs_vec3_scale(right, -1), vs_vec3_scale(up, -1)};
    double tenth = 0;
    for (int i = 0; i < 4; i++) {
        r.side = side[i];
        tenth += dense_reach(&r, GREY_NITS / 10) / 4;
    }
    vs_glow_prediction glow;
    CHECK_OK(vs_camera_setup_glow(&r.look, r.emitter, h.light[0].at_m, &glow));
    CHECK_NEAR(glow.tenth_rad, tenth, 5e-4, 0);
    printf("measured: glow of a hidden panel %.4f deg, by a dense look round %.4f deg\n",
           glow.tenth_rad / VS_RAD_PER_DEG, tenth / VS_RAD_PER_DEG);
    vs_airlight_free(&r.work);
    vs_shot_prediction_free(&p);
    vs_predictor_free(&predictor);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_lamp_glows_as_the_closed_form_in_thin_haze),
        cmocka_unit_test(a_glow_may_be_nothing_or_everywhere),
        cmocka_unit_test(a_glow_ends_at_the_edge_of_a_blocker),
        cmocka_unit_test(a_hidden_panel_glows_as_a_dense_look_round_tells),
    };
    return RUN_TESTS(tests);
}
