/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sun and sky. */
#ifndef VEILSTOP_SCENE_PARTS_READ_WINDOWS_H
#define VEILSTOP_SCENE_PARTS_READ_WINDOWS_H

#include "scene/reader.h"

/* The openings a sun or sky comes through, and the direction of sunlight; adds its parts. */
void vs_scene_read_windows(vs_scene_reader *reader, const vs_json_value *value, vs_light *light);

/* The direction in which sunlight travels, from {azimuth_deg, elevation_deg}; NaN after a fault. */
vs_vec3 vs_scene_need_sun(const vs_json_value *value);

/* Whether light travelling this way enters through a sun's opening. True if either is unknown. */
bool vs_scene_sun_enters(const vs_scene_reader *reader, const vs_light *sun, vs_vec3 travel);

#endif
