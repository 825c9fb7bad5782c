/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The venue. */
#ifndef VEILSTOP_SCENE_PARTS_READ_VENUE_H
#define VEILSTOP_SCENE_PARTS_READ_VENUE_H

#include "scene/reader.h"

/* Rooms must have been read. */
void vs_scene_read_venue(vs_scene_reader *reader);

#endif
