/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Exposure: middle grey of a setting, and the signal of a luminance. */
#include "veilstop/camera/camera.h"

#include <math.h>

#define REFLECTED_K 12.5 /* [cd s/m2] ISO 2720:1974, reflected-light calibration constant */

/* L_grey = K N^2 2^nd/(t S), ISO 2720:1974. */
double vs_camera_grey_nits(const vs_camera *camera) {
    return REFLECTED_K * camera->t_stop * camera->t_stop * exp2(camera->nd_stops) /
           (camera->shutter_s * camera->iso);
}

double vs_camera_floor_nits(const vs_camera *camera) {
    return vs_camera_grey_nits(camera) * exp2(-camera->stops_below_grey);
}

double vs_camera_linear(const vs_camera *camera, double nits) {
    return VS_CAMERA_GREY_LINEAR * nits / vs_camera_grey_nits(camera);
}

double vs_camera_nits(const vs_camera *camera, double x) {
    return x / VS_CAMERA_GREY_LINEAR * vs_camera_grey_nits(camera);
}

double vs_camera_clip_linear(const vs_camera *camera) {
    return fmin(VS_CAMERA_GREY_LINEAR * exp2(camera->stops_above_grey),
                vs_curve_top(&camera->curve));
}

double vs_camera_signal_percent(const vs_camera *camera, double nits) {
    double x = vs_camera_linear(camera, nits);
    double clip = vs_camera_clip_linear(camera);
    return 100 * vs_curve_encode(&camera->curve, x > clip ? clip : x);
}

/* log2((a + e)/(b + e)): the floor e keeps the contrast of two blacks finite. */
double vs_camera_stops_between(const vs_camera *camera, double a_nits, double b_nits) {
    double e = vs_camera_floor_nits(camera);
    return log2((a_nits + e) / (b_nits + e));
}
