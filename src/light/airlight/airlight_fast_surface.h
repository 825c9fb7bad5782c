/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of a rectangle or tube along a segment of a line: integration over t, with halving where
 * needed. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_SURFACE_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_SURFACE_H

#include "light/airlight/airlight_fast_area.h"

/* Sets up t along the part of a segment that a rectangle's front or a tube may light; false:
 * none. */
bool vs_fast_lay_line(const vs_camera_ray *ray, const vs_ray_segment *segment,
                      const vs_emitter *emitter, vs_fast_line *line, double *from_m, double *to_m);

/* Adds the veil of a rectangle or tube (emitter) on a segment of a line, with nothing between them
 * but haze of one density.  nits  one a step */
void vs_fast_add_surface(const vs_medium *medium, const vs_fast_haze *haze,
                         const vs_camera_ray *ray, const vs_ray_segment *segment,
                         const vs_emitter *emitter, vs_bands *nits);

#endif
