/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Airlight: the light that droplets between camera and subject scatter into the lens, the veil.
 * Once-scattered light of one emitter along one line of sight, in three bands. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_H
#define VEILSTOP_LIGHT_AIRLIGHT_H

#include "veilstop/base/bands.h"
#include "veilstop/base/quadrature.h"
#include "veilstop/base/status.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Workspace for these integrals; one per thread. */
typedef struct {
    vs_quadrature quadrature;
    vs_point_sources sources;
    double *break_m; /* where the ray crosses the grid of a measured lamp's table */
    size_t break_size;
    struct vs_visible_polygons *seen; /* of an emitter, by one node: too large for a small stack */
    size_t nodes;                     /* nodes of the fast integrals since init: for measurements */
} vs_airlight;

VS_WARN_UNUSED vs_status vs_airlight_init(vs_airlight *work);
void vs_airlight_free(vs_airlight *work);

/** The veil that an emitter makes on a line of sight [cd/m2], by adaptive quadrature: the
 *  reference. For a point source of intensity I the integrand over the angle v at the source is
 *    albedo s I(v) p(-sin v) exp(-depth to the camera - depth to the source) / h,
 *  distance along the line = a + h tan v (Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519),
 *  between the edges that vs_shaft finds and the lines of a measured lamp's table. Rectangles and
 *  lines are sums of such points, refined by doubling until the sum is within `relative`; a
 *  parallel beam is exact.
 *  relative  1e-10 to 0.1
 *  nits      out, >= 0; NaN on error
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Leaves out: light scattered more than once, and the source's own light reaching the lens.
 *  Checked: tests/unit/test_airlight.c against the closed form of Sun et al. 2005. */
VS_WARN_UNUSED vs_status vs_airlight_adaptive(vs_airlight *work, const vs_medium *medium,
                                              const vs_camera_ray *ray, const vs_emitter *emitter,
                                              double relative, vs_bands *nits);

/** Veil [cd/m2] of a uniform radiance, undimmed by haze: the sum over the segments of albedo x
 *  radiance x (1 - transmission), each dimmed by what is in front of it. */
vs_bands vs_airlight_ambient(const vs_medium *medium, const vs_camera_ray *ray,
                             double ambient_nits);

#ifdef __cplusplus
}
#endif
#endif
