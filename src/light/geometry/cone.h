/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A line against the double cone about an axis. Inside src/light. */
#ifndef VEILSTOP_LIGHT_GEOMETRY_CONE_H
#define VEILSTOP_LIGHT_GEOMETRY_CONE_H

#include <stdbool.h>

#include "veilstop/base/vec3.h"

typedef struct {
    bool meets;     /* whether the line meets the double cone at all */
    bool steep;     /* it runs nearer to the axis than the cone: it ends inside on both sides */
    bool starts_in; /* its start lies inside the double cone */
    double t[2];    /* where it meets it, in no order; NaN where that place is infinitely far */
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
