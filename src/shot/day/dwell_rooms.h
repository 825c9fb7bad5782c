/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene's rooms as figures for vs_rooms. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_ROOMS_H
#define VEILSTOP_SHOT_DAY_DWELL_ROOMS_H

#include <stdbool.h>

#include "veilstop/air/rooms.h"
#include "veilstop/shot/scene.h"

/* One value per room, and the exchanges, in one block of memory that starts with `volume`. */
typedef struct {
    double *volume, *floor, *air, *purge, *deposition, *outside, *exchange;
} vs_dwell_figures;

/* The numbers that n rooms take, and the arrays within such a block. */
size_t vs_dwell_figures_size(size_t n);
vs_dwell_figures vs_dwell_figures_in(double *memory, size_t n);
/* Fills in, over zeros, the figures that no shot changes; returns whether any room can be
 * purged. */
bool vs_dwell_figures_fill(const vs_scene *scene, vs_dwell_figures *f);
/* Fills in the exchange through openings.  open  as in a shot; NULL: as in the scene */
void vs_dwell_figures_open(const vs_scene *scene, const double *open, const vs_dwell_figures *f);
/* The rooms with openings as filled in, not purged. Borrows the figures and the hazers' shares. */
vs_rooms vs_dwell_rooms(const vs_scene *scene, const vs_dwell_figures *f);

#endif
