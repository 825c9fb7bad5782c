/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene's rooms as vs_rooms wants them. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_ROOMS_H
#define VEILSTOP_SHOT_DAY_DWELL_ROOMS_H

#include <stdbool.h>

#include "veilstop/air/rooms.h"
#include "veilstop/shot/scene.h"

/* One value a room, and the exchanges; in one block of memory, `volume` first. */
typedef struct {
    double *volume, *floor, *air, *purge, *deposition, *outside, *exchange;
} vs_dwell_figures;

/* How many numbers n rooms take, and where each array lies in such a block. */
size_t vs_dwell_figures_size(size_t n);
vs_dwell_figures vs_dwell_figures_in(double *memory, size_t n);
/* Fills the figures that no shot changes from zeros; whether any room can be purged. */
bool vs_dwell_figures_fill(const vs_scene *scene, vs_dwell_figures *f);
/* Fills what goes through the openings. open  as in a shot; NULL: as the scene stands */
void vs_dwell_figures_open(const vs_scene *scene, const double *open, const vs_dwell_figures *f);
/* The rooms with doors as filled in, not purged. Borrows the figures and the hazers' shares. */
vs_rooms vs_dwell_rooms(const vs_scene *scene, const vs_dwell_figures *f);

#endif
