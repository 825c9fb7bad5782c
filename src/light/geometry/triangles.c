/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See triangles.h. */
#include "light/geometry/triangles.h"

#include <math.h>

#define NEAR_CORNER   0.797426985353087322 /* [1] Radon: share of one corner, the others alike, */
#define NEAR_SIDE     0.059715871789769820 /* [1] in the two orbits of three points */
#define WEIGHT_CORNER 0.125939180544827153 /* [1] */
#define WEIGHT_SIDE   0.132394152788506181 /* [1] */
#define WEIGHT_MIDDLE 0.225                /* [1] 9/40 */

const double vs_radon_weight[VS_RADON_POINTS] = {WEIGHT_CORNER, WEIGHT_CORNER, WEIGHT_CORNER,
                                                 WEIGHT_SIDE,   WEIGHT_SIDE,   WEIGHT_SIDE,
                                                 WEIGHT_MIDDLE};

double vs_triangle_radon(const vs_vec3 corner[3], vs_vec3 point[VS_RADON_POINTS]) {
    static const double lead[2] = {NEAR_CORNER, NEAR_SIDE};
    vs_vec3 a = vs_vec3_sub(corner[1], corner[0]), b = vs_vec3_sub(corner[2], corner[0]);
    vs_vec3 sum_m = vs_vec3_add(vs_vec3_add(corner[0], corner[1]), corner[2]);
    for (int i = 0; i < 6; i++) {
        /* lead x corner + rest x the two others = rest x sum + (lead - rest) x corner */
        double rest = (1 - lead[i / 3]) / 2;
        point[i] = vs_vec3_along(vs_vec3_scale(sum_m, rest), corner[i % 3], lead[i / 3] - rest);
    }
    point[6] = vs_vec3_scale(sum_m, 1.0 / 3);
    return vs_vec3_length(vs_vec3_cross(a, b)) / 2;
}

void vs_triangle_add(const vs_triangle_sum *sum, const vs_vec3 corner[3], int splits) {
    double side_m[3], nearest_m = INFINITY;
    int longest = 0;
    for (int i = 0; i < 3; i++) {
        side_m[i] = vs_vec3_length(vs_vec3_sub(corner[(i + 1) % 3], corner[i]));
        longest = side_m[i] > side_m[longest] ? i : longest;
        nearest_m = fmin(nearest_m, vs_vec3_length(corner[i]));
    }
    if (splits == sum->splits_max ||
        sum->small_enough(sum->context, corner, side_m[longest], nearest_m)) {
        sum->add(sum->context, corner);
        return;
    }
    vs_vec3 from = corner[longest], to = corner[(longest + 1) % 3], tip = corner[(longest + 2) % 3];
    vs_vec3 middle = vs_vec3_scale(vs_vec3_add(from, to), 0.5);
    const vs_vec3 one[3] = {from, middle, tip}, other[3] = {middle, to, tip};
    vs_triangle_add(sum, one, splits + 1);
    vs_triangle_add(sum, other, splits + 1);
}
