/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The poses of three pairs: distances to the places by Grunert's equation of the fourth degree
 * (Haralick et al. 1994, eq. 9, from memory; the test puts its roots back), then the rotation that
 * brings one triangle onto the other. */
#include <math.h>

#include "camera/match_parts.h"
#include "veilstop/base/polynomial.h"

#define LINE_SINE 1e-9 /* [1] of a triangle's angle: under it the three lie on a line */

/* A triangle as a frame: along its first side, in its plane, square to it. */
typedef struct {
    vs_vec3 x, y, z;
} frame;

static frame frame_of(const vs_vec3 p[3]) {
    frame f;
    f.x = vs_vec3_unit(vs_vec3_sub(p[1], p[0]));
    f.z = vs_vec3_unit(vs_vec3_cross(f.x, vs_vec3_sub(p[2], p[0])));
    f.y = vs_vec3_cross(f.z, f.x);
    return f;
}

/* Whether three places, or their pixels, lie on a line. */
static bool in_a_line(const vs_vec3 p[3]) {
    vs_vec3 a = vs_vec3_sub(p[1], p[0]), b = vs_vec3_sub(p[2], p[0]);
    double area = vs_vec3_length(vs_vec3_cross(a, b));
    return !(area > LINE_SINE * vs_vec3_length(a) * vs_vec3_length(b));
}

/* The direction of camera axes (right, up, -forward) in the world: the rotation of `seen` to
 * `placed`. */
static vs_vec3 rotated(const frame *seen, const frame *placed, vs_vec3 axis) {
    vs_vec3 out = vs_vec3_scale(placed->x, vs_vec3_dot(seen->x, axis));
    out = vs_vec3_along(out, placed->y, vs_vec3_dot(seen->y, axis));
    return vs_vec3_along(out, placed->z, vs_vec3_dot(seen->z, axis));
}

/* From a triangle in the camera's axes and the same in the world. */
static vs_match_pose pose_of(const vs_vec3 seen[3], const vs_vec3 placed[3], double focal_px) {
    const vs_vec3 right = {1, 0, 0}, up = {0, 1, 0}, back = {0, 0, 1};
    frame from = frame_of(seen), to = frame_of(placed);
    vs_match_pose pose;
    pose.right = rotated(&from, &to, right);
    pose.up = rotated(&from, &to, up);
    pose.forward = vs_vec3_scale(rotated(&from, &to, back), -1);
    pose.at_m = vs_vec3_sub(placed[0], rotated(&from, &to, seen[0]));
    pose.focal_px = focal_px;
    return pose;
}

/* Grunert's coefficients. a, b, c: squared sides opposite places 1, 2, 3; cosines of the angles
 * between the directions to 2 and 3, 1 and 3, 1 and 2. */
static void grunert(double a, double b, double c, const double cosine[3], double k[5]) {
    double ca = cosine[0], cb = cosine[1], cg = cosine[2];
    double p = (a - c) / b, q = (a + c) / b;
    k[4] = (p - 1) * (p - 1) - 4 * c / b * ca * ca;
    k[3] = 4 * (p * (1 - p) * cb - (1 - q) * ca * cg + 2 * c / b * ca * ca * cb);
    k[2] = 2 * (p * p - 1 + 2 * p * p * cb * cb + 2 * (b - c) / b * ca * ca - 4 * q * ca * cb * cg +
                2 * (b - a) / b * cg * cg);
    k[1] = 4 * (-p * (1 + p) * cb + 2 * a / b * cg * cg * cb - (1 - q) * ca * cg);
    k[0] = (1 + p) * (1 + p) - 4 * a / b * cg * cg;
}

/* Distance of the second place over that of the first: of the two ratios that their side allows,
 * the one that agrees with the side to the third. Grunert's own quotient can be 0 over 0. */
static double second_over_first(double a, double c, const double cosine[3], double v,
                                double first) {
    double scale = first * first, best = NAN, least = INFINITY;
    double half = sqrt(fmax(0, cosine[2] * cosine[2] - 1 + c / scale));
    for (int sign = -1; sign <= 1; sign += 2) {
        double u = cosine[2] + sign * half;
        double off = fabs(scale * (u * u + v * v - 2 * u * v * cosine[0]) - a);
        if (off < least) {
            least = off;
            best = u;
        }
    }
    return best;
}

static double squared(vs_vec3 a, vs_vec3 b) {
    vs_vec3 d = vs_vec3_sub(a, b);
    return vs_vec3_dot(d, d);
}

size_t vs_match_three(const vs_match_ask *ask, const size_t index[3], double focal_px,
                      vs_match_pose pose[VS_MATCH_POSES_OF_THREE]) {
    vs_vec3 place[3], toward[3];
    double k[5], root[4];
    size_t roots, count = 0;
    for (int i = 0; i < 3; i++) {
        const vs_match_pair *pair = &ask->pair[index[i]];
        vs_vec3 d = {(pair->x_px - ask->width_px / 2) / focal_px,
                     (ask->height_px / 2 - pair->y_px) / focal_px, -1};
        toward[i] = vs_vec3_unit(d);
        place[i] = pair->at_m;
    }
    if (in_a_line(place)) {
        return 0;
    }
    double a = squared(place[1], place[2]), b = squared(place[0], place[2]),
           c = squared(place[0], place[1]);
    const double cosine[3] = {vs_vec3_dot(toward[1], toward[2]), vs_vec3_dot(toward[0], toward[2]),
                              vs_vec3_dot(toward[0], toward[1])};
    grunert(a, b, c, cosine, k);
    if (vs_polynomial_real_roots(k, 4, root, &roots) != VS_OK) {
        return 0;
    }
    for (size_t i = 0; i < roots && count < VS_MATCH_POSES_OF_THREE; i++) {
        double v = root[i], first = sqrt(b / (1 + v * v - 2 * v * cosine[1]));
        double u = second_over_first(a, c, cosine, v, first);
        if (!(v > 0 && u > 0 && first > 0) || !isfinite(first)) {
            continue; /* a place behind the camera */
        }
        const vs_vec3 seen[3] = {vs_vec3_scale(toward[0], first),
                                 vs_vec3_scale(toward[1], u * first),
                                 vs_vec3_scale(toward[2], v * first)};
        if (!in_a_line(seen)) {
            pose[count++] = pose_of(seen, place, focal_px);
        }
    }
    return count;
}
