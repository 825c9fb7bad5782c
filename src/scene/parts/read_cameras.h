/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cameras. */
#ifndef VEILSTOP_SCENE_PARTS_READ_CAMERAS_H
#define VEILSTOP_SCENE_PARTS_READ_CAMERAS_H

#include "scene/reader.h"

/* Rooms and figures must have been read. */
void vs_scene_read_cameras(vs_scene_reader *reader);

/* A shot's overrides of its camera's settings: the index of the camera so set, or of its own. */
size_t vs_scene_read_camera_set(vs_scene_reader *reader, const vs_json_value *shot, size_t camera);

#endif
