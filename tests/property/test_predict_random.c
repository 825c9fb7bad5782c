/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What must hold for any shot, on random locations: two rooms with a doorway, a window, a card, a
 * lamp, a spot and a panel. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/predict.h"

#define SCENES 15

typedef struct {
    vs_scene_room room[2];
    vs_scene_opening opening[2];
    vs_scene_blocker blocker[1];
    vs_light light[3];
    size_t used[3];
    vs_camera camera[1];
    vs_scene_point point[2];
    vs_scene_want want[2];
    double density[2];
    vs_scene_shot shot[1];
    vs_scene scene;
} place;

static vs_vec3 inside(random_stream *r, const vs_scene_room *room) {
    vs_vec3 p = {room->corner_m.x + room->size_m.x * random_uniform(r, 0.02, 0.98),
                 room->corner_m.y + room->size_m.y * random_uniform(r, 0.02, 0.98),
                 room->corner_m.z + room->size_m.z * random_uniform(r, 0.02, 0.98)};
    return p;
}

static void random_rooms(place *p, random_stream *r) {
    double width_m = random_uniform(r, 3, 9), depth_m = random_uniform(r, 3, 7);
    vs_vec3 first = {width_m, depth_m, random_uniform(r, 2.3, 4)};
    vs_vec3 second = {random_uniform(r, 2, 6), depth_m, first.z}, corner = {width_m, 0, 0};
    p->room[0].name = "one";
    p->room[0].size_m = first;
    p->room[1].name = "two";
    p->room[1].corner_m = corner;
    p->room[1].size_m = second;
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        p->room[0].reflectance[face] = random_uniform(r, 0, 0.9);
        p->room[1].reflectance[face] = random_uniform(r, 0, 0.9);
    }
    double low_m = random_uniform(r, 0.1, depth_m / 2), high_m = low_m + 1;
    vs_scene_opening door = {.name = "door",
                             .room = {0, 1},
                             .corner_m = {{width_m, low_m, 0}, {width_m, high_m, 2}},
                             .transmittance = random_uniform(r, 0.3, 1)};
    vs_scene_opening window = {.name = "window",
                               .room = {0, VS_OUTSIDE},
                               .corner_m = {{0, low_m, 1}, {0, high_m, 2}},
                               .transmittance = 0.8};
    p->opening[0] = door;
    p->opening[1] = window;
}

static void random_lights(place *p, random_stream *r) {
    vs_light lamp = {.name = "lamp", .kind = VS_LIGHT_LAMP, .on = true, .dimmer = 1};
    lamp.value = random_log_uniform(r, 10, 2000);
    lamp.at_m = inside(r, &p->room[random_index(r, 2)]);
    vs_light spot = {.name = "spot", .kind = VS_LIGHT_SPOT, .on = true, .dimmer = 1};
    spot.value = random_log_uniform(r, 500, 50000);
    spot.at_m = inside(r, &p->room[random_index(r, 2)]);
    spot.aim_m = inside(r, &p->room[random_index(r, 2)]);
    spot.beam_rad = random_uniform(r, 3, 60) * VS_RAD_PER_DEG;
    spot.field_rad =
        random_index(r, 2) ? (double)NAN : spot.beam_rad * random_uniform(r, 1.05, 2.5);
    vs_light panel = {.name = "panel", .kind = VS_LIGHT_PANEL, .on = true, .dimmer = 1};
    panel.strength = VS_STRENGTH_NITS;
    panel.value = random_log_uniform(r, 100, 20000);
    panel.at_m = inside(r, &p->room[0]);
    panel.aim_m = inside(r, &p->room[1]);
    panel.width_m = random_uniform(r, 0.05, 0.3);
    panel.height_m = random_uniform(r, 0.05, 0.3);
    p->light[0] = lamp;
    p->light[1] = spot;
    p->light[2] = panel;
}

static void random_shot(place *p, random_stream *r) {
    vs_camera camera = parts_camera(VS_CURVE_BT709);
    camera.at_m = inside(r, &p->room[0]);
    camera.aim_m = inside(r, &p->room[1]);
    camera.focal_m = random_uniform(r, 0.015, 0.1);
    camera.t_stop = random_uniform(r, 1.4, 11);
    p->camera[0] = camera;
    for (int i = 0; i < 2; i++) {
        vs_scene_point point = {.name = i ? "b" : "a", .at_m = inside(r, &p->room[i])};
        vs_vec3 facing = {random_uniform(r, -1, 1), random_uniform(r, -1, 1), 0.3};
        point.kind = VS_POINT_REFLECTANCE;
        point.value = random_uniform(r, 0, 1);
        point.facing = vs_vec3_unit(facing);
        p->point[i] = point;
    }
    vs_scene_want beam = {.kind = VS_WANT_BEAM, .light = 1, .near_m = p->point[0].at_m};
    p->want[0] = beam;
    for (int i = 0; i < 2; i++) {
        p->density[i] = random_index(r, 8) ? random_log_uniform(r, 1e-4, 0.4) : 0;
    }
    static const size_t all[3] = {0, 1, 2};
    memcpy(p->used, all, sizeof all);
    vs_scene_shot shot = {.name = "1",
                          .light = p->used,
                          .light_count = 3,
                          .density = VS_DENSITY_EXTINCTION,
                          .room_density = p->density,
                          .density_by_room = true,
                          .point = p->point,
                          .point_count = 2,
                          .want = p->want,
                          .want_count = 1};
    p->shot[0] = shot;
}

