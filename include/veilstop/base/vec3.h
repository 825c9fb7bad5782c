/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Vectors in the scene's frame: x east, y north, z up. By value, inline, no allocation. */
#ifndef VEILSTOP_BASE_VEC3_H
#define VEILSTOP_BASE_VEC3_H

#include <math.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    double x, y, z;
} vs_vec3;

static inline vs_vec3 vs_vec3_add(vs_vec3 a, vs_vec3 b) {
    vs_vec3 sum = {a.x + b.x, a.y + b.y, a.z + b.z};
    return sum;
}

static inline vs_vec3 vs_vec3_sub(vs_vec3 a, vs_vec3 b) {
    vs_vec3 difference = {a.x - b.x, a.y - b.y, a.z - b.z};
    return difference;
}

static inline vs_vec3 vs_vec3_scale(vs_vec3 a, double factor) {
    vs_vec3 scaled = {a.x * factor, a.y * factor, a.z * factor};
    return scaled;
}

/** a + factor b: the point `factor` along b from a. */
static inline vs_vec3 vs_vec3_along(vs_vec3 a, vs_vec3 b, double factor) {
    vs_vec3 sum = {a.x + factor * b.x, a.y + factor * b.y, a.z + factor * b.z};
    return sum;
}

static inline double vs_vec3_dot(vs_vec3 a, vs_vec3 b) {
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

static inline vs_vec3 vs_vec3_cross(vs_vec3 a, vs_vec3 b) {
    vs_vec3 product = {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
    return product;
}

static inline double vs_vec3_length(vs_vec3 a) {
    return sqrt(vs_vec3_dot(a, a));
}

/** Unit vector along a; NaN for the zero vector, which callers must exclude. */
static inline vs_vec3 vs_vec3_unit(vs_vec3 a) {
    return vs_vec3_scale(a, 1.0 / vs_vec3_length(a));
}

/** Component 0, 1 or 2 for x, y or z. */
static inline double vs_vec3_component(vs_vec3 a, int axis) {
    return axis == 0 ? a.x : axis == 1 ? a.y : a.z;
}

/** Two unit vectors that make a right-handed frame with the unit vector `axis`.
 *  Source: Duff et al. 2017, J. Comput. Graph. Tech. 6(1). */
static inline void vs_vec3_frame(vs_vec3 axis, vs_vec3 *u, vs_vec3 *v) {
    double sign = copysign(1, axis.z), a = -1 / (sign + axis.z), b = axis.x * axis.y * a;
    vs_vec3 first = {1 + sign * axis.x * axis.x * a, sign * b, -sign * axis.x};
    vs_vec3 second = {b, sign + axis.y * axis.y * a, -axis.y};
    *u = first;
    *v = second;
}

/** A unit vector rotated by an angle towards `side`, a unit vector perpendicular to it. */
static inline vs_vec3 vs_vec3_turned(vs_vec3 direction, vs_vec3 side, double angle_rad) {
    return vs_vec3_along(vs_vec3_scale(direction, cos(angle_rad)), side, sin(angle_rad));
}

/** The unit vector whose angle to the unit vector `axis` has this cosine, rotated about it. */
static inline vs_vec3 vs_vec3_tilted(vs_vec3 axis, double cosine, double around_rad) {
    vs_vec3 u, v;
    vs_vec3_frame(axis, &u, &v);
    double sine = sqrt(fmax(0, 1 - cosine * cosine));
    vs_vec3 way = vs_vec3_along(vs_vec3_scale(axis, cosine), u, sine * cos(around_rad));
    return vs_vec3_along(way, v, sine * sin(around_rad));
}

#ifdef __cplusplus
}
#endif
#endif
