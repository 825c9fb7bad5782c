/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A quantity laid over the picture from few samples: square cells of pixels, halved where a sample
 * in the middle is not what the corners say, or where a line crosses; within a cell each thing that
 * is seen has samples of its own, so that no edge is smeared. */
#ifndef VEILSTOP_PICTURE_VIEW_CELLS_H
#define VEILSTOP_PICTURE_VIEW_CELLS_H

#include <stdbool.h>
#include <stdint.h>

#include "picture/view/lines.h"
#include "veilstop/base/bands.h"

#define VS_CELLS_CHANNELS VS_BAND_COUNT

#define VS_CELLS_MIXED UINT16_MAX

/* A pixel whose value is asked for. */
typedef struct {
    uint16_t x, y;
} vs_cells_place;

/* The grid of pixels, a little larger than the picture: whole cells and a closing row and column.
 */
typedef struct {
    size_t width, height;  /* of the picture */
    size_t across, down;   /* of the grid, in pixels */
    size_t cell;           /* side of the largest cells: a power of two */
    const uint16_t *label; /* across x down: what each pixel sees */
} vs_cells_grid;

/* One quantity. */
typedef struct {
    const uint16_t *kind;  /* one a label: labels of one kind are one smooth thing */
    const uint16_t *whole; /* one a cell of the grid: the label of all of it and its closing row and
                              * column, where they are of one kind; else VS_CELLS_MIXED */
    const float *scale;    /* one a label: tolerance times this; 0: nothing to work out */
    const float *tolerance;       /* one a cell of the grid's size: where all is of one kind */
    const float *tolerance_mixed; /* and where it is not */
    float relative;               /* [1] and so much of the quantity itself */
    const vs_lines *edge;         /* NULL: none; cells down to edge_least are halved at these */
    size_t edge_least;            /* [pixels] */
    bool edge_spread;             /* pixels on an edge take the mean of several rays */
    bool (*fine)(void *context, double x, double y, double side); /* whether to halve it anyhow;
                                                                   * may be NULL */
    void (*ask)(void *context, const vs_cells_place *place, size_t count,
                float (*value)[VS_CELLS_CHANNELS]);
    void (*ask_spread)(void *context, const vs_cells_place *place, size_t count,
                       float (*value)[VS_CELLS_CHANNELS]);
    void *context;
    bool level;   /* samples are not quite smooth: the middle of a cell raises no bulge */
    size_t least; /* [pixels] cells are not halved below this: 1 for all */
    float *into[2][VS_CELLS_CHANNELS]; /* planes of the picture, added to; second may be NULL */
} vs_cells_field;

/* Memory for a part of the grid; one a thread. */
typedef struct {
    size_t width, height; /* [pixels] of the largest part, without its closing row and column */
    float (*value)[VS_CELLS_CHANNELS];
    uint8_t *known;
    struct vs_cells_item *item, *next;
    size_t item_count, item_size, next_count, next_size;
    uint32_t *want; /* places asked for */
    vs_cells_place *place;
    float (*answer)[VS_CELLS_CHANNELS];
    size_t want_count, want_size;
    bool failed;
    size_t asked; /* places asked for since init: for measurements */
} vs_cells;

VS_WARN_UNUSED vs_status vs_cells_init(vs_cells *cells, size_t width, size_t height);
void vs_cells_free(vs_cells *cells);

/* Lays a quantity over a part of the grid: x, y, width and height in pixels, multiples of
 * `start`, which is the side of the first cells: the grid's own or a multiple.
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_cells_lay(vs_cells *cells, const vs_cells_grid *grid,
                                      const vs_cells_field *field, size_t x, size_t y, size_t width,
                                      size_t height, size_t start);

/* Gives a part's sample before it is laid: what is known need not be asked. Between vs_cells_begin
 * and vs_cells_lay. */
void vs_cells_begin(vs_cells *cells, size_t width, size_t height);
void vs_cells_know(vs_cells *cells, size_t x, size_t y, const float value[VS_CELLS_CHANNELS]);

#endif
