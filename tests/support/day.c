/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See day.h. */
#include "day.h"

#include <math.h>
#include <string.h>

void day_add_room(day_set *s, double length_m, double air_changes_per_h) {
    size_t i = s->scene.room_count++;
    double west_m = i ? s->room[i - 1].corner_m.x + s->room[i - 1].size_m.x : 0;
    static const char *const names[DAY_ROOMS_MAX] = {"hall", "stairs", "store",  "loft",
                                                     "yard", "porch",  "office", "cellar"};
    s->room[i] = (vs_scene_room){.name = names[i],
                                 .corner_m = {west_m, 0, 0},
                                 .size_m = {length_m, DAY_WIDTH_M, DAY_HEIGHT_M},
                                 .air_change_per_s = air_changes_per_h / VS_S_PER_H,
                                 .deposition_per_s = 0.3 / VS_S_PER_H,
                                 .mixing_s = 0,
                                 .purge_air_change_per_s = NAN};
    s->camera[i] = (vs_camera){.name = names[i], .at_m = {west_m + 0.5, 1, 1.5}};
    s->scene.camera_count = s->scene.room_count;
}

vs_scene_shot *day_add_shot(day_set *s, size_t camera, double extinction_per_m, double minutes) {
    size_t i = s->scene.shot_count++;
    static const char *const names[] = {"1", "2", "3", "4"};
    for (size_t k = 0; k < DAY_ROOMS_MAX; k++) {
        s->density[i][k] = extinction_per_m;
    }
    s->shot[i] = (vs_scene_shot){.name = names[i],
                                 .camera = camera,
                                 .density = VS_DENSITY_EXTINCTION,
                                 .room_density = s->density[i],
                                 .length_s = minutes * VS_S_PER_MIN,
                                 .roll_s = NAN,
                                 .reset_s = NAN};
    return &s->shot[i];
}

void day_add_opening(day_set *s, size_t a, size_t b, double m3_per_h) {
    double at_m = s->room[a].corner_m.x + s->room[a].size_m.x;
    s->opening[s->scene.opening_count++] =
        (vs_scene_opening){.name = "door",
                           .room = {a, b},
                           .corner_m = {{at_m, 1, 0}, {at_m, 1.9, 2}},
                           .transmittance = 1,
                           .exchange_m3_per_s = m3_per_h / VS_S_PER_H};
}

void day_init(day_set *s) {
    memset(s, 0, sizeof *s);
    s->scene = (vs_scene){.title = "test",
                          .start_s = NAN,
                          .room = s->room,
                          .opening = s->opening,
                          .camera = s->camera,
                          .shot = s->shot,
                          .fluid = {.name = "test",
                                    .density_g_per_ml = 1.04,
                                    .nonvolatile_fraction = 0.35,
                                    .half_life_s = 3600,
                                    .measured = true,
                                    .extinction_m2_per_g = DAY_M2_PER_G,
                                    .settling_m_per_s = 3e-5},
                          .hazer = {.room = 0,
                                    .fluid_ml_per_s = 60 / VS_S_PER_H,
                                    .airborne_fraction = 0.9,
                                    .burst_min_s = 2,
                                    .burst_max_s = 300}};
    s->haze.extinction_m2_per_g = vs_bands_grey(DAY_M2_PER_G);
    day_add_room(s, 8, 0.5);
}
