/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Wants. */
#ifndef VEILSTOP_SCENE_PARTS_READ_WANTS_H
#define VEILSTOP_SCENE_PARTS_READ_WANTS_H

#include "scene/reader.h"

/* Points of all shots must have been read. */
void vs_scene_read_wants(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out);

#endif
