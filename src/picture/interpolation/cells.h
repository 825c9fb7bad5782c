/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A quantity interpolated over the picture from few samples: square cells of pixels, divided where
 * a sample in the middle differs from its interpolation, or where a line crosses; within a cell
 * each visible thing has its own samples, so that edges stay sharp. Cells are found once for a
 * range of densities, good at each step of its ladder, and filled at any density in it. */
#ifndef VEILSTOP_PICTURE_INTERPOLATION_CELLS_H
#define VEILSTOP_PICTURE_INTERPOLATION_CELLS_H

#include <stdbool.h>
#include <stdint.h>

#include "picture/interpolation/ladder.h"
#include "picture/interpolation/lines.h"
#include "veilstop/base/bands.h"

#define VS_CELLS_CHANNELS VS_BAND_COUNT
#define VS_CELLS_SAMPLES  5 /* of a cell: its corners and its middle */

#define VS_CELLS_MIXED UINT16_MAX

enum { VS_CELLS_TOP, VS_CELLS_LEFT, VS_CELLS_RIGHT, VS_CELLS_BOTTOM, VS_CELLS_EDGES };
#define VS_CELLS_NONE UINT32_MAX

/* A pixel whose value is needed. */
typedef struct {
    uint16_t x, y;
} vs_cells_place;

/* What a place gives, channel by channel, step by step of the ladder. */
typedef struct {
    float at[VS_CELLS_CHANNELS][VS_LADDER_STEPS];
} vs_cells_value;

/* The grid of pixels, slightly larger than the picture: whole cells and a closing row and column.
 */
typedef struct {
    size_t width, height;  /* of the picture */
    size_t across, down;   /* of the grid, in pixels */
    size_t cell;           /* side of the largest cells: a power of two */
    const uint16_t *label; /* across x down: what each pixel sees */
} vs_cells_grid;

/* One quantity. */
typedef struct {
    const uint16_t *kind;  /* one per label: labels of one kind form one smooth thing */
    const uint16_t *whole; /* one per cell of the grid: its label, if cell, closing row and column
                            * are of one kind; else VS_CELLS_MIXED */
    const float *scale;    /* one per label: factor on the tolerance; 0: nothing to compute */
    /* one a cell of the grid's size, step by step: where all is of one kind, and where not */
    const float *tolerance[VS_LADDER_STEPS], *tolerance_mixed[VS_LADDER_STEPS];
    float relative;       /* [1] and this share of the quantity itself */
    const vs_lines *edge; /* cells are divided at these, down to edge_least; NULL: none */
    size_t edge_least;    /* [pixels] */
    bool edge_spread;     /* pixels on an edge get the mean of several rays */
    bool (*fine)(void *context, double x, double y, double side); /* whether to divide it anyway;
                                                                   * may be NULL */
    void (*sample)(void *context, const vs_cells_place *place, size_t count, vs_cells_value *value);
    void (*sample_spread)(void *context, const vs_cells_place *place, size_t count,
                          vs_cells_value *value);
    void *context;
    size_t least;  /* [pixels] cells are not divided below this: 1 for no limit */
    size_t most;   /* [pixels] larger ones always are */
    bool straight; /* the quantity is interpolated itself, not its logarithm: see ladder.h */
    double unit[VS_LADDER_STEPS]; /* it is kept in these */
} vs_cells_field;

/* A cell, or what one of its cells sees of one kind. */
typedef struct {
    uint16_t x, y, side; /* [pixels] of the grid */
    uint16_t kind;
    uint8_t count;
    bool whole; /* all of it and its closing row and column are of one kind */
    uint32_t sample[VS_CELLS_SAMPLES];
    uint32_t edge[VS_CELLS_EDGES]; /* of a whole one: samples in the middles of its sides, where
                                    * smaller cells beside it have them; else VS_CELLS_NONE */
} vs_cells_region;

/* A pixel with a sample of its own. */
typedef struct {
    uint32_t pixel, sample;
} vs_cells_dot;

/* Cells of one quantity over a part of the grid, and their samples. */
typedef struct {
    const uint16_t *kind; /* of the field */
    bool straight;
    vs_cells_place *place;
    float (*kept)[VS_LADDER_STEPS]; /* sample x channel: logarithms, or straight */
    float (*all)[VS_LADDER_STEPS];  /* the same with a factor on each; NULL: none */
    size_t sample_count;
    vs_cells_region *region;
    size_t region_count;
    vs_cells_dot *dot;
    size_t dot_count;
} vs_cells_plan;

/* Memory to find cells of a part of the grid with; one a thread. */
typedef struct {
    size_t width, height; /* [pixels] of the largest part, without its closing row and column */
    uint32_t *index;      /* one a place: its sample and one; 0: none */
    vs_cells_place *place;
    vs_cells_value *value;
    size_t sample_count, place_size, value_size, computed;
    struct vs_cells_item *item, *next;
    size_t item_count, item_size, next_count, next_size;
    vs_cells_region *region;
    size_t region_count, region_size;
    vs_cells_dot *dot;
    size_t dot_count, dot_size;
    bool failed;
} vs_cells;

VS_WARN_UNUSED vs_status vs_cells_init(vs_cells *cells, size_t width, size_t height);
void vs_cells_free(vs_cells *cells);

/* Begins a part: x, y, width and height in pixels, multiples of the grid's cell. */
void vs_cells_begin(vs_cells *cells, size_t width, size_t height);
/* Gives a sample that need not be computed: x, y on the grid, in_x, in_y in the part. */
void vs_cells_know(vs_cells *cells, size_t x, size_t y, size_t in_x, size_t in_y,
                   const vs_cells_value *value);

/* Finds the cells of a quantity over the part that was begun.
 *  start  side of the first cells: the grid's own or a multiple
 *  plan   out; free on VS_OK only.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_cells_find(vs_cells *cells, const vs_cells_grid *grid,
                                       const vs_cells_field *field, size_t x, size_t y,
                                       size_t start, vs_cells_plan *plan);
void vs_cells_plan_free(vs_cells_plan *plan);

/* Its last step: makes the plan of what was found from x, y on; where memory runs out, cells->failed
 * is set. */
void vs_cells_plan_make(vs_cells *cells, const vs_cells_field *field, size_t x, size_t y,
                        vs_cells_plan *plan);

/* What a plan's samples are at one density: one a sample.
 * all  with the factors on them, where there are any */
void vs_cells_values(const vs_cells_plan *plan, bool all, const double weight[VS_LADDER_STEPS],
                     double unit, float (*value)[VS_CELLS_CHANNELS]);

/* A quantity that has values at the samples of a plan, at one place of the grid: what its regions
 * say, filled as vs_cells_fill_regions does; 0 where none is.
 *  value  one a sample, `stride` apart;  first, count  regions to look among;  label  of the place */
void vs_cells_read(const vs_cells_plan *plan, const vs_cells_value *value, size_t stride,
                   size_t first, size_t count, const vs_cells_place *place, uint16_t label,
                   vs_cells_value *found);

/* Planes of the picture that are added to. */
typedef struct {
    float *band[VS_CELLS_CHANNELS];
} vs_cells_planes;

/* Fills some of a plan's regions, or dots.  value  one a sample */
void vs_cells_fill_regions(const vs_cells_plan *plan, const vs_cells_grid *grid,
                           const float (*value)[VS_CELLS_CHANNELS], size_t first, size_t count,
                           const vs_cells_planes *into);
void vs_cells_fill_dots(const vs_cells_plan *plan, const float (*value)[VS_CELLS_CHANNELS],
                        const vs_cells_planes *into);

#endif
