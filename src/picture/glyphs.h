/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Letters for captions: 5 by 9 dots, drawn for this program. */
#ifndef VEILSTOP_PICTURE_GLYPHS_H
#define VEILSTOP_PICTURE_GLYPHS_H

#include <stddef.h>

#include "veilstop/picture/picture.h"

#define VS_GLYPH_WIDTH   5
#define VS_GLYPH_HEIGHT  9 /* two of them under the line */
#define VS_GLYPH_ADVANCE 6

/* Writes UTF-8 text at a position, with dots of `dot` pixels, in one grey; text that does not fit
 * into `width` pixels ends in dots. Letters beyond ASCII are boxes. */
void vs_glyphs_write(vs_picture *picture, size_t x, size_t y, size_t width, size_t dot,
                     const char *text, double signal);

#endif
