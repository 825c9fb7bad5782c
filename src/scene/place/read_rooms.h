/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rooms, the openings between them, and blockers. */
#ifndef VEILSTOP_SCENE_PLACE_READ_ROOMS_H
#define VEILSTOP_SCENE_PLACE_READ_ROOMS_H

#include "scene/reader.h"

void vs_scene_read_rooms(vs_scene_reader *reader);
/* Rooms must have been read. */
void vs_scene_read_openings(vs_scene_reader *reader);
void vs_scene_read_blockers(vs_scene_reader *reader);

#endif
