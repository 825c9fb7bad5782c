/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pose fitted to pairs by least squares: a place, three small rotations, the logarithm of the
 * focal length. Rotations are about the camera's own axes, so that each has a meaning by itself. */
#include <math.h>
#include <stdlib.h>

#include "camera/match_parts.h"
#include "veilstop/base/fit.h"

#define AHEAD_LEAST_M 1e-3  /* [m] nearer places, or those behind, count as at this distance */
#define TOLERANCE     1e-12 /* [1] of the sum of squares */

typedef struct {
    const vs_match_ask *ask;
    const bool *used;
    vs_match_pose from;
    bool soft, focal_free;
} problem;

/* A pose moved and rotated, by a rotation vector in the camera's axes (Rodrigues). */
static vs_match_pose moved(const vs_match_pose *from, const double *p, bool focal_free) {
    vs_match_pose to = *from;
    to.at_m.x += p[0];
    to.at_m.y += p[1];
    to.at_m.z += p[2];
    vs_vec3 spin = vs_vec3_scale(from->right, p[3]);
    spin = vs_vec3_along(spin, from->up, p[4]);
    spin = vs_vec3_along(spin, from->forward, -p[5]);
    double angle = vs_vec3_length(spin);
    if (angle > 0) {
        vs_vec3 axis = vs_vec3_scale(spin, 1 / angle);
        vs_vec3 *const side[] = {&to.right, &to.up, &to.forward};
        for (int i = 0; i < 3; i++) {
            vs_vec3 v = *side[i], out = vs_vec3_scale(v, cos(angle));
            out = vs_vec3_along(out, vs_vec3_cross(axis, v), sin(angle));
            *side[i] = vs_vec3_along(out, axis, vs_vec3_dot(axis, v) * (1 - cos(angle)));
        }
    }
    to.focal_px *= focal_free ? exp(p[6]) : 1;
    return to;
}

static void off(const vs_match_ask *ask, const vs_match_pose *pose, size_t i, double d_px[2]) {
    vs_vec3 d = vs_vec3_sub(ask->pair[i].at_m, pose->at_m);
    double ahead = fmax(vs_vec3_dot(d, pose->forward), AHEAD_LEAST_M);
    double scale = pose->focal_px / ahead;
    d_px[0] = ask->width_px / 2 + scale * vs_vec3_dot(d, pose->right) - ask->pair[i].x_px;
    d_px[1] = ask->height_px / 2 - scale * vs_vec3_dot(d, pose->up) - ask->pair[i].y_px;
}

double vs_match_off_squared(const vs_match_ask *ask, const vs_match_pose *pose, size_t pair) {
    double d_px[2];
    vs_vec3 d = vs_vec3_sub(ask->pair[pair].at_m, pose->at_m);
    if (!(vs_vec3_dot(d, pose->forward) > AHEAD_LEAST_M)) {
        return INFINITY;
    }
    off(ask, pose, pair, d_px);
    return d_px[0] * d_px[0] + d_px[1] * d_px[1];
}

static void model(const double *parameter, double *residual, void *context) {
    const problem *p = context;
    vs_match_pose pose = moved(&p->from, parameter, p->focal_free);
    double soft = vs_match_soft_px(p->ask);
    for (size_t i = 0; i < p->ask->count; i++) {
        if (p->used && !p->used[i]) {
            continue;
        }
        off(p->ask, &pose, i, residual);
        double r = hypot(residual[0], residual[1]) / soft;
        if (p->soft && r > 0) { /* Cauchy's: the logarithm of the square */
            double weight = sqrt(log1p(r * r)) / r;
            residual[0] *= weight;
            residual[1] *= weight;
        }
        residual += 2;
    }
}

vs_status vs_match_fit_pose(const vs_match_ask *ask, const bool *used, bool soft,
                            const vs_match_pose *start, vs_match_fit *fit) {
    problem p = {ask, used, *start, soft, isnan(ask->focal_px)};
    size_t count = 0, parameters = p.focal_free ? 7 : 6;
    double covariance[49];
    for (size_t i = 0; i < ask->count; i++) {
        count += !used || used[i];
    }
    /* twice: the second time the rotations are about the axes of the fit itself */
    for (int round = 0; round < 2; round++) {
        double parameter[7] = {0};
        vs_status status = vs_fit_least_squares(model, &p, 2 * count, parameters, TOLERANCE,
                                                parameter, covariance, &fit->sum);
        if (status != VS_OK) {
            return status;
        }
        p.from = moved(&p.from, parameter, p.focal_free);
    }
    fit->pose = p.from;
    for (size_t i = 0; i < 7; i++) {
        fit->variance[i] = i < parameters ? covariance[i * parameters + i] : 0;
    }
    return VS_OK;
}
