/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small frames for the commands that read pictures: ramps and boxes, clear or through haze. */
#ifndef VEILSTOP_TESTS_FRAME_H
#define VEILSTOP_TESTS_FRAME_H

#include <stddef.h>

#define FRAME_WIDTH  96 /* [pixels] */
#define FRAME_HEIGHT 64 /* [pixels] */

/* Writes one of so many columns, through a transmission and a scene-linear veil, with the BT.709
 * curve, as an 8-bit PNG. */
void frame_write(const char *path, size_t width, double transmission, double veil);

#endif
