/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lengths, positions, aims and sizes of a scene file, in metres (docs/scene.md, "Lengths"). */
#ifndef VEILSTOP_SCENE_PLACE_LENGTHS_H
#define VEILSTOP_SCENE_PLACE_LENGTHS_H

#include "scene/reader.h"

/* " m" or " ft", as written after a number. */
const char *vs_scene_unit_text(double unit_m);
/* A length [m]: a number in the scene's unit, or a text with a unit. NaN after a fault. */
double vs_scene_need_length(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                            vs_json_range range_m);
/* A length whose key ends in _m: numbers are in metres whatever the scene's unit. */
double vs_scene_need_metres(const vs_json_value *object, const char *key, vs_json_range range_m);
double vs_scene_take_metres(const vs_json_value *object, const char *key, vs_json_range range_m,
                            double fallback);
/* Three lengths. NaN throughout after a fault. */
vs_vec3 vs_scene_need_position(vs_scene_reader *reader, const vs_json_value *object,
                               const char *key);
/* A position different from `from`: an aim. */
vs_vec3 vs_scene_need_aim(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                          vs_vec3 from, const char *from_key);
/* Two lengths over 0. */
void vs_scene_need_size2(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                         double *width_m, double *height_m);
/* Three numbers, not all 0, as a unit vector. NaN after a fault. */
vs_vec3 vs_scene_need_direction(const vs_json_value *object, const char *key);

/* A position that must be in a room, walls included; moved onto the wall if it is outside by less
 * than VS_SCENE_TOUCH_M. */
vs_vec3 vs_scene_need_inside(vs_scene_reader *reader, const vs_json_value *object, const char *key);

static inline bool vs_scene_is_position(vs_vec3 a) {
    return !isnan(a.x) && !isnan(a.y) && !isnan(a.z);
}
bool vs_scene_same_place(vs_vec3 a, vs_vec3 b);

#endif
