/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fast veil integral: the same as vs_airlight_adaptive, by eight-point Gauss-Legendre blocks
 * between the edges of light, written so that the compiler vectorises each block. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_FAST_H
#define VEILSTOP_LIGHT_AIRLIGHT_FAST_H

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/light/airlight.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The veil that an emitter makes on a line of sight [cd/m2]: that of vs_airlight_adaptive within
 *  0.5 % at worst and 0.02 % in the median.
 *  work   workspace, one per thread
 *  nits   out, >= 0; NaN on error
 *  Errors: VS_ERR_DOMAIN if the haze has a phase table in one band and none in another,
 *  VS_ERR_MEMORY.
 *  Method: docs/physics.md, "The fast veil integral". A point source by blocks of eight nodes in t,
 *  tan(scattering angle/2) = c (1 + t)/(1 - t), c the width of the haze's forward peak, halved where
 *  the highest Legendre terms show that eight are too few; a rectangle or a line by the same blocks
 *  along the ray, each node lit by a small Gauss-Legendre rule over the emitter's solid angle, or
 *  over the parts of it that are seen from there; a parallel beam is exact.
 *  Checked: tests/unit/test_airlight_fast.c and `make accuracy`, against vs_airlight_adaptive. */
VS_WARN_UNUSED vs_status vs_airlight_fast(vs_airlight *work, const vs_medium *medium,
                                          const vs_camera_ray *ray, const vs_emitter *emitter,
                                          vs_bands *nits);

/** The same on many rays at once: the haze is laid out once for all.
 *  ray  array of count;  nits  out, array of count.  Same errors. */
VS_WARN_UNUSED vs_status vs_airlight_fast_many(vs_airlight *work, const vs_medium *medium,
                                               const vs_emitter *emitter, const vs_camera_ray *ray,
                                               size_t count, vs_bands *nits);

/** No less than the veil that vs_airlight_fast gives for a rectangle or a line (a tube, a panel, a
 *  sky), several times as fast where that is partly hidden: as if nothing hid it and all its light
 *  came through the thinnest haze.
 *  emitter  of kind VS_EMITTER_RECT or VS_EMITTER_LINE
 *  nits     out; NaN on error.  Same errors; VS_ERR_DOMAIN for another kind.
 *  Checked: tests/unit/test_airlight_fast.c */
VS_WARN_UNUSED vs_status vs_airlight_at_most(vs_airlight *work, const vs_medium *medium,
                                             const vs_camera_ray *ray, const vs_emitter *emitter,
                                             vs_bands *nits);

#define VS_AIRLIGHT_STEPS_MAX 4

/** As vs_airlight_fast_many, in several densities of one haze, worked out together: what lies where
 *  is found once.
 *  medium  step_count of them: the same air, each room's extinction `step` times the first's
 *  step    step_count of them, over 0; the first is 1.  step_count  1 to VS_AIRLIGHT_STEPS_MAX
 *  ray     array of count, in the first
 *  nits    out, array of count x step_count.  Same errors; VS_ERR_DOMAIN for other counts of steps.
 *  Leaves out: nodes are refined for a density in the middle of them, and serve the others.
 *  Checked: tests/unit/test_airlight_fast.c, against each density by itself. */
VS_WARN_UNUSED vs_status vs_airlight_fast_steps(vs_airlight *work, const vs_medium *medium,
                                                const double *step, size_t step_count,
                                                const vs_emitter *emitter, const vs_camera_ray *ray,
                                                size_t count, vs_bands *nits);

#ifdef __cplusplus
}
#endif
#endif
