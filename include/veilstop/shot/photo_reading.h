/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How thick the haze is, from two photos of one framing, without haze and with it: the points of a
 * shot stand at known distances, and the scene gives the veil of its lamps before each. A reading
 * without a card. */
#ifndef VEILSTOP_SHOT_PHOTO_READING_H
#define VEILSTOP_SHOT_PHOTO_READING_H

#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_PHOTO_POINTS_MAX 64 /* of one reading; our choice */

/** A point as the two photos show it [cd/m2], by one exposure for both. */
typedef struct {
    size_t point; /* of the shot */
    vs_bands clear, clear_sd, hazed, hazed_sd;
} vs_photo_patch;

/** A shot's points in haze of any density: computed once, used for many photos. */
typedef struct {
    void *kept; /* opaque */
} vs_photo_model;

/** predictor  borrowed for the call; with the photos' camera
 *  point      indices of points of the shot, `count` of them, in front of everything (not hidden)
 *  likely_per_m  where nodes are closest, over 0: the plan's density
 *  Errors: those of vs_predict_shot; VS_ERR_DOMAIN (no point, too many). Nothing to free then. */
VS_WARN_UNUSED vs_status vs_photo_model_init(vs_photo_model *model, vs_predictor *predictor,
                                             size_t shot, const size_t *point, size_t count,
                                             double likely_per_m);
void vs_photo_model_free(vs_photo_model *model);

typedef struct {
    double extinction_per_m;      /* in the camera's room, at 549 nm */
    double low_per_m, high_per_m; /* ends of its 90 % interval; high may be INFINITY */
    double veil_ratio;            /* [1] fitted: the veil over that which the scene's lamps make */
    double off_share;             /* [1] root mean square of the residuals over the light seen */
    bool used[VS_PHOTO_POINTS_MAX]; /* one a patch; false: left out, it disagrees */
    size_t used_count;
} vs_photo_reading;

/** Reads the haze off patches of the model's points.
 *  patch  `count` of them, each of another point of the model; clear and hazed over 0
 *  Errors: VS_ERR_DOMAIN; VS_ERR_INPUT under two patches; VS_ERR_UNREACHABLE where no density up
 *  to the model's thickest (3 of optical depth to the furthest point) is the best, or the best
 *  leaves over a quarter of what is seen: they disagree, or the photos are swapped.
 *  Method: hazed = clear x R(k) T(k) + s V(k), band by band: T, V, and R, what haze leaves of the
 *  light on a point, as of vs_predict_shot; s free, but within about half of what points given by
 *  `reflectance` show of the lamps in the clear photo. Least squares over k, each residual by the
 *  spread of its patches and half a hundredth for the model; the interval where their sum has
 *  risen by Student's t. With five patches or more one that is far off all others is left out.
 *  Points given by `nits` or `stops` shine by themselves (as in every answer): R is 1 for them.
 *  Leaves out: exposure that changed between the photos, things that moved.
 *  Checked: tests/unit/test_photo_reading.c: 300 trials. */
VS_WARN_UNUSED vs_status vs_photo_read(const vs_photo_model *model, const vs_photo_patch *patch,
                                       size_t count, vs_photo_reading *reading);

#ifdef __cplusplus
}
#endif
#endif
