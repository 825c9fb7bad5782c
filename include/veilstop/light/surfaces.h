/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a location's surfaces reflect light: matt (Lambertian), grey, face by face.
 * Source: Lambert's law as in Siegel & Howell, Thermal Radiation Heat Transfer, ch. 2. */
#ifndef VEILSTOP_LIGHT_SURFACES_H
#define VEILSTOP_LIGHT_SURFACES_H

#include <stdbool.h>

#include "veilstop/base/status.h"
#include "veilstop/light/space.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_SURFACE_FACES 6 /* of a room: west, east, south, north, floor, ceiling */

/** Borrowed arrays. */
typedef struct {
    const double *face;    /* reflectance, VS_SURFACE_FACES a room [1] */
    const double *blocker; /* reflectance of both sides, one per blocker [1]: of what it stops */
} vs_surfaces;

/** The rectangle of a room's face, its normal into the room. */
vs_rect vs_surfaces_face(const vs_box *room, int face);

/** The unit normal of a face, into the room. */
vs_vec3 vs_surfaces_inward(int face);

/** The face on which a ray from inside the box leaves it, and how far that is.
 *  direction  unit.  Returns 0 to 5. */
int vs_surfaces_way_out(const vs_box *room, vs_vec3 at_m, vs_vec3 direction, double *length_m);

#define VS_REFLECTANCE_ALL 0.9999 /* [1] a reflectance from here up counts as 1; our choice */

/** Whether light could be trapped: a room, or rooms joined by clear openings, in which every
 *  surface reflects all light and nothing leads outside. Its light has no finite solution.
 *  trap  out: the first such room, or VS_SPACE_OUTSIDE.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_surfaces_light_trap(const vs_space *space, const vs_surfaces *surfaces,
                                                size_t *trap);

#ifdef __cplusplus
}
#endif
#endif
