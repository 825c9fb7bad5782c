/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Locations drawn at random: rooms, boards, lights, a camera, a shot. Predictions are compared with
 * random walks on them, besides the arranged scenes. Invented; no outside source. */
#ifndef TESTS_LOCATION_H
#define TESTS_LOCATION_H

#include <stdint.h>

#include "veilstop/report/text.h"
#include "veilstop/scene/scene_file.h"

/* What a location is about: what the transport of light finds hard. */
typedef enum {
    LOCATION_MIXED,       /* anything, boards, nets and a window included */
    LOCATION_NEAR_BEAM,   /* a line of sight beside a narrow beam */
    LOCATION_HOT_SPOT,    /* a narrow beam onto a near wall, seen */
    LOCATION_NEAR_WALL,   /* a bulb a hand from the wall, seen */
    LOCATION_DARK_POINT,  /* dark walls, dark points, boards */
    LOCATION_THROUGH_DOOR /* two rooms, the camera in one, its points in the other */
} location_kind;
#define LOCATION_KINDS 6
extern const char *const location_kind_name[LOCATION_KINDS];

location_kind location_kind_of(uint64_t seed, size_t rooms);

/* The scene file of a seed, the same with every compiler, of the kind location_kind_of(seed):
 * rooms, 1 or 2 with a doorway, of reflectances 0.02 to 0.9 a face; one to six lights of every
 * kind; a measured fluid, g 0.5 to 0.85, or droplets; one to three points; 0.01 to 0.12 /m, in a
 * fifth of the pairs of rooms each its own. Lengths in metres. The caller frees the text. */
void location_write(uint64_t seed, size_t rooms, vs_text *text);

/* That file read; fails the test where it cannot be. The caller frees it. */
void location_read(uint64_t seed, size_t rooms, vs_scene_file *file);

#endif
