/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a place in a room sees of the room's patches: where, how large, how open the line to each.
 * Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_ROOM_VIEW_H
#define VEILSTOP_LIGHT_TRANSPORT_ROOM_VIEW_H

#include "light/transport/mesh.h"
#include "light/transport/scattering.h"
#include "veilstop/base/bands.h"

/* One entry per patch of the room, in the mesh's order, padded to whole lanes. */
typedef struct {
    size_t first, count;             /* patches of the mesh */
    float *x_m, *y_m, *z_m, *away_m; /* from the place to the patch's middle; how far that is */
    float *solid_sr, *open; /* the patch's solid angle, 0 from behind; what blockers let through */
    float *x_sr, *y_sr, *z_sr;   /* unit vectors towards it summed over its solid angle */
    float *presence;             /* share of light that it stops */
    float *worth[VS_BAND_COUNT]; /* what its luminance is worth, haze in between left out */
    float *corner[4];            /* of the grid being worked on */
    float *memory;
} vs_room_view;

VS_WARN_UNUSED vs_status vs_room_view_init(vs_room_view *view, const vs_mesh *mesh);
void vs_room_view_free(vs_room_view *view);

/* Finds what is seen around a place of a room. */
void vs_room_view_make(vs_room_view *view, const vs_mesh *mesh, size_t room, vs_vec3 at_m);

/* What the patches are worth to light scattered into the direction -along, or falling on a surface
 * facing along a normal: shares that sum to 1, openings to outside among them. */
void vs_room_view_scattered(vs_room_view *view, const vs_scattering *scattering, vs_vec3 along);
void vs_room_view_facing(vs_room_view *view, vs_vec3 normal);

/* Keeps worths and how far patches are: band x whole lanes, then as many lengths. */
void vs_room_view_keep(const vs_room_view *view, float *kept);

/* What blockers let through between a place and eight others, `x_m`, `y_m`, `z_m` from it. */
void vs_past_blockers(const vs_space *space, vs_vec3 at_m, const float *x_m, const float *y_m,
                      const float *z_m, float *open);

#endif
