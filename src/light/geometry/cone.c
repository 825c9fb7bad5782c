/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See cone.h. */
#include "light/geometry/cone.h"

#include <math.h>

static double quotient(double above, double below) {
    return below == 0 ? (double)NAN : above / below;
}

vs_cone_meeting vs_cone_meet(vs_vec3 from_tip, vs_vec3 direction, vs_vec3 axis, double cosine) {
    double square = cosine * cosine;
    double from_axis = vs_vec3_dot(from_tip, axis), along_axis = vs_vec3_dot(direction, axis);
    double a = along_axis * along_axis - square * vs_vec3_dot(direction, direction);
    double b = from_axis * along_axis - square * vs_vec3_dot(from_tip, direction);
    double c = from_axis * from_axis - square * vs_vec3_dot(from_tip, from_tip);
    double discriminant = b * b - a * c;
    vs_cone_meeting meeting = {discriminant >= 0, a >= 0, c > 0, {NAN, NAN}};
    if (meeting.meets) {
        double q = -(b + copysign(sqrt(discriminant), b));
        meeting.t[0] = quotient(q, a);
        meeting.t[1] = quotient(c, q);
    }
    return meeting;
}