static void random_place(place *p, random_stream *r) {
    memset(p, 0, sizeof *p);
    random_rooms(p, r);
    random_lights(p, r);
    random_shot(p, r);
    vs_scene_blocker card = {.name = "card", .at_m = inside(r, &p->room[0])};
    card.aim_m = inside(r, &p->room[1]);
    card.width_m = card.height_m = random_uniform(r, 0.2, 1.5);
    card.transmittance = random_index(r, 2) ? 0 : 0.4;
    p->blocker[0] = card;
    vs_fluid fluid = parts_fluid(random_uniform(r, -0.3, 0.9));
    p->scene.fluid = fluid;
    p->scene.room = p->room;
    p->scene.room_count = 2;
    p->scene.opening = p->opening;
    p->scene.opening_count = 2;
    p->scene.blocker = p->blocker;
    p->scene.blocker_count = 1;
    p->scene.indirect = VS_INDIRECT_NITS;
    p->scene.indirect_nits = random_uniform(r, 0, 1);
    p->scene.light = p->light;
    p->scene.light_count = 3;
    p->scene.camera = p->camera;
    p->scene.camera_count = 1;
    p->scene.shot = p->shot;
    p->scene.shot_count = 1;
}

static void check_figure(double value) {
    CHECK_TRUE(isfinite(value) && value >= 0);
}

static void check_sane(const vs_shot_prediction *p) {
    for (int i = 0; i < 2; i++) {
        const vs_point_prediction *point = &p->point[i];
        vs_bands sum = point->indirect_veil;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            check_figure(point->clear_nits.v[band]);
            check_figure(point->surface_nits.v[band]);
            check_figure(point->veil_nits.v[band]);
            check_figure(point->hazed_nits.v[band]);
            CHECK_TRUE(point->transmission.v[band] >= 0 && point->transmission.v[band] <= 1);
        }
        for (int light = 0; light < 3; light++) {
            sum = vs_bands_add(sum, point->veil_by_light[light]);
        }
        CHECK_NEAR(vs_bands_luminance(sum), vs_bands_luminance(point->veil_nits), 1e-12, 0);
        CHECK_TRUE(isfinite(point->change_stops));
        CHECK_TRUE(point->black_lift_percent >= 0 && point->black_percent <= 100);
    }
    check_figure(p->beam[0].beam_nits);
    check_figure(p->beam[0].background_nits);
    check_figure(p->beam[0].over_stops);
}

static void every_figure_is_finite_and_shares_add_up(void **state) {
    (void)state;
    random_stream r = {71};
    for (int i = 0; i < SCENES; i++) {
        place p;
        random_place(&p, &r);
        vs_shot_prediction prediction = parts_predict(&p.scene);
        check_sane(&prediction);
        vs_shot_prediction_free(&prediction);
    }
}

/* The veil is linear in each lamp: a dimmer at d gives d of that lamp's veil, others unchanged. */
static void a_dimmer_scales_its_lamp_alone(void **state) {
    (void)state;
    random_stream r = {72};
    for (int i = 0; i < SCENES; i++) {
        place p;
        random_place(&p, &r);
        vs_shot_prediction full = parts_predict(&p.scene);
        p.light[1].dimmer = 0.37;
        vs_shot_prediction dimmed = parts_predict(&p.scene);
        for (int point = 0; point < 2; point++) {
            for (int light = 0; light < 3; light++) {
                double want = full.point[point].veil_by_light[light].v[1];
                CHECK_NEAR(dimmed.point[point].veil_by_light[light].v[1],
                           light == 1 ? 0.37 * want : want, 1e-9, 1e-15);
            }
        }
        vs_shot_prediction_free(&full);
        vs_shot_prediction_free(&dimmed);
    }
}

static void shift(vs_vec3 *p, vs_vec3 by) {
    *p = vs_vec3_add(*p, by);
}

static void shift_place(place *p, vs_vec3 by) {
    for (int i = 0; i < 2; i++) {
        shift(&p->room[i].corner_m, by);
        shift(&p->opening[i].corner_m[0], by);
        shift(&p->opening[i].corner_m[1], by);
        shift(&p->point[i].at_m, by);
    }
    for (int i = 0; i < 3; i++) {
        shift(&p->light[i].at_m, by);
        shift(&p->light[i].aim_m, by);
    }
    shift(&p->blocker[0].at_m, by);
    shift(&p->blocker[0].aim_m, by);
    shift(&p->camera[0].at_m, by);
    shift(&p->camera[0].aim_m, by);
    shift(&p->want[0].near_m, by);
}

static void moving_the_whole_scene_changes_nothing(void **state) {
    (void)state;
    random_stream r = {73};
    for (int i = 0; i < SCENES; i++) {
        place p;
        vs_vec3 by = {random_uniform(&r, -40, 40), random_uniform(&r, -40, 40), 3.3};
        random_place(&p, &r);
        vs_shot_prediction here = parts_predict(&p.scene);
        shift_place(&p, by);
        vs_shot_prediction there = parts_predict(&p.scene);
        for (int point = 0; point < 2; point++) {
            CHECK_NEAR(there.point[point].hazed_nits.v[1], here.point[point].hazed_nits.v[1], 1e-6,
                       1e-12);
            CHECK_NEAR(there.point[point].clear_nits.v[1], here.point[point].clear_nits.v[1], 1e-6,
                       1e-12);
        }
        CHECK_NEAR(there.beam[0].over_stops, here.beam[0].over_stops, 1e-5, 1e-9);
        vs_shot_prediction_free(&here);
        vs_shot_prediction_free(&there);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_figure_is_finite_and_shares_add_up),
        cmocka_unit_test(a_dimmer_scales_its_lamp_alone),
        cmocka_unit_test(moving_the_whole_scene_changes_nothing),
    };
    return RUN_TESTS(tests);
}
