/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Direct light of an emitter on surfaces: on patches, and where much of it meets one patch
 * unevenly, on pools within it. Inside src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_POOLS_H
#define VEILSTOP_LIGHT_TRANSPORT_POOLS_H

#include "light/transport/tracing.h"

/* Fills a tracing's direct light and pools.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_pools_find(vs_tracing *tracing, const vs_mesh *mesh,
                                       const vs_emitter *emitter);

#endif
