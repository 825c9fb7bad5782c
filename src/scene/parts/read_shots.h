/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots. */
#ifndef VEILSTOP_SCENE_PARTS_READ_SHOTS_H
#define VEILSTOP_SCENE_PARTS_READ_SHOTS_H

#include "scene/reader.h"

/* Everything that a shot refers to must have been read. */
void vs_scene_read_shots(vs_scene_reader *reader);

#endif
