/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/sheet/sheet_pictures.h"

#include <math.h>

#include "veilstop/air/rooms.h"
#include "veilstop/picture/develop.h"
#include "veilstop/picture/frame.h"
#include "veilstop/picture/png_plain.h"
#include "veilstop/shot/held.h"

#define WIDTH 320 /* [pixels] five centimetres at 160 an inch, quick to draw: our choice */

static vs_status write_png(const vs_picture *picture, vs_ask_sheet_png *png) {
    const vs_ask_means *means = &vs_ask_context_here()->means;
    png->width = picture->width;
    png->height = picture->height;
    return means->png ? means->png(means->context, picture, &png->bytes, &png->length)
                      : vs_png_write_plain(picture, &png->bytes, &png->length);
}

static vs_status render(vs_predictor *predictor, size_t shot, vs_frame *frame,
                        vs_frame_layers *layers) {
    const vs_scene *scene = predictor->scene;
    double rooms[VS_ROOMS_MAX];
    vs_status status = vs_held_rooms(scene, &scene->shot[shot], &predictor->haze, NAN, rooms);
    return status == VS_OK ? vs_frame_render(frame, rooms, VS_FRAME_FINE, false, layers) : status;
}

vs_status vs_ask_sheet_picture(vs_predictor *predictor, size_t shot, vs_ask_sheet_png *png) {
    const vs_camera *camera = &predictor->scene->camera[predictor->scene->shot[shot].camera];
    double shape = camera->sensor_height_m / camera->sensor_width_m;
    size_t height = (size_t)fmin(fmax(round(WIDTH * shape), VS_FRAME_SIDE_MIN), 2 * WIDTH);
    vs_frame frame;
    vs_frame_layers layers;
    vs_picture picture = {0};
    vs_status status =
        vs_frame_open(&frame, predictor, shot, WIDTH, height, vs_ask_drawing_runner());
    if (status != VS_OK) {
        return status;
    }
    status = render(predictor, shot, &frame, &layers);
    if (status == VS_OK) {
        status = vs_picture_init(&picture, WIDTH, height, 8);
    }
    if (status == VS_OK) {
        status =
            vs_develop(camera, VS_DEVELOP_DISPLAY, &layers.hazed, WIDTH, height, &picture, 0, 0);
    }
    if (status == VS_OK) {
        status = write_png(&picture, png);
    }
    vs_picture_free(&picture);
    vs_frame_close(&frame);
    return status;
}
