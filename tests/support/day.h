/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene for tests of the day: rooms in a row along x, a camera in each, a fluid as if measured.
 */
#ifndef VEILSTOP_TESTS_DAY_H
#define VEILSTOP_TESTS_DAY_H

#include "veilstop/shot/scene.h"

#define DAY_M2_PER_G  5.0 /* extinction of its fluid */
#define DAY_ROOMS     3   /* in random days */
#define DAY_ROOMS_MAX 8
#define DAY_SHOTS     4
#define DAY_WIDTH_M   4.2
#define DAY_HEIGHT_M  2.9

/* Points into itself: not to be moved. */
typedef struct {
    vs_scene scene;
    vs_scene_room room[DAY_ROOMS_MAX];
    vs_scene_opening opening[DAY_ROOMS_MAX];
    vs_camera camera[DAY_ROOMS_MAX];
    vs_scene_shot shot[DAY_SHOTS];
    double density[DAY_SHOTS][DAY_ROOMS_MAX];
    vs_scene_point point;
    vs_haze haze;
} day_set;

/* One hall of 8 m, haze mixing at once, no warm-up, no purge: each test changes what it tests.
 */
void day_init(day_set *s);
/* A room of that length, next to the last; its camera has its index. */
void day_add_room(day_set *s, double length_m, double air_changes_per_h);
void day_add_opening(day_set *s, size_t a, size_t b, double m3_per_h);
/* A shot without takes, at one extinction in all rooms. */
vs_scene_shot *day_add_shot(day_set *s, size_t camera, double extinction_per_m, double minutes);

#endif
