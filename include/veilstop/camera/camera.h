/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A camera: where it stands, what it frames, how it exposes. Source: ISO 2720:1974 for middle grey;
 * the scale (x = 0.18 at middle grey) and the floor of its range are the project's conventions. */
#ifndef VEILSTOP_CAMERA_CAMERA_H
#define VEILSTOP_CAMERA_CAMERA_H

#include "veilstop/base/vec3.h"
#include "veilstop/camera/curve.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_CAMERA_GREY_LINEAR 0.18 /* [1] scene-linear x of middle grey, by convention */

typedef struct {
    const char *name;
    vs_vec3 at_m, aim_m;
    double focal_m;
    double sensor_width_m, sensor_height_m;
    double t_stop; /* [1] */
    double iso;    /* exposure index S [1] */
    double shutter_s;
    double nd_stops; /* neutral density before the sensor */
    double white_kelvin;
    double stops_above_grey, stops_below_grey; /* usable range around middle grey */
    vs_curve curve;
    double roll_rad; /* turned about its axis, counter-clockwise from behind; 0: level */
} vs_camera;

/** Luminance of middle grey [cd/m2]: 12.5 N^2 2^nd / (t S). ISO 2720:1974, K = 12.5.
 *  Checked: tests/unit/test_camera.c against the standard's exposure values. */
double vs_camera_grey_nits(const vs_camera *camera);

/** The floor e [cd/m2]: `stops_below_grey` below middle grey. */
double vs_camera_floor_nits(const vs_camera *camera);

/** Scene-linear x [1] of a luminance [cd/m2]: 0.18 L / L_grey. */
double vs_camera_linear(const vs_camera *camera, double nits);

/** Luminance [cd/m2] of a scene-linear x: the inverse of vs_camera_linear. */
double vs_camera_nits(const vs_camera *camera, double x);

/** Scene-linear x above which everything clips to the same white: the lower of `stops_above_grey`
 *  above middle grey and the curve's own 100 %. */
double vs_camera_clip_linear(const vs_camera *camera);

/** Signal [percent] of a luminance [cd/m2] through the curve, clipped at vs_camera_clip_linear. */
double vs_camera_signal_percent(const vs_camera *camera, double nits);

/** log2((a + e)/(b + e)) with the camera's floor e: contrast or change in stops.
 *  a_nits, b_nits  [cd/m2] >= 0 */
double vs_camera_stops_between(const vs_camera *camera, double a_nits, double b_nits);

#ifdef __cplusplus
}
#endif
#endif
