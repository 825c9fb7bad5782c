/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ray casting: from a place to the next wall, blocker or opening. */
#ifndef VEILSTOP_LIGHT_GEOMETRY_RAY_CASTING_H
#define VEILSTOP_LIGHT_GEOMETRY_RAY_CASTING_H

#include "veilstop/light/space.h"
#include "veilstop/light/surfaces.h"

/* What ends a straight segment. */
typedef enum {
    VS_RAY_MEETS_WALL,
    VS_RAY_MEETS_BLOCKER,
    VS_RAY_MEETS_OPENING,
    VS_RAY_MEETS_NOTHING
} vs_ray_event_kind;

typedef struct {
    vs_ray_event_kind end;
    double length_m;
    size_t index; /* of the blocker or opening */
    int face;     /* of the wall or of the opening's wall */
} vs_ray_event;

/* The event that ends the ray from `at` along the unit direction, in a room or outside.
 * MEETS_NOTHING: into the open, or onto the outside of a wall. */
vs_ray_event vs_ray_next_event(const vs_space *space, vs_vec3 at_m, vs_vec3 direction, size_t room);

#endif
