/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See hall.h. */
#include "hall.h"

#include <math.h>
#include <string.h>

#include "check.h"
#include "parts.h"

static const char *const hall_names[] = {"first", "second", "third"};

void hall_init(hall_set *h, double ambient_nits) {
    memset(h, 0, sizeof *h);
    h->room.name = "hall";
    h->room.size_m = (vs_vec3){20, 6, 4};
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        h->room.reflectance[face] = 0.3;
    }
    h->room.air_change_per_s = 0.5 / VS_S_PER_H;
    h->room.deposition_per_s = 0.3 / VS_S_PER_H;
    h->room.mixing_s = 300;
    h->room.purge_air_change_per_s = NAN;
    for (int i = 0; i < 2; i++) {
        vs_camera *camera = &h->camera[i];
        *camera = parts_camera(VS_CURVE_LINEAR);
        camera->name = hall_names[i];
        camera->at_m = i == 0 ? (vs_vec3){1, 3, 1.5} : (vs_vec3){19, 3, 1.5};
        camera->aim_m = i == 0 ? (vs_vec3){19, 3, 1.5} : (vs_vec3){1, 3, 1.5};
    }
    vs_scene *s = &h->scene;
    s->title = "hall";
    s->room = &h->room;
    s->room_count = 1;
    s->fluid = (vs_fluid){.density_g_per_ml = 1.04,
                          .nonvolatile_fraction = 0.35,
                          .half_life_s = 3600,
                          .measured = true,
                          .extinction_m2_per_g = 4,
                          .g = 0.7};
    s->hazer = (vs_scene_hazer){.room = 0,
                                .fluid_ml_per_s = 60 / VS_S_PER_H,
                                .airborne_fraction = 0.9,
                                .warm_up_s = 60,
                                .burst_min_s = 5,
                                .burst_max_s = 120};
    s->indirect = VS_INDIRECT_NITS;
    s->indirect_nits = ambient_nits;
    s->light = h->light;
    s->camera = h->camera;
    s->camera_count = 2;
    s->shot = h->shot;
}

vs_scene_shot *hall_add_shot(hall_set *h, size_t camera) {
    size_t i = h->scene.shot_count++;
    CHECK_TRUE(i < HALL_SHOTS);
    h->shot[i] = (vs_scene_shot){.name = hall_names[i],
                                 .camera = camera,
                                 .light = h->light_index,
                                 .light_count = h->scene.light_count,
                                 .density = VS_DENSITY_OPEN,
                                 .length_s = 1800,
                                 .point = h->point[i],
                                 .want = h->want[i],
                                 .roll_s = NAN,
                                 .reset_s = NAN};
    return &h->shot[i];
}

void hall_add_point(hall_set *h, double distance_m, double nits) {
    size_t i = h->scene.shot_count - 1, k = h->shot[i].point_count++;
    CHECK_TRUE(k < HALL_POINTS);
    const vs_camera *camera = &h->camera[h->shot[i].camera];
    double way = camera->aim_m.x > camera->at_m.x ? 1 : -1;
    h->point[i][k] = (vs_scene_point){.name = hall_names[k], .kind = VS_POINT_NITS, .value = nits};
    h->point[i][k].at_m = camera->at_m;
    h->point[i][k].at_m.x += way * distance_m;
}

vs_scene_want *hall_add_want(hall_set *h, vs_want_kind kind, double limit) {
    size_t i = h->scene.shot_count - 1, k = h->shot[i].want_count++;
    CHECK_TRUE(k < HALL_WANTS);
    h->want[i][k] = (vs_scene_want){.kind = kind, .b = 1, .limit = limit};
    return &h->want[i][k];
}

void hall_give(hall_set *h, double extinction_per_m) {
    size_t i = h->scene.shot_count - 1;
    h->density[i] = extinction_per_m;
    h->shot[i].density = VS_DENSITY_EXTINCTION;
    h->shot[i].room_density = &h->density[i];
}

static vs_light *add_light(hall_set *h, vs_light_kind kind, vs_vec3 at_m, double candela) {
    size_t i = h->scene.light_count++;
    CHECK_TRUE(i < HALL_LIGHTS);
    h->light[i] = (vs_light){.name = hall_names[i],
                             .kind = kind,
                             .on = true,
                             .dimmer = 1,
                             .strength = VS_STRENGTH_CANDELA,
                             .value = candela,
                             .at_m = at_m};
    h->light_index[i] = i;
    return &h->light[i];
}

void hall_add_lamp(hall_set *h, vs_vec3 at_m, double candela) {
    add_light(h, VS_LIGHT_LAMP, at_m, candela);
}

void hall_add_spot(hall_set *h, vs_vec3 at_m, vs_vec3 aim_m, double beam_deg, double candela) {
    vs_light *light = add_light(h, VS_LIGHT_SPOT, at_m, candela);
    light->aim_m = aim_m;
    light->beam_rad = beam_deg * VS_RAD_PER_DEG;
    light->field_rad = NAN;
}
