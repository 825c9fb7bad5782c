/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Discontinuity lines of the picture: outlines of visible things, edges of shadows on surfaces, edges
 * of shafts of light in the air. A cell that none of them crosses is smooth. */
#ifndef VEILSTOP_PICTURE_INTERPOLATION_LINES_H
#define VEILSTOP_PICTURE_INTERPOLATION_LINES_H

#include "picture/interpolation/bodies.h"
#include "veilstop/light/emitter.h"
#include "veilstop/shot/scene_geometry.h"

typedef struct {
    float x0, y0, x1, y1; /* [pixels], middles of pixels at whole numbers */
} vs_line;

/* Lines by cell of a grid. */
typedef struct {
    vs_line *item;
    size_t count, size;
    size_t *first; /* of each cell's list, one more than cells */
    unsigned *list;
    size_t cell; /* [pixels] side of a cell */
    size_t across, down;
    bool failed;
} vs_lines;

/* The frame on the grid of pixels. */
typedef struct {
    vs_view view;
    size_t width, height; /* [pixels] of the picture */
    size_t cell, across, down;
} vs_lines_frame;

void vs_lines_begin(vs_lines *lines, const vs_lines_frame *frame);
VS_WARN_UNUSED vs_status vs_lines_end(vs_lines *lines);
void vs_lines_free(vs_lines *lines);

/* Outlines of rooms, openings, blockers and bodies. */
void vs_lines_add_outlines(vs_lines *lines, const vs_lines_frame *frame,
                           const vs_scene_geometry *geometry, const vs_bodies *bodies);
/* Edges of an emitter's light in the air. */
void vs_lines_add_shafts(vs_lines *lines, const vs_lines_frame *frame,
                         const vs_scene_geometry *geometry, const vs_emitter *emitter);
/* Edges of its shadows on surfaces; an area is treated as if it shone from its middle. */
void vs_lines_add_shadows(vs_lines *lines, const vs_lines_frame *frame,
                          const vs_scene_geometry *geometry, const vs_emitter *emitter);

/* Whether one crosses a square of pixels; the square lies within one cell of the grid. */
bool vs_lines_cross(const vs_lines *lines, double x, double y, double side);

#endif
