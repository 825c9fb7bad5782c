/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's picture as a display shows it: the frame, with all that no haze changes, is kept from one
 * density to the next. */
#include <math.h>
#include <stdlib.h>

#include "ask/kept.h"
#include "page/core/page.h"
#include "veilstop/air/rooms.h"
#include "veilstop/picture/develop.h"
#include "veilstop/shot/held.h"

static void forget_frame(vs_page_view *view) {
    if (view->open) {
        vs_frame_close(&view->frame);
    }
    vs_picture_free(&view->picture);
    free(view->graded);
    free(view->pixels);
    view->graded = NULL;
    view->pixels = NULL;
    view->open = false;
}

void vs_page_close_view(vs_page_view *view) {
    forget_frame(view);
    vs_predictor_free(&view->predictor);
}

/* Makes the view of a shot in a size ready, unless it is that one already. */
static vs_status open_view(const vs_page *page, vs_page_view *v, size_t shot, size_t width,
                           size_t height) {
    if (v->open && v->shot == shot && v->width == width && v->height == height) {
        return VS_OK;
    }
    forget_frame(v);
    vs_status status = VS_OK;
    if (!v->predictor.scene) {
        status =
            vs_predictor_init_beside(&v->predictor, &((vs_ask_kept *)page->ask.kept)->predictor);
    }
    if (status == VS_OK) {
        status = vs_picture_init(&v->picture, width, height, 8);
    }
    v->pixels = malloc(4 * width * height);
    v->graded = malloc(VS_BAND_COUNT * width * height * sizeof *v->graded);
    if (status != VS_OK || !v->pixels || !v->graded) {
        return status == VS_OK ? VS_ERR_MEMORY : status;
    }
    v->shot = shot;
    v->width = width;
    v->height = height;
    status = vs_frame_open(&v->frame, &v->predictor, shot, width, height, NULL);
    v->open = status == VS_OK;
    return status;
}

/* A picture with a grade in linear light on it: light times slope, plus offset [scene-linear]. */
static vs_frame_plane grade_light(vs_page_view *v, const vs_frame_plane *nits, const double *grade,
                                  double grey_nits) {
    vs_frame_plane out;
    size_t count = v->width * v->height;
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        double slope = grade[b], offset_nits = grade[3 + b] * grey_nits / VS_CAMERA_GREY_LINEAR;
        out.band[b] = v->graded + b * count;
        for (size_t i = 0; i < count; i++) {
            out.band[b][i] = (float)fmax(0, slope * (double)nits->band[b][i] + offset_nits);
        }
    }
    return out;
}

static void put_pixels(vs_page_view *v) {
    for (size_t i = 0; i < v->width * v->height; i++) {
        for (size_t b = 0; b < 3; b++) {
            v->pixels[4 * i + b] = (unsigned char)(v->picture.sample[3 * i + b] >> 8);
        }
        v->pixels[4 * i + 3] = 255;
    }
}

PAGE_EXPORT(vs_page_picture)
const unsigned char *vs_page_picture(vs_page *page, int shot, double extinction_per_m, int width,
                                     int height, int fine, const double *grade) {
    const vs_scene *scene = vs_ask_scene_of(&page->ask);
    const vs_camera *camera = &scene->camera[scene->shot[shot].camera];
    vs_page_view *v = &page->view[width > VS_PAGE_SMALL_WIDTH];
    vs_frame_layers layers;
    double rooms[VS_ROOMS_MAX];
    vs_status status = open_view(page, v, (size_t)shot, (size_t)width, (size_t)height);
    if (status == VS_OK) {
        status =
            vs_held_rooms(scene, &scene->shot[shot], &v->predictor.haze, extinction_per_m, rooms);
    }
    if (status == VS_OK) {
        status = vs_frame_render(&v->frame, rooms, fine ? VS_FRAME_FINE : VS_FRAME_COARSE, false,
                                 &layers);
    }
    if (status == VS_OK && grade) {
        layers.hazed = grade_light(v, &layers.hazed, grade, vs_camera_grey_nits(camera));
    }
    if (status == VS_OK) {
        status = vs_develop(camera, VS_DEVELOP_DISPLAY, &layers.hazed, v->width, v->height,
                            &v->picture, 0, 0);
    }
    if (status != VS_OK) {
        return NULL;
    }
    put_pixels(v);
    return v->pixels;
}
