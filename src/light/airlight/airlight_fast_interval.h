/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Intervals of lines that a point source lights, laid out as tasks. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_INTERVAL_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_INTERVAL_H

#include "light/airlight/airlight_fast_point.h"

/* Prepares the list for an emitter's points of a profile.  sum  zeroed, one per ray */
void vs_fast_points_begin(vs_fast_points *points, const vs_fast_haze *haze,
                          const vs_emitter *emitter, vs_profile_kind profile,
                          double (*sum)[VS_FAST_BANDS]);

/* Adds an interval of a line that a source lights, apart from its profile.
 * source_m  position of the source;  shaft  the interval;  scale  factor on its light */
void vs_fast_points_add(vs_fast_points *points, size_t ray, const vs_camera_ray *sight,
                        const vs_ray_segment *segment, vs_vec3 source_m, const vs_shaft *shaft,
                        double scale);

/* Integrates the remaining tasks. */
void vs_fast_points_end(vs_fast_points *points);

#endif
