/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of point sources along a segment of a line, eight nodes at a time. Private to src/light.
 */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_POINT_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_POINT_H

#include "light/airlight/airlight_fast_haze.h"
#include "veilstop/light/emitter.h"

/* Adds the light of a point source, behind whatever is in between, that a segment of a line
 * scatters to its start, per candela of its emitter's strength, albedo and extinction ratio aside.
 *  share  factor on its light;  sum  in and out, band by band */
void vs_fast_add_point(const vs_medium *medium, const vs_fast_haze *haze,
                       const vs_camera_ray *sight, const vs_ray_segment *segment,
                       const vs_point_source *source, double share, double *sum);

#endif
