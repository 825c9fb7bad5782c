/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pools of direct light on surfaces near a line of sight or a place. Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHER_POOLS_H
#define VEILSTOP_LIGHT_BOUNCE_GATHER_POOLS_H

#include "light/bounce/gather.h"

/* Finds the pools that count by themselves, of those emitters whose light is looked for, and notes
 * which are therefore left out of their patches.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_pools_seen(vs_gather *gather, const vs_mesh *mesh,
                                       const vs_scattering *scattering, const vs_traced *traced);

#endif
