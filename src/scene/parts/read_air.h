/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fluid, hazers, and whether room bounce counts. */
#ifndef VEILSTOP_SCENE_PARTS_READ_AIR_H
#define VEILSTOP_SCENE_PARTS_READ_AIR_H

#include "scene/reader.h"

/* Rooms must have been read. */
void vs_scene_read_air(vs_scene_reader *reader);

#endif
