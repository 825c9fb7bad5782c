/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a camera stood, from a photo: pixels paired with places whose coordinates are known
 * (camera resectioning of a pinhole). Sources: Grunert 1841 as given by Haralick, Lee, Ottenberg,
 * Noelle 1994 (Int. J. Comput. Vis. 13, 331) for the pose of three pairs; Hartley & Zisserman,
 * Multiple View Geometry, ch. 7, for the fit of all; both from memory. */
#ifndef VEILSTOP_CAMERA_MATCH_H
#define VEILSTOP_CAMERA_MATCH_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/base/vec3.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_MATCH_PAIRS_MAX  64 /* our choice */
#define VS_MATCH_OTHERS_MAX 3  /* further places reported; our choice */

typedef struct {
    double x_px, y_px; /* from the top left corner; the middle of the first pixel is 0.5, 0.5 */
    vs_vec3 at_m;
} vs_match_pair;

/** A pinhole: unit vectors, right x up = -forward. */
typedef struct {
    vs_vec3 at_m, forward, right, up;
    double focal_px; /* focal length over the size of a pixel */
} vs_match_pose;

typedef struct {
    double width_px, height_px; /* of the photo; its middle is the lens's axis */
    const vs_match_pair *pair;
    size_t count;
    double focal_px; /* known; NaN: to be found */
    vs_vec3 near_m;  /* of places that fit equally well the one nearest to here; NaN: any */
    bool (*possible)(const void *context, vs_vec3 at_m); /* where a camera can be; NULL: anywhere */
    const void *context;
} vs_match_ask;

/** Why there is no camera. */
typedef enum {
    VS_MATCH_FOUND,
    VS_MATCH_TOO_FEW,   /* four pairs, or three with a known focal length */
    VS_MATCH_TWICE,     /* two pairs have one place or one pixel: culprit, other */
    VS_MATCH_IN_A_LINE, /* all places, or all pixels, lie along one line */
    VS_MATCH_CLOSE,     /* all pixels lie within VS_MATCH_SPREAD of the photo's diagonal */
    VS_MATCH_NO_FIT,    /* no camera sees them so: some place is wrong */
    VS_MATCH_APART,     /* taps cannot be as far off as the best fit is; culprit: the worst pair */
    VS_MATCH_LOOSE,     /* they hold for many cameras */
    VS_MATCH_LOOSE_SQUARE, /* the same: in one plane, focal length and distance trade off */
    VS_MATCH_IMPOSSIBLE    /* the only cameras that fit stand where none can be */
} vs_match_outcome;

#define VS_MATCH_SPREAD 0.05 /* [1] of the diagonal; our choice */

typedef struct {
    vs_match_outcome outcome;
    size_t culprit, other; /* pairs, for those outcomes */
    vs_match_pose pose;
    double residual_px;                /* root mean square over the pairs used, of their distance */
    double off_px[VS_MATCH_PAIRS_MAX]; /* how far each place is drawn from its pixel */
    bool used[VS_MATCH_PAIRS_MAX];     /* false: left out, as it disagrees with the others */
    size_t used_count;
    /* One standard deviation, for pixels that deviate by VS_MATCH_TAP_PX in x and in y, or by the
     * residual where that is more. */
    vs_vec3 at_sd_m;
    double aim_sd_rad, roll_sd_rad;
    double focal_sd;                               /* [1] relative; 0 where it was known */
    vs_match_pose other_pose[VS_MATCH_OTHERS_MAX]; /* that fit about as well */
    size_t other_count;
} vs_match;

#define VS_MATCH_TAP_PX 1.0 /* [pixels] accuracy of a careful tap; common practice, no source */

/** Finds the camera.
 *  ask    finite pixels and places; width and height over 0
 *  match  out
 *  Errors: VS_ERR_DOMAIN (more than VS_MATCH_PAIRS_MAX pairs, a figure not finite), VS_ERR_MEMORY.
 *  That no camera can be found is VS_OK with an outcome.
 *  Method: from each of up to 120 triples of pairs, at 18 focal lengths (or the known one), the
 *  poses that show these three exactly; the best by all pairs are fitted to them by nonlinear
 *  least squares of the logarithm of squared distances, so that a wrong pair weighs little; then
 *  outliers are left out, where at least five pairs remain, and the rest is fitted by plain least
 *  squares.
 *  Leaves out: lens distortion, an axis off the middle (a cropped photo), pixels that are not
 *  square.
 *  Checked: tests/unit/test_match.c: synthetic cameras, an independent linear solution (DLT),
 *  noise. */
VS_WARN_UNUSED vs_status vs_camera_match(const vs_match_ask *ask, vs_match *match);

/** The pixel that shows a place; false where that is behind the camera. */
bool vs_match_pixel(const vs_match_pose *pose, double width_px, double height_px, vs_vec3 at_m,
                    double *x_px, double *y_px);

/** How far a pose is turned about its axis from level, counter-clockwise seen from behind [rad], as
 *  of vs_view_make. */
double vs_match_roll_rad(const vs_match_pose *pose);

#ifdef __cplusplus
}
#endif
#endif
