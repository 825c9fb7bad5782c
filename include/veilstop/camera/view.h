/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frame of a camera in the room: a pinhole with the lens's focal length. */
#ifndef VEILSTOP_CAMERA_VIEW_H
#define VEILSTOP_CAMERA_VIEW_H

#include <stdbool.h>

#include "veilstop/base/vec3.h"
#include "veilstop/camera/camera.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    vs_vec3 at_m;
    /* unit vectors; without roll the picture is level. Aimed up or down, right is east then. */
    vs_vec3 forward, right, up;
    double half_width, half_height; /* of the frame at distance 1 [1] */
} vs_view;

vs_view vs_view_make(const vs_camera *camera);

/** Size of a square pixel on the sensor [m], of a picture that is the largest part of the sensor
 *  about its middle with the picture's shape. */
double vs_view_pixel_m(const vs_camera *camera, double width_px, double height_px);

/** Position of a point in the frame: x right and y up, -1 to 1 from edge to edge. False behind the
 *  camera. */
bool vs_view_place(const vs_view *view, vs_vec3 p_m, double *x, double *y);

/** Whether a point is within the frame. */
bool vs_view_in_frame(const vs_view *view, vs_vec3 p_m);

/** Unit direction from the camera through a position in the frame. */
vs_vec3 vs_view_direction(const vs_view *view, double x, double y);

#ifdef __cplusplus
}
#endif
#endif
