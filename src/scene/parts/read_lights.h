/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lights. */
#ifndef VEILSTOP_SCENE_PARTS_READ_LIGHTS_H
#define VEILSTOP_SCENE_PARTS_READ_LIGHTS_H

#include "scene/reader.h"

/* Rooms and openings must have been read. */
void vs_scene_read_lights(vs_scene_reader *reader);

#endif
