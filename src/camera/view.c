/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pinhole model, as in any text on projective geometry. */
#include "veilstop/camera/view.h"

#define LEVEL_SINE 1e-6 /* [1] below this the camera looks straight up or down: x is to its right */

/* right = forward x vertical, up = right x forward; half sizes at distance 1: sensor/(2 focal). */
vs_view vs_view_make(const vs_camera *camera) {
    const vs_vec3 vertical = {0, 0, 1}, east = {1, 0, 0};
    vs_view view;
    view.at_m = camera->at_m;
    view.forward = vs_vec3_unit(vs_vec3_sub(camera->aim_m, camera->at_m));
    vs_vec3 right = vs_vec3_cross(view.forward, vertical);
    view.right = vs_vec3_length(right) > LEVEL_SINE ? vs_vec3_unit(right) : east;
    view.up = vs_vec3_cross(view.right, view.forward);
    if (camera->roll_rad != 0) { /* a level camera's figures stay as they were, bit by bit */
        vs_vec3 level = view.right;
        view.right = vs_vec3_turned(level, view.up, camera->roll_rad);
        view.up = vs_vec3_turned(view.up, level, -camera->roll_rad);
    }
    view.half_width = camera->sensor_width_m / (2 * camera->focal_m);
    view.half_height = camera->sensor_height_m / (2 * camera->focal_m);
    return view;
}

double vs_view_pixel_m(const vs_camera *camera, double width_px, double height_px) {
    return fmin(camera->sensor_width_m / width_px, camera->sensor_height_m / height_px);
}

bool vs_view_place(const vs_view *view, vs_vec3 p_m, double *x, double *y) {
    vs_vec3 d = vs_vec3_sub(p_m, view->at_m);
    double ahead_m = vs_vec3_dot(d, view->forward);
    if (ahead_m <= 0) {
        *x = *y = NAN;
        return false;
    }
    *x = vs_vec3_dot(d, view->right) / (ahead_m * view->half_width);
    *y = vs_vec3_dot(d, view->up) / (ahead_m * view->half_height);
    return true;
}

bool vs_view_in_frame(const vs_view *view, vs_vec3 p_m) {
    double x, y;
    return vs_view_place(view, p_m, &x, &y) && fabs(x) <= 1 && fabs(y) <= 1;
}

vs_vec3 vs_view_direction(const vs_view *view, double x, double y) {
    vs_vec3 way = vs_vec3_along(view->forward, view->right, x * view->half_width);
    return vs_vec3_unit(vs_vec3_along(way, view->up, y * view->half_height));
}
