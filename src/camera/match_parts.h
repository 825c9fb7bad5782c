/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of a camera match: poses of three pairs, and the fit of all. */
#ifndef VEILSTOP_CAMERA_MATCH_PARTS_H
#define VEILSTOP_CAMERA_MATCH_PARTS_H

#include "veilstop/camera/match.h"

#define VS_MATCH_POSES_OF_THREE 4 /* Grunert's equation is of the fourth degree */

/* [pixels] residuals over this weigh less in the first fit: taps are accurate to a pixel, to
 * several on large photos; our choice */
static inline double vs_match_soft_px(const vs_match_ask *ask) {
    return 2 + fmax(ask->width_px, ask->height_px) / 2000;
}

/* The poses that show three pairs of the ask exactly, at a focal length. Returns their number. */
size_t vs_match_three(const vs_match_ask *ask, const size_t index[3], double focal_px,
                      vs_match_pose pose[VS_MATCH_POSES_OF_THREE]);

/* Squared distance of a pair's place, as a pose shows it, from its pixel [pixels^2]; INFINITY
 * behind the camera. */
double vs_match_off_squared(const vs_match_ask *ask, const vs_match_pose *pose, size_t pair);

/* The residual of a fit, and its variances for pixels with a deviation of 1. */
typedef struct {
    vs_match_pose pose;
    double sum;         /* [pixels^2] of squares, or the robust sum in its place */
    double variance[7]; /* along x, y, z [m^2]; about right, up, -forward [rad^2]; of ln focal */
} vs_match_fit;

/* Fits a pose to the pairs in use, from a start.
 * used  one a pair; NULL: all
 * soft  robust: outliers weigh little
 * Errors: VS_ERR_CONVERGENCE, VS_ERR_MEMORY, VS_ERR_DOMAIN (a place behind the start). */
VS_WARN_UNUSED vs_status vs_match_fit_pose(const vs_match_ask *ask, const bool *used, bool soft,
                                           const vs_match_pose *start, vs_match_fit *fit);

#endif
