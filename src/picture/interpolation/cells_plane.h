/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plane nearest to samples: value = at + dx (x - mx) + dy (y - my). */
#ifndef VEILSTOP_PICTURE_INTERPOLATION_CELLS_PLANE_H
#define VEILSTOP_PICTURE_INTERPOLATION_CELLS_PLANE_H

#include "picture/interpolation/cells.h"

typedef struct {
    double mx, my, at, dx, dy, low, high; /* low, high: of the samples */
} vs_cells_plane;

/* count  over 0, of both */
vs_cells_plane vs_cells_plane_through(const vs_cells_place *place, const double *value, int count);

#endif
