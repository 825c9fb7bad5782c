/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See quads.h. */
#include "light/geometry/quads.h"

#include <math.h>

#define PAIR_AT      0.966091783079295904 /* [1] Radon: sqrt(14/15), two points on one middle line, */
#define FOUR_ALONG   0.577350269189625765 /* [1] sqrt(1/3), the others beside it */
#define FOUR_ACROSS  0.774596669241483377 /* [1] sqrt(3/5) */
#define MIDDLE_SHARE (2.0 / 7)            /* [1] weights, of the area of a square */
#define PAIR_SHARE   (5.0 / 63)
#define FOUR_SHARE   (5.0 / 36)

/* A place in [-1, 1] x [-1, 1], mapped onto the quadrilateral: linear in each. */
typedef struct {
    double x, y, share;
} radon_point;

static const radon_point rule[VS_RADON_POINTS] = {
    {0, 0, MIDDLE_SHARE},
    {0, PAIR_AT, PAIR_SHARE},
    {0, -PAIR_AT, PAIR_SHARE},
    {FOUR_ACROSS, FOUR_ALONG, FOUR_SHARE},
    {FOUR_ACROSS, -FOUR_ALONG, FOUR_SHARE},
    {-FOUR_ACROSS, FOUR_ALONG, FOUR_SHARE},
    {-FOUR_ACROSS, -FOUR_ALONG, FOUR_SHARE},
};

static vs_vec3 middle_of(vs_vec3 a, vs_vec3 b) {
    return vs_vec3_scale(vs_vec3_add(a, b), 0.5);
}

/* The point at (x, y) is middle + x along + y across + x y twist; the area about it, of that of the
 * square, changes linearly, as the quadrilateral is flat. */
static void add_quad(const vs_quad_sum *sum, const vs_vec3 corner[4]) {
    vs_vec3 low = middle_of(corner[0], corner[1]), high = middle_of(corner[3], corner[2]);
    vs_vec3 right = middle_of(corner[1], corner[2]);
    vs_vec3 middle = middle_of(low, high);
    vs_vec3 along = vs_vec3_sub(right, middle), across = vs_vec3_sub(high, middle);
    vs_vec3 twist = vs_vec3_sub(vs_vec3_sub(corner[2], right), across);
    vs_vec3 normal = vs_vec3_cross(along, across);
    double area = vs_vec3_length(normal), inverse = area > 0 ? 1 / area : 0;
    double grows_x = vs_vec3_dot(vs_vec3_cross(along, twist), normal) * inverse;
    double grows_y = vs_vec3_dot(vs_vec3_cross(twist, across), normal) * inverse;
    vs_vec3 at[VS_RADON_POINTS];
    double area_m2[VS_RADON_POINTS];
    for (int i = 0; i < VS_RADON_POINTS; i++) {
        double x = rule[i].x, y = rule[i].y;
        at[i] = vs_vec3_along(vs_vec3_along(middle, along, x), across, y);
        at[i] = vs_vec3_along(at[i], twist, x * y);
        area_m2[i] = 4 * rule[i].share * (area + x * grows_x + y * grows_y);
    }
    sum->add(sum->context, at, area_m2);
}

static void split_quad(const vs_quad_sum *sum, const vs_vec3 corner[4], int splits) {
    vs_vec3 middle = middle_of(middle_of(corner[0], corner[2]), middle_of(corner[1], corner[3]));
    double side2[4], nearest2 = vs_vec3_dot(middle, middle);
    int longest = 0;
    for (int i = 0; i < 4; i++) {
        vs_vec3 side = vs_vec3_sub(corner[(i + 1) % 4], corner[i]);
        side2[i] = vs_vec3_dot(side, side);
        longest = side2[i] > side2[longest] ? i : longest;
        nearest2 = fmin(nearest2, vs_vec3_dot(corner[i], corner[i]));
    }
    if (splits == sum->splits_max ||
        sum->small_enough(sum->context, middle, sqrt(side2[longest]), sqrt(nearest2))) {
        add_quad(sum, corner);
        return;
    }
    vs_vec3 a = corner[longest], b = corner[(longest + 1) % 4];
    vs_vec3 c = corner[(longest + 2) % 4], d = corner[(longest + 3) % 4];
    vs_vec3 side = middle_of(a, b), opposite = middle_of(c, d);
    const vs_vec3 one[4] = {a, side, opposite, d}, other[4] = {side, b, c, opposite};
    split_quad(sum, one, splits + 1);
    split_quad(sum, other, splits + 1);
}

void vs_quads_add(const vs_quad_sum *sum, const vs_vec3 *corner, int count) {
    for (int i = 1; i + 1 < count; i += 2) {
        int last = i + 2 < count ? i + 2 : i + 1; /* a triangle has its last corner twice */
        const vs_vec3 quad[4] = {corner[0], corner[i], corner[i + 1], corner[last]};
        split_quad(sum, quad, 0);
    }
}
