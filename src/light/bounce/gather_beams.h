/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What narrow beams' light, scattered twice, gives on a line of sight or a place; and what forward
 * scattering adds to light scattered once. Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHER_BEAMS_H
#define VEILSTOP_LIGHT_BOUNCE_GATHER_BEAMS_H

#include "light/bounce/gather.h"

/* Appends samples of an emitter's thin beams.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_beams_seen(const vs_gather *gather, const vs_mesh *mesh,
                                       const vs_scattering *scattering, const vs_traced *traced,
                                       vs_gather_light *light);

/* Appends samples of a line's light scattered once; their narrow or wide path, as the emitter's
 * light is split, is that from the emitter.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_straight_on_seen(const vs_gather *gather, const vs_space *space,
                                             const vs_scattering *scattering,
                                             const vs_traced *traced, vs_gather_light *light);

#endif
