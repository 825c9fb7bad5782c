/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How light goes through the air of rooms, in cells: what each cell exchanges with every patch and
 * every cell of its room and with what it sees through openings, found once for a location. Private
 * to src/light. Source: Hottel & Sarofim 1967, Radiative Transfer, ch. 7 (zones that exchange
 * light). */
#ifndef VEILSTOP_LIGHT_MESH_AIR_H
#define VEILSTOP_LIGHT_MESH_AIR_H

#include "light/mesh/through_openings.h"

/* The direction in which a cell sends to another; for neighbours one of a few. */
typedef struct {
    float harmonic[VS_SH_COUNT];
} vs_air_direction;

typedef struct {
    size_t patch_first, patch_count, stride; /* stride: patches padded to whole lanes */
    size_t solid_first;                      /* in solid_sr, away_m and to: cell x stride */
    size_t pair_first;                       /* in open and in work: cell x cell */
    size_t offset_first, offsets[3];         /* in offset: cells one way + cells the other - 1 */
    bool blocked; /* open holds what blockers let through; else all is 1 */
} vs_air_room;

/* From a cell to another so many cells off along x, y and z. */
typedef struct {
    double per_m2, away_m; /* mean of 1/distance^2 between their places; their middles' distance */
    size_t direction_first, direction_count; /* of neighbours several, each a share */
    float direction_share;
} vs_air_offset;

typedef struct {
    const vs_mesh *mesh;
    vs_air_room *room;
    void *block; /* holds solid_sr to offset */
    /* of patches as seen from cells: solid angle past blockers (with what nets stop, 4 pi in all),
     * distance, unit vector */
    float *solid_sr, *away_m, *to[3];
    float *open; /* from cell to cell */
    size_t solid_count, pair_count, stride_most;
    vs_air_offset *offset;
    size_t offset_count;
    vs_air_direction *direction;
    size_t direction_count, direction_size;
    vs_behind behind; /* what cells see behind openings */
} vs_air;

/* mesh  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_air_init(vs_air *air, const vs_mesh *mesh);
void vs_air_free(vs_air *air);

typedef struct {
    uint32_t cell, room;
    float length_m;
} vs_air_crossing;

/* The cells that a straight line in a room crosses, in order. Returns how many. */
#define VS_AIR_CROSSINGS_MAX 128
size_t vs_air_cross(const vs_mesh *mesh, size_t room, vs_vec3 at_m, vs_vec3 direction,
                    double length_m, vs_air_crossing *crossing);

#endif
