/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "picture/pair/pair_blocks.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK_GOAL     20000 /* blocks in a large frame: enough for a line, few enough to sort */
#define BLOCK_SIDE_MAX 64    /* [pixels] our choice */
#define BLOCK_SIDE_FEW 4     /* [pixels] the least if the frame allows: averages out noise */
#define CLIP_CODE      65150 /* [code] 253.5 of 255: from here a pixel may be clipped */

const uint16_t *vs_pair_partner(const vs_pair_frames *frames, size_t x, size_t y) {
    const vs_picture *hazed = frames->hazed;
    long px = (long)x + frames->shift_x, py = (long)y + frames->shift_y;
    bool inside = px >= 0 && py >= 0 && px < (long)hazed->width && py < (long)hazed->height;
    return inside ? vs_picture_at(hazed, (size_t)px, (size_t)py) : NULL;
}

static size_t block_side(const vs_picture *picture) {
    size_t shorter = picture->width < picture->height ? picture->width : picture->height;
    size_t least = shorter / 8 < BLOCK_SIDE_FEW ? shorter / 8 : BLOCK_SIDE_FEW;
    double goal = sqrt((double)(picture->width * picture->height) / BLOCK_GOAL);
    size_t side = goal > BLOCK_SIDE_MAX ? BLOCK_SIDE_MAX : (size_t)goal;
    side = side < least ? least : side;
    return side > 0 ? side : 1;
}

vs_status vs_pair_blocks_init(vs_pair_blocks *b, const vs_picture *picture) {
    memset(b, 0, sizeof *b);
    b->side = block_side(picture);
    b->columns = picture->width / b->side;
    b->rows = picture->height / b->side;
    b->count = b->columns * b->rows;
    b->clear = malloc(b->count * sizeof *b->clear);
    b->hazed = malloc(b->count * sizeof *b->hazed);
    return b->clear && b->hazed ? VS_OK : VS_ERR_MEMORY;
}

void vs_pair_blocks_free(vs_pair_blocks *b) {
    free(b->clear);
    free(b->hazed);
    b->clear = b->hazed = NULL;
}

static bool clipped(const uint16_t *pixel) {
    return pixel[0] >= CLIP_CODE || pixel[1] >= CLIP_CODE || pixel[2] >= CLIP_CODE;
}

static void average_block(vs_pair_blocks *b, size_t column, size_t row,
                          const vs_pair_frames *frames, const float *linear) {
    double sum[2][VS_BAND_COUNT] = {{0}};
    size_t used = 0;
    for (size_t y = row * b->side; y < (row + 1) * b->side; y++) {
        for (size_t x = column * b->side; x < (column + 1) * b->side; x++) {
            const uint16_t *p = vs_picture_at(frames->clear, x, y);
            const uint16_t *q = vs_pair_partner(frames, x, y);
            if (!q || clipped(p) || clipped(q)) {
                continue;
            }
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                sum[0][band] += (double)linear[p[band]];
                sum[1][band] += (double)linear[q[band]];
            }
            used++;
        }
    }
    bool enough = 2 * used >= b->side * b->side;
    size_t place = row * b->columns + column;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        b->clear[place].v[band] = enough ? sum[0][band] / (double)used : (double)NAN;
        b->hazed[place].v[band] = enough ? sum[1][band] / (double)used : (double)NAN;
    }
}

void vs_pair_blocks_average(vs_pair_blocks *b, const vs_pair_frames *frames, const float *linear) {
    for (size_t row = 0; row < b->rows; row++) {
        for (size_t column = 0; column < b->columns; column++) {
            average_block(b, column, row, frames, linear);
        }
    }
}

size_t vs_pair_block_at(const vs_pair_blocks *b, size_t x, size_t y) {
    size_t column = x / b->side, row = y / b->side;
    column = column < b->columns ? column : b->columns - 1;
    row = row < b->rows ? row : b->rows - 1;
    return row * b->columns + column;
}
