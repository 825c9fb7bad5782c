/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a place in a room sees of the room's patches: where, how large, how open the line to each.
 * Private to src/light. */
#ifndef VEILSTOP_LIGHT_MESH_ROOM_VIEW_H
#define VEILSTOP_LIGHT_MESH_ROOM_VIEW_H

#include "light/mesh/mesh.h"
#include "light/mesh/scattering.h"
#include "veilstop/base/bands.h"

#define VS_VIEW_OPENINGS_MAX 3 /* one behind another, that a room is seen through */

/* One entry per patch of the room, in the mesh's order, padded to whole lanes. */
typedef struct {
    size_t room, first, count;       /* patches of the mesh */
    float *x_m, *y_m, *z_m, *away_m; /* from the place to the patch's middle; how far that is */
    float *solid_sr, *open; /* the patch's solid angle, 0 from behind; what blockers let through */
    float *x_sr, *y_sr, *z_sr;   /* unit vectors towards it summed over its solid angle */
    const float *presence;       /* share of light that it stops, of the mesh */
    float *worth[VS_BAND_COUNT]; /* what its luminance is worth, haze in between left out */
    /* Where lines to patches cross openings, of their lengths. */
    float *crossed[VS_VIEW_OPENINGS_MAX];
    float *corner[4];               /* of the grid being worked on */
    size_t *opening, opening_count; /* the mesh's patches of openings */
    bool *seen;                     /* of each eight patches: whether something of them may be */
    void *memory;                   /* that holds them all */
} vs_room_view;

VS_WARN_UNUSED vs_status vs_room_view_init(vs_room_view *view, const vs_mesh *mesh);
void vs_room_view_free(vs_room_view *view);

/* Looks at the last of some rooms from a place in the first, through openings from one to the next:
 * of each patch what share of it is seen.
 *     room  count + 1 of them   opening  count, 0 for the place's own room */
void vs_room_view_make(vs_room_view *view, const vs_mesh *mesh, const size_t *room, vs_vec3 at_m,
                       const size_t *opening, size_t count);

/* What the patches are worth, the same whatever haze is in between: shares that sum to 1, openings
 * to outside among them.
 *     scattering  to light scattered into the direction -toward; NULL: falling on a surface that
 *                 faces that way */
void vs_room_view_worths(vs_room_view *view, const vs_scattering *scattering, vs_vec3 toward);

/* The share of an interval about a place that lies within bounds. */
LANES_INLINE float lane_within(float at, float half, float low, float high) {
    float from = single_max(at - half, low), to = single_min(at + half, high);
    return single_max(0, to - from) / (2 * half);
}

#endif
