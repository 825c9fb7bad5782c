/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Straight on through the location, one piece at a time: to the next wall, screen or opening. */
#ifndef VEILSTOP_LIGHT_GEOMETRY_RAY_CASTING_H
#define VEILSTOP_LIGHT_GEOMETRY_RAY_CASTING_H

#include "veilstop/light/space.h"
#include "veilstop/light/surfaces.h"

/* What ends a straight piece. */
typedef enum { VS_MARCH_WALL, VS_MARCH_SCREEN, VS_MARCH_PORTAL, VS_MARCH_NOWHERE } vs_march_end;

typedef struct {
    vs_march_end end;
    double length_m;
    size_t index; /* of the screen or portal */
    int face;     /* of the wall or of the portal's wall */
} vs_march;

/* The piece that runs from `at` along the unit direction, in a room or outside. NOWHERE: into the
 * open, or onto a wall from outside. */
vs_march vs_march_on(const vs_space *space, vs_vec3 at_m, vs_vec3 direction, size_t room);

/* The room on the other side of an opening. */
size_t vs_march_beyond(const vs_portal *portal, size_t room);

#endif
