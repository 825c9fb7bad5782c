/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A PNG that is not compressed, for where there is no libpng: the library and the page. */
#ifndef VEILSTOP_PICTURE_PNG_PLAIN_H
#define VEILSTOP_PICTURE_PNG_PLAIN_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/picture/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_PNG_PLAIN_PIXELS_MAX (1u << 22) /* [pixels] what is larger is to be compressed */

/** Writes RGB with 8 bits a channel, rounded to nearest.
 *  bytes   out, the whole file; the caller frees it with free(); NULL on error
 *  Errors: VS_ERR_DOMAIN (no picture, or a larger one), VS_ERR_MEMORY.
 *  Checked: tests/unit/test_png.c: libpng reads back what vs_png_write gives. */
VS_WARN_UNUSED vs_status vs_png_write_plain(const vs_picture *picture, unsigned char **bytes,
                                            size_t *length);

#ifdef __cplusplus
}
#endif
#endif
