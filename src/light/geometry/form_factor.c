/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums of a primitive over the corners of both rectangles. Sources: the header. */
#include "veilstop/light/form_factor.h"

#include <math.h>

#include "veilstop/base/units.h"

#define ALONG_AXIS 0.9999999 /* [1] component of a unit vector that counts as 1 */

/* The axis to which a unit vector is parallel, or -1. */
static int axis_of(vs_vec3 n) {
    for (int axis = 0; axis < 3; axis++) {
        if (fabs(vs_vec3_component(n, axis)) > ALONG_AXIS) {
            return axis;
        }
    }
    return -1;
}

/* The extent of an axis-aligned rectangle along one axis. */
static void extent(const vs_rect *rect, int axis, double end[2]) {
    double half = fabs(vs_vec3_component(rect->u, axis)) * rect->half_u_m +
                  fabs(vs_vec3_component(rect->v, axis)) * rect->half_v_m;
    double center = vs_vec3_component(rect->center_m, axis);
    end[0] = center - half;
    end[1] = center + half;
}

static double times_atan(double factor, double part, double whole) {
    return whole > 0 ? factor * whole * atan(part / whole) : 0;
}

/* 2 pi G of parallel planes z apart, corners dx and dy apart. */
static double parallel_primitive(double dx, double dy, double z) {
    double square = dx * dx + dy * dy + z * z;
    return times_atan(dy, dy, sqrt(dx * dx + z * z)) + times_atan(dx, dx, sqrt(dy * dy + z * z)) -
           z * z / 2 * log(square);
}

/* 2 pi G of perpendicular planes: x and xi from the common line, corners dy apart along it. */
static double square_primitive(double x, double xi, double dy) {
    double off = x * x + xi * xi, square = off + dy * dy;
    double logarithm = square > 0 ? (off - dy * dy) * log(square) / 4 : 0;
    return times_atan(dy, dy, sqrt(off)) - logarithm;
}

static double exchange_parallel(const vs_rect *a, const vs_rect *b, int axis) {
    double x[2], y[2], xi[2], eta[2], sum = 0;
    double z = fabs(vs_vec3_component(a->center_m, axis) - vs_vec3_component(b->center_m, axis));
    if (z == 0) {
        return 0;
    }
    extent(a, (axis + 1) % 3, x);
    extent(a, (axis + 2) % 3, y);
    extent(b, (axis + 1) % 3, xi);
    extent(b, (axis + 2) % 3, eta);
    for (int n = 0; n < 16; n++) {
        int i = n & 1, j = n >> 1 & 1, k = n >> 2 & 1, l = n >> 3;
        double g = parallel_primitive(x[i] - xi[l], y[j] - eta[k], z);
        sum += (i + j + k + l) % 2 ? -g : g;
    }
    return fmax(0, sum / (2 * VS_PI));
}

static double exchange_square(const vs_rect *a, const vs_rect *b, int axis_a, int axis_b) {
    double x[2], xi[2], y[2], eta[2], sum = 0;
    int common = 3 - axis_a - axis_b;
    extent(a, axis_b, x);
    extent(b, axis_a, xi);
    extent(a, common, y);
    extent(b, common, eta);
    for (int i = 0; i < 2; i++) {
        x[i] = fabs(x[i] - vs_vec3_component(b->center_m, axis_b));
        xi[i] = fabs(xi[i] - vs_vec3_component(a->center_m, axis_a));
    }
    for (int n = 0; n < 16; n++) {
        int i = n & 1, j = n >> 1 & 1, k = n >> 2 & 1, l = n >> 3;
        double g = square_primitive(x[i], xi[l], y[j] - eta[k]);
        sum += (i + j + k + l) % 2 ? -g : g;
    }
    return fabs(sum) / (2 * VS_PI);
}

double vs_form_factor_area_m2(const vs_rect *a, const vs_rect *b) {
    int axis_a = axis_of(a->normal), axis_b = axis_of(b->normal);
    if (axis_a < 0 || axis_b < 0 || axis_of(a->u) < 0 || axis_of(b->u) < 0) {
        return NAN;
    }
    return axis_a == axis_b ? exchange_parallel(a, b, axis_a)
                            : exchange_square(a, b, axis_a, axis_b);
}

/* The corners of a rectangle in front of a plane through the origin; up to five. */
static int clip(const vs_vec3 *corner, vs_vec3 normal, vs_vec3 *kept) {
    int count = 0;
    for (int i = 0; i < 4; i++) {
        vs_vec3 a = corner[i], b = corner[(i + 1) % 4];
        double from = vs_vec3_dot(a, normal), to = vs_vec3_dot(b, normal);
        if (from >= 0) {
            kept[count++] = a;
        }
        if ((from > 0 && to < 0) || (from < 0 && to > 0)) {
            kept[count++] = vs_vec3_along(a, vs_vec3_sub(b, a), from / (from - to));
        }
    }
    return count;
}

double vs_form_factor_of_polygon(const vs_vec3 *corner, int count, vs_vec3 normal) {
    double sum = 0;
    for (int i = 0; i < count; i++) {
        vs_vec3 a = corner[i], b = corner[(i + 1) % count];
        vs_vec3 across = vs_vec3_cross(a, b);
        double sine = vs_vec3_length(across);
        if (sine > 0) {
            sum += vs_vec3_dot(across, normal) / sine * atan2(sine, vs_vec3_dot(a, b));
        }
    }
    return fabs(sum) / (2 * VS_PI);
}

double vs_form_factor_from_point(vs_vec3 p_m, vs_vec3 normal, const vs_rect *rect) {
    vs_vec3 corner[4], kept[8];
    if (vs_vec3_dot(vs_vec3_sub(p_m, rect->center_m), rect->normal) <= 0) {
        return 0;
    }
    vs_rect_corners(rect, corner);
    for (int i = 0; i < 4; i++) {
        corner[i] = vs_vec3_sub(corner[i], p_m);
    }
    return vs_form_factor_of_polygon(kept, clip(corner, normal, kept), normal);
}
