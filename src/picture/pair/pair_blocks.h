/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Means over blocks of two frames, and the correspondence of their pixels. */
#ifndef VEILSTOP_PICTURE_PAIR_PAIR_BLOCKS_H
#define VEILSTOP_PICTURE_PAIR_PAIR_BLOCKS_H

#include <stdint.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/picture/picture.h"

/* Two frames of one size; the hazed one is shifted right by shift_x and down by shift_y. */
typedef struct {
    const vs_picture *clear, *hazed;
    int shift_x, shift_y; /* [pixels] */
} vs_pair_frames;

/* The pixel of the hazed frame that shows what the clear one shows at x, y; NULL outside. */
const uint16_t *vs_pair_partner(const vs_pair_frames *frames, size_t x, size_t y);

/* Means over side x side pixels, in scene-linear light, row by row. */
typedef struct {
    size_t columns, rows, side, count;
    vs_bands *clear, *hazed; /* NaN if too much is clipped */
} vs_pair_blocks;

/* Memory for the blocks of a frame: small ones, as many as a line through them needs.
 * Errors: VS_ERR_MEMORY; must be freed even then. */
VS_WARN_UNUSED vs_status vs_pair_blocks_init(vs_pair_blocks *blocks, const vs_picture *picture);
void vs_pair_blocks_free(vs_pair_blocks *blocks);
/* linear: scene-linear light of each of the code values. */
void vs_pair_blocks_average(vs_pair_blocks *blocks, const vs_pair_frames *frames,
                            const float *linear);
/* The block of a pixel; blocks at the edges include the remaining pixels. */
size_t vs_pair_block_at(const vs_pair_blocks *blocks, size_t x, size_t y);

#endif
