/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene for tests of the choice: one hall in one uniform light from everywhere, where veils have
 * closed forms; shots with points on the camera's axis; lamps where a test wants them. */
#ifndef VEILSTOP_TESTS_HALL_H
#define VEILSTOP_TESTS_HALL_H

#include "veilstop/shot/scene.h"

#define HALL_SHOTS  3
#define HALL_POINTS 3
#define HALL_WANTS  6
#define HALL_LIGHTS 3

/* Points into itself: not to be moved. */
typedef struct {
    vs_scene scene;
    vs_scene_room room;
    vs_camera camera[2];
    vs_light light[HALL_LIGHTS];
    size_t light_index[HALL_LIGHTS];
    vs_scene_shot shot[HALL_SHOTS];
    vs_scene_point point[HALL_SHOTS][HALL_POINTS];
    vs_scene_want want[HALL_SHOTS][HALL_WANTS];
    double density[HALL_SHOTS];
} hall_set;

/* 20 x 6 x 4 m; camera 0 at (1, 3, 1.5) looks east with a linear curve, camera 1 at (19, 3, 1.5)
 * looks back; grey haze, g 0.7; the same radiance from everywhere; no lamps, no shots. */
void hall_init(hall_set *h, double ambient_nits);
/* An open shot of a camera that uses all lamps. Add lamps first. */
vs_scene_shot *hall_add_shot(hall_set *h, size_t camera);
/* Adds a point of a luminance so far down the axis of its shot's camera, or a want. */
void hall_add_point(hall_set *h, double distance_m, double nits);
vs_scene_want *hall_add_want(hall_set *h, vs_want_kind kind, double limit);
/* Gives the last shot a density. */
void hall_give(hall_set *h, double extinction_per_m);
void hall_add_lamp(hall_set *h, vs_vec3 at_m, double candela);
void hall_add_spot(hall_set *h, vs_vec3 at_m, vs_vec3 aim_m, double beam_deg, double candela);

#endif
