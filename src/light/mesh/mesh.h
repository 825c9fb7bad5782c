/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A location cut up for bounced light: faces of rooms and sides of blockers into patches, air into
 * cells. Openings are patches too, and are looked through. */
#ifndef VEILSTOP_LIGHT_MESH_MESH_H
#define VEILSTOP_LIGHT_MESH_MESH_H

#include <stdbool.h>
#include <stdint.h>

#include "veilstop/base/status.h"
#include "veilstop/light/space.h"
#include "veilstop/light/surfaces.h"

#define VS_MESH_NONE SIZE_MAX

typedef struct {
    vs_rect rect; /* normal into its room */
    size_t room;
    double area_m2, reflectance, size_m; /* size: its longer side */
    double presence;                     /* share of light that it stops: under 1 for a net */
    size_t opening;                      /* a part of an opening, or VS_MESH_NONE */
    size_t blocker;                      /* a side of a blocker, or VS_MESH_NONE */
} vs_patch;

/* A face's or a blocker side's grid of patches: lines across it, first patch. */
typedef struct {
    vs_rect rect;
    double *u, *v;           /* lines, -half to half */
    size_t u_count, v_count; /* patches along each */
    size_t first;
} vs_patch_grid;

/* A room's air in cells. */
typedef struct {
    vs_box box;
    size_t count[3], first;
} vs_cell_grid;

/* How far a rectangle in a room extends from its middle, as light sees it: without end where it
 * stands against a wall. */
typedef struct {
    float low_u, high_u, low_v, high_v;
} vs_extent;

/* How finely: for the light itself, or only so that bands can be compared. */
typedef enum { VS_MESH_FINE, VS_MESH_COARSE } vs_mesh_fineness;

typedef struct {
    const vs_space *space;
    vs_mesh_fineness fineness;
    vs_patch *patch;
    size_t patch_count, patch_size;
    vs_patch_grid *grid; /* VS_SURFACE_FACES a room, then two sides a blocker */
    size_t grid_count;
    /* Of patches: middles, x y z; half sides along u, x y z, and along v; presence. */
    float *middle_m[3], *half_m[6], *presence;
    /* Of each eight patches of a room that follow one another: a box about them, its middle x y z
     * and half sides. */
    float *eight[6];
    size_t *eight_first; /* room: of its eights */
    vs_extent *blocker, *opening;
    size_t *blocker_room; /* VS_SPACE_OUTSIDE: none */
    size_t *room_first;   /* room's patches: room_first[r] to room_first[r + 1] */
    size_t *grid_room;   /* grid: its room; VS_MESH_NONE: a blocker outside, which has no patches */
    vs_cell_grid *cells; /* one a room */
    size_t cell_count;
} vs_mesh;

VS_WARN_UNUSED vs_status vs_mesh_init(vs_mesh *mesh, const vs_space *space,
                                      const vs_surfaces *surfaces, vs_mesh_fineness fineness);
void vs_mesh_free(vs_mesh *mesh);

/* The patch of a room's face, or of a blocker's side, at p. */
size_t vs_mesh_face_patch(const vs_mesh *mesh, size_t room, int face, vs_vec3 p_m);
size_t vs_mesh_blocker_patch(const vs_mesh *mesh, size_t blocker, bool front, vs_vec3 p_m);

/* The patch of a grid at p, and the four about it, and their shares, linear between their middles; a
 * grid has two patches or more along each side. */
size_t vs_patch_grid_at(const vs_patch_grid *grid, vs_vec3 p_m);
void vs_patch_grid_about(const vs_patch_grid *grid, vs_vec3 p_m, size_t patch[4], double share[4]);

/* The four patches about a place on a surface of a room - or just before it - that faces along a
 * normal, likewise. False: there is no surface. */
bool vs_mesh_about(const vs_mesh *mesh, size_t room, vs_vec3 p_m, vs_vec3 normal, size_t patch[4],
                   double share[4]);

/* The eight cells about a place of a room's air and their shares, linear between their middles; past
 * the last middle towards a wall as between the last two. */
void vs_mesh_cells_about(const vs_mesh *mesh, size_t room, vs_vec3 p_m, uint32_t cell[8],
                         float share[8]);
vs_vec3 vs_mesh_cell_size(const vs_cell_grid *cells);
vs_vec3 vs_mesh_cell_middle(const vs_cell_grid *cells, size_t cell);

/* The cell of a room's air at p; VS_MESH_NONE outside. */
size_t vs_mesh_cell(const vs_mesh *mesh, size_t room, vs_vec3 p_m);
size_t vs_mesh_cell_count(const vs_cell_grid *cells);
double vs_mesh_cell_volume_m3(const vs_cell_grid *cells);

#endif
