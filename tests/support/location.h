/* Locations drawn at random: rooms, boards, lights, a camera, a shot. What predictions are held
 * against random walks on, beside the arranged scenes. Invented; no outside source. */
#ifndef TESTS_LOCATION_H
#define TESTS_LOCATION_H

#include <stdint.h>

#include "veilstop/report/text.h"
#include "veilstop/scene/scene_file.h"

/* The scene file of a seed, the same with every compiler: one room, or (60 %) two with a doorway; a
 * window (70 %); reflectances 0 to 0.85 a room; up to three boards and nets; one to six lights of
 * every kind; one to three points; 0.01 to 0.12 /m, in a fifth of the pairs of rooms each its own.
 * Lengths in metres. The caller frees the text. */
void location_write(uint64_t seed, vs_text *text);

/* That file read; fails the test where it cannot be. The caller frees it. */
void location_read(uint64_t seed, vs_scene_file *file);

#endif
