/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light that has a place of its own: pools on surfaces and narrow beams, each with nodes where a
 * line of sight passes it. Inside src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_KERNEL_NEAR_H
#define VEILSTOP_LIGHT_BOUNCE_KERNEL_NEAR_H

#include "light/bounce/field.h"
#include "light/bounce/scattering.h"

/* Veil at a strength of 1 on a line of sight [cd/m2]: what pools near it make over what they would
 * make if they were even over their patches, and what a narrow beam's light scattered twice makes.
 *     worth  band x patch: what the patches' luminances are worth to the line */
vs_bands vs_near_veil(const vs_scattering *scattering, const vs_mesh *mesh, const vs_tracing *walks,
                      const vs_field *field, const double *worth, const vs_medium *medium,
                      const vs_camera_ray *sight);

/* What scattering straight on, on light's way from an emitter to the line, adds to its
 * once-scattered veil: of that veil. */
vs_bands vs_near_straight_on(const vs_scattering *scattering, const vs_traced *traced,
                             const vs_medium *medium, const vs_camera_ray *sight);

/* The same on a surface at p, facing along a normal [lx]. */
vs_bands vs_near_lux(const vs_scattering *scattering, const vs_mesh *mesh, const vs_tracing *walks,
                     const vs_field *field, const double *worth, const vs_medium *medium,
                     size_t room, vs_vec3 p_m, vs_vec3 normal);

#endif
