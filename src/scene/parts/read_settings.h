/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Settings of a shot that override the scene's. */
#ifndef VEILSTOP_SCENE_PARTS_READ_SETTINGS_H
#define VEILSTOP_SCENE_PARTS_READ_SETTINGS_H

#include "scene/reader.h"

/* Dimmers, openings, the sun. The shot's lights must have been read. */
void vs_scene_read_settings(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out);

#endif
