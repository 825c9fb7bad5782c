/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Direct light of an emitter on surfaces: on patches, and where much of it meets one patch
 * unevenly, on pools within it. Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRACING_POOLS_H
#define VEILSTOP_LIGHT_TRACING_POOLS_H

#include "light/tracing/tracing.h"

/* Where a path meets a surface. */
typedef struct {
    uint32_t target; /* the patch; then the pool, counted on from the patches */
    float u_m, v_m;  /* on the patch's own axes */
    uint32_t room_count;
    uint16_t room[VS_DIRECT_ROOMS_MAX];
    float length_m[VS_DIRECT_ROOMS_MAX]; /* of the path in each room */
    double lumens;                       /* that the surface stops */
} vs_met;

/* Fills a tracing's direct light and pools.
 *     met  in any order; their targets are set
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_pools_find(vs_tracing *tracing, const vs_mesh *mesh, vs_met *met,
                                       size_t count);

#endif
