/* SPDX-License-Identifier: GPL-3.0-or-later */
/* People who stand in the scene. */
#ifndef VEILSTOP_SCENE_PLACE_READ_FIGURES_H
#define VEILSTOP_SCENE_PLACE_READ_FIGURES_H

#include "scene/reader.h"

/* Adds their plates to the blockers, which must have been read. */
void vs_scene_read_figures(vs_scene_reader *reader);

/* A point on a figure's front at a height above its feet [m]. */
vs_vec3 vs_scene_on_figure(const vs_scene_figure *figure, double height_m);

/* The name of the figure whose body contains a place; NULL: none. */
const char *vs_scene_figure_around(const vs_scene_reader *reader, vs_vec3 at_m);

#endif
