/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pixels in memory: red, green, blue, 16 bits each, whatever the file has. */
#ifndef VEILSTOP_PICTURE_PICTURE_H
#define VEILSTOP_PICTURE_PICTURE_H

#include <stddef.h>
#include <stdint.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_PICTURE_SIDE_MAX   16384u     /* [pixels] width and height: our choice */
#define VS_PICTURE_PIXELS_MAX (1u << 26) /* [pixels] 67 million: 8K twice over, 400 MB */
#define VS_PICTURE_FULL       65535u     /* code value of full scale, 1.0 */

typedef struct {
    size_t width, height; /* [pixels] */
    int bits;             /* per channel in the file: 8 or 16 */
    uint16_t *sample;     /* 3 x width x height: R G B, left to right, top to bottom; owned */
} vs_picture;

/** A black picture.  Errors: VS_ERR_DOMAIN (a size of 0 or over the limits, bits not 8 or 16),
 *  VS_ERR_MEMORY; *picture is then zero. */
VS_WARN_UNUSED vs_status vs_picture_init(vs_picture *picture, size_t width, size_t height,
                                         int bits);
/** Safe to call twice, or on a zeroed one. */
void vs_picture_free(vs_picture *picture);

/** The three samples of the pixel in column x, row y; both inside. */
static inline uint16_t *vs_picture_at(const vs_picture *picture, size_t x, size_t y) {
    return picture->sample + 3 * (y * picture->width + x);
}

#ifdef __cplusplus
}
#endif
#endif
