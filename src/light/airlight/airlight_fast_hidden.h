/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of a partly hidden rectangle or tube. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_HIDDEN_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_HIDDEN_H

#include "light/airlight/airlight_fast_area.h"
#include "light/geometry/visible_polygon.h"

/* Adds the veil of a rectangle or tube on a segment of a line where something may be in between.
 * seen: room for what a node sees. False if the visible polygons cannot be found (vs_visible_polygons_from): nothing is added. */
bool vs_fast_add_hidden(vs_visible_polygons *seen, const vs_medium *medium,
                        const vs_fast_haze *haze, const vs_camera_ray *ray,
                        const vs_ray_segment *segment, const vs_emitter *emitter, vs_bands *nits);

#endif
