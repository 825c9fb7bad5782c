/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Illuminance: the light of an emitter that arrives on a surface, in three bands. */
#ifndef VEILSTOP_LIGHT_ILLUMINANCE_H
#define VEILSTOP_LIGHT_ILLUMINANCE_H

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/base/vec3.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Illuminance of an emitter at a point on a surface, dimmed by the haze in between [lx].
 *  work      workspace for the points that represent surfaces; one per thread
 *  medium    without haze it gives the clear value
 *  p_m       the point [m]; the side to which the normal points is lit
 *  normal    of the surface, of length 1
 *  relative  1e-10 to 0.1: tolerance of sums over an emitter's points
 *  lux       out, >= 0; NaN on error
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.
 *  Method: inverse square and cosine laws; Lambert 1760 for the visible part of a panel.
 *  Leaves out: light reflected by surfaces or scattered by droplets.
 *  Checked: tests/unit/test_emitter.c against closed forms, tests/unit/test_through_wall.c */
VS_WARN_UNUSED vs_status vs_illuminance(vs_point_sources *work, const vs_medium *medium,
                                        const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 normal,
                                        double relative, vs_bands *lux);

#ifdef __cplusplus
}
#endif
#endif
