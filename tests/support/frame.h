/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small frames for the commands that read pictures: ramps and boxes, clear or through haze. */
#ifndef VEILSTOP_TESTS_FRAME_H
#define VEILSTOP_TESTS_FRAME_H

#include <stddef.h>

#include "veilstop/picture/picture.h"

#define FRAME_WIDTH  96 /* [pixels] */
#define FRAME_HEIGHT 64 /* [pixels] */

/* Writes one of so many columns, through a transmission and a scene-linear veil, with the BT.709
 * curve, as an 8-bit PNG. */
void frame_write(const char *path, size_t width, double transmission, double veil);

/* The picture in such a file; fails the test where it cannot be read. Free by vs_picture_free. */
vs_picture frame_read(const char *path);
/* Checks that a file holds a picture of that size, so many bits a channel. */
void frame_check_size(const char *path, size_t width, size_t height, int bits);

#endif
