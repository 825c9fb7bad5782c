/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Photos as files. */
#ifndef VEILSTOP_CLI_PHOTO_H
#define VEILSTOP_CLI_PHOTO_H

#include "ask/context.h"
#include "veilstop/picture/png.h"

/* Reads a PNG, reduced where it has more pixels (png.h). A message where it cannot be read.
 * colour, note  out, what it says of its code values; NULL: not needed */
vs_exit vs_cli_photo_read(const char *path, size_t pixels_most, vs_picture *picture,
                          vs_png_size *size, vs_png_colour *colour, char *note);

/* Writes a PNG with what its code values mean. */
vs_exit vs_cli_photo_write(const char *path, const vs_picture *picture,
                           const vs_png_colour *colour);

#endif
