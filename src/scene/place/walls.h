/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How rooms and openings fit together: boxes along the axes, walls without thickness. */
#ifndef VEILSTOP_SCENE_PLACE_WALLS_H
#define VEILSTOP_SCENE_PLACE_WALLS_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/shot/scene.h"

/* Whether two rooms overlap. False if the place of either is unknown. */
bool vs_scene_rooms_overlap(const vs_scene_room *a, const vs_scene_room *b);

typedef enum {
    VS_FIT_RIGHT,
    VS_FIT_NOT_FLAT,   /* its corners do not agree in exactly one coordinate */
    VS_FIT_NO_WALL,    /* it is on no wall of the first room */
    VS_FIT_NOT_SHARED, /* the second room has no wall there */
    VS_FIT_PAST_EDGE,  /* it extends past an edge of the wall */
    VS_FIT_INNER       /* to outside, but another room is behind it */
} vs_opening_fit;

/* Whether an opening lies on the wall between its rooms, or on an outer wall of its one room. If
 * so, its corners are sorted, lowest first, and moved exactly onto the wall.
 *  axis   out: 0, 1 or 2 where the opening is flat in x, y or z; else 3
 *  other  out: for VS_FIT_INNER the room behind it */
vs_opening_fit vs_scene_fit_opening(const vs_scene_room *room, size_t room_count,
                                    vs_scene_opening *opening, int *axis, size_t *other);

/* Whether two openings on their walls overlap. */
bool vs_scene_openings_overlap(const vs_scene_opening *a, const vs_scene_opening *b);

#endif
