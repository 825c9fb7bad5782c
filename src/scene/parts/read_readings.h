/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings taken on the set, and uncertain numbers. */
#ifndef VEILSTOP_SCENE_PARTS_READ_READINGS_H
#define VEILSTOP_SCENE_PARTS_READ_READINGS_H

#include "scene/reader.h"

/* Rooms, cameras and lights must have been read. */
void vs_scene_read_readings(vs_scene_reader *reader);
void vs_scene_read_uncertain(vs_scene_reader *reader);

#endif
