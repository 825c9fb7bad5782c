/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The intersection of a line with a double cone about an axis. Private to src/light. */
#ifndef VEILSTOP_LIGHT_GEOMETRY_CONE_H
#define VEILSTOP_LIGHT_GEOMETRY_CONE_H

#include <stdbool.h>

#include "veilstop/base/vec3.h"

/* [1] A cone whose cosine is under this is a plane: its square is lost against 1. */
#define VS_CONE_LEVEL 1e-6

typedef struct {
    bool meets;     /* whether the line meets the double cone */
    bool steep;     /* its angle to the axis is smaller than the cone's: both its ends are inside */
    bool starts_in; /* its start is inside the double cone */
    double t[2];    /* the intersections, unordered; NaN for one at infinity */
} vs_cone_meeting;

/* Where the line start + t direction meets the cone of points x with
 *     (x . axis)^2 = cosine^2 x . x,
 * a quadratic in t: a t^2 + 2 b t + c = 0.
 *  from_tip   the line's start less the cone's tip [m]
 *  direction  not 0;  axis  unit;  cosine  of the angle between axis and cone
 * t is in multiples of the direction. Its pair of roots is the stable one, q/a and c/q with
 * q = -(b + sign(b) sqrt(b^2 - a c)): no difference of nearly equal numbers. */
vs_cone_meeting vs_cone_meet(vs_vec3 from_tip, vs_vec3 direction, vs_vec3 axis, double cosine);

#endif
