/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Visible polygons: the parts of a rectangle or a tube seen from a point, hidden by no wall and no
 * opaque blocker, each with the transmittance of the nets and panes in front of it. Private to
 * src/light. Whether a line crosses a rectangle in between is a set of inequalities linear in the
 * place on the emitter, so that the parts are exact convex polygons. */
#ifndef VEILSTOP_LIGHT_GEOMETRY_VISIBLE_POLYGON_H
#define VEILSTOP_LIGHT_GEOMETRY_VISIBLE_POLYGON_H

#include "veilstop/light/space.h"

#define VS_VISIBLE_CORNERS_MAX  24 /* corners of one part; each cut adds at most one */
#define VS_VISIBLE_POLYGONS_MAX 64 /* convex parts that blockers may leave of a surface */
#define VS_VISIBLE_OPENINGS_MAX 8  /* openings in a row */

/* A convex part of a rectangle, in its own coordinates from its centre; or of a line (v unused, two
 * corners: its ends). */
typedef struct {
    double u_m[VS_VISIBLE_CORNERS_MAX], v_m[VS_VISIBLE_CORNERS_MAX];
    int count;
    double transmittance;
    size_t opening[VS_VISIBLE_OPENINGS_MAX]; /* that it is seen through, starting at the point */
    int opening_count;
} vs_visible_polygon;

typedef struct vs_visible_polygons {
    vs_visible_polygon polygon[VS_VISIBLE_POLYGONS_MAX];
    int count;
} vs_visible_polygons;

/* The parts of an emitter's face seen from p, and in front of the plane through p perpendicular to
 * `front`.
 *
 *     rect       the face; a line is a rectangle of no height, its axis u
 *     is_line    whether it is one
 *     rect_room  the room that contains all of it, or outside
 *     p_room     the one p is in
 *
 * False if undetermined: too many parts, or a building between them outside. */
bool vs_visible_polygons_from(const vs_space *space, const vs_rect *rect, bool is_line,
                              size_t rect_room, vs_vec3 p, size_t p_room, vs_vec3 front,
                              vs_visible_polygons *visible);

#endif
