/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The location as far as light is concerned: boxes (rooms), holes in their walls (openings) and
 * rectangles in the air (blockers). Gives the transmittance of a straight path and its optical
 * depth. Walls have no thickness and stop light. Source: Kay & Kajiya 1986, Comput. Graph. 20, 269
 * (a segment against slabs). */
#ifndef VEILSTOP_LIGHT_SPACE_H
#define VEILSTOP_LIGHT_SPACE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "veilstop/base/vec3.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_SPACE_OUTSIDE      SIZE_MAX /* in place of a room's index: beyond every wall, no haze */
#define VS_SPACE_SKIN_M       1e-5     /* [m] closer to a wall than this is on it; our choice */
#define VS_SPACE_CROSSING_MAX 16       /* most openings on a straight path; more block it */

typedef struct {
    vs_vec3 low_m, high_m;
} vs_box;

/** A flat rectangle. u, v, normal are unit vectors, right-handed: u x v = normal. */
typedef struct {
    vs_vec3 center_m, u, v, normal;
    double half_u_m, half_v_m;
} vs_rect;

/** A rectangle centred at `at`, facing `aim`, `width` along the horizontal. An aim within 1 degree
 *  of the vertical has its width along x. at and aim must differ. */
vs_rect vs_rect_facing(vs_vec3 at_m, vs_vec3 aim_m, double width_m, double height_m);

/** The rectangle with two opposite corners that share one coordinate (part of a wall); its
 *  normal points to higher coordinates. */
vs_rect vs_rect_on_wall(vs_vec3 corner_m, vs_vec3 opposite_m);

/** The four corners, in order around the rectangle. */
void vs_rect_corners(const vs_rect *rect, vs_vec3 corner[4]);

/** Where the line at + t direction meets the rectangle's plane: t, or NaN if parallel. *inside:
 *  whether that is within the rectangle's sides. direction  any length but 0 */
double vs_rect_pierced_at(const vs_rect *rect, vs_vec3 at, vs_vec3 direction, bool *inside);

/** Whether p lies on a rectangle: within the skin of its plane and within its sides. */
bool vs_rect_holds(const vs_rect *rect, vs_vec3 p);

/** A hole in the wall between two rooms, or between a room and outside. */
typedef struct {
    vs_rect rect;
    size_t room[2]; /* the second may be VS_SPACE_OUTSIDE */
    double transmittance;
} vs_opening;

/** Whether an opening is in a wall of the room. */
static inline bool vs_opening_joins(const vs_opening *opening, size_t room) {
    return opening->room[0] == room || opening->room[1] == room;
}

/** The room on the other side of an opening that joins `room`. */
static inline size_t vs_opening_beyond(const vs_opening *opening, size_t room) {
    return opening->room[0] == room ? opening->room[1] : opening->room[0];
}

typedef struct {
    vs_rect rect;
    double transmittance; /* 0 opaque; over 0 a net, or the direct share of a diffusion */
} vs_blocker;

/** Borrowed arrays; rooms do not overlap, openings lie on the walls they join. */
typedef struct {
    const vs_box *room;
    size_t room_count;
    const vs_opening *opening;
    size_t opening_count;
    const vs_blocker *blocker;
    size_t blocker_count;
} vs_space;

/** The room whose closed box contains p, the first if several; VS_SPACE_OUTSIDE if none. */
size_t vs_space_room_at(const vs_space *space, vs_vec3 p);

#define VS_SPACE_ANY_WALL (-1) /* in place of a face */

/** The opening of room r that contains p; VS_SPACE_OUTSIDE if there is none.
 *  face  of the wall that p is on, because in a corner another wall's opening may be as close; or
 *        VS_SPACE_ANY_WALL */
size_t vs_space_opening_at(const vs_space *space, size_t r, int face, vs_vec3 p);

/** A straight path from a to b. */
typedef struct {
    double transmittance; /* product of openings and blockers crossed; 0: blocked */
    size_t opening[VS_SPACE_CROSSING_MAX]; /* openings crossed, in the order met from a */
    size_t opening_count;
} vs_passage;

/** The path between a and b. Anything within VS_SPACE_SKIN_M of either end does not obstruct: a
 *  point on a wall is seen from its room, a lamp on a blocker shines from it. */
vs_passage vs_space_passage(const vs_space *space, vs_vec3 a, vs_vec3 b);

/** Share of the light from a to b that the blockers alone let through; ends as above. */
double vs_space_past_blockers(const vs_space *space, vs_vec3 a, vs_vec3 b);

/** Fractions of the segment a to b inside room r; false if there is none. */
bool vs_space_interval_in_room(const vs_space *space, size_t r, vs_vec3 a, vs_vec3 b, double *enter,
                               double *leave);

/** Optical depth at 549 nm between a and b: sum of length x extinction over the rooms crossed.
 *  room_extinction_per_m  one per room [1/m] */
double vs_space_optical_depth(const vs_space *space, const double *room_extinction_per_m, vs_vec3 a,
                              vs_vec3 b);

#ifdef __cplusplus
}
#endif
#endif
