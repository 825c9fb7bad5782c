/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is seen from a place of a room through its openings: patches and air of the rooms behind.
 * Private to src/light. */
#ifndef VEILSTOP_LIGHT_MESH_THROUGH_OPENINGS_H
#define VEILSTOP_LIGHT_MESH_THROUGH_OPENINGS_H

#include "light/mesh/harmonics.h"
#include "light/mesh/mesh.h"

/* A side of an opening: light comes out of it, from the room beyond, to the rows of a room. */
static inline size_t vs_side_count(const vs_mesh *mesh) {
    return 2 * mesh->space->opening_count;
}

static inline size_t vs_opening_side(const vs_space *space, size_t opening, size_t room) {
    return 2 * opening + (space->opening[opening].room[1] == room);
}

static inline size_t vs_side_opening(size_t side) {
    return side / 2;
}

/* VS_SPACE_OUTSIDE: there is none. */
static inline size_t vs_side_beyond(const vs_mesh *mesh, size_t side) {
    return mesh->space->opening[side / 2].room[1 - side % 2];
}

#define VS_THROUGH_ROOMS_MAX 4 /* on a path, the row's own included; our choice */

/* What a patch or a cell, the row, sees behind openings. */
typedef struct {
    uint32_t row, seen; /* seen: a patch or a cell */
    uint32_t side;      /* of the first opening */
    uint32_t room_count;
    float weight;                         /* openings and nets counted */
    float length_m[VS_THROUGH_ROOMS_MAX]; /* the path in rooms, the first the row's own */
    uint16_t room[VS_THROUGH_ROOMS_MAX];
    float harmonic[VS_SH_COUNT]; /* of the direction in which its light comes */
} vs_row_through;

/* What a row sees through one opening of its room: items from `first` to `end`. */
typedef struct {
    uint32_t row, side, first, end;
} vs_row_side;

typedef struct {
    vs_row_through *item;
    size_t count, size;
    vs_row_side *side;
    size_t side_count;
    uint32_t *seen; /* item: what it sees, side by side */
} vs_throughs;

/* Patches behind openings, and the air at each. */
typedef struct {
    vs_throughs patches, air;
} vs_behind;

/* Adds what is seen from a place through an opening's patch of its room, with `weight` in all, to
 * what the row sees in the same way already. Rows come one after another.
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_see_through(const vs_mesh *mesh, vs_behind *behind, size_t row,
                                        vs_vec3 from_m, size_t opening, double weight);

/* Lists what was added by openings, once all is.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_behind_end(vs_behind *behind);
void vs_behind_free(vs_behind *behind);

/* Weights as haze dims them. */
void vs_throughs_dim(const vs_throughs *throughs, const double *room_extinction_per_m, double rate,
                     double *weight);

#endif
