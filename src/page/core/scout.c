/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The haze of a shot in a photo from the scout, whose camera is the shot's. */
#include <math.h>
#include <stdlib.h>

#include "ask/kept.h"
#include "page/core/page.h"
#include "veilstop/air/rooms.h"
#include "veilstop/shot/held.h"

#define NO_CLIP_STOPS 30.0 /* [stops] over grey: a photo's own white is under it */
#define OF_BYTE       257  /* a code of 8 bits in 16, full scale to full scale */

void vs_page_close_scout(vs_page_scout *scout) {
    if (scout->open) {
        vs_still_close(&scout->still);
    }
    vs_picture_free(&scout->photo);
    vs_picture_free(&scout->hazed);
    free(scout->pixels);
    scout->pixels = NULL;
    scout->open = false;
}

static vs_status open_scout(const vs_page *page, vs_page_scout *s, size_t shot, size_t width,
                            size_t height) {
    const vs_scene *scene = vs_ask_scene_of(&page->ask);
    if (s->open && s->shot == shot && s->photo.width == width && s->photo.height == height) {
        return VS_OK;
    }
    vs_page_close_scout(s);
    vs_status status = vs_picture_init(&s->photo, width, height, 8);
    if (status == VS_OK) {
        status = vs_picture_init(&s->hazed, width, height, 8);
    }
    s->pixels = malloc(4 * width * height);
    if (status != VS_OK || !s->pixels) {
        return status == VS_OK ? VS_ERR_MEMORY : status;
    }
    s->shot = shot;
    status = vs_still_open(&s->still, scene, shot, &scene->camera[scene->shot[shot].camera], width,
                           height, NULL, NULL);
    s->open = status == VS_OK;
    return status;
}

/* A phone's photo says nothing of itself here: its codes are sRGB's (IEC 61966-2-1), its exposure is
 * the shot's, or told by a patch. */
static vs_status take_photo(vs_page_scout *s, const vs_camera *camera, const double *grey,
                            vs_still_photo *photo) {
    vs_still_patch patch;
    photo->picture = &s->photo;
    photo->camera = *camera;
    photo->as = VS_DEVELOP_LOG;
    photo->camera.curve.kind = VS_CURVE_SRGB;
    photo->camera.stops_above_grey = NO_CLIP_STOPS;
    photo->nits_per_linear = vs_camera_nits(camera, 1);
    if (!grey) {
        return VS_OK;
    }
    double nits = isnan(grey[2]) ? vs_camera_grey_nits(camera) : grey[2];
    return vs_still_expose(photo, grey[0], grey[1], nits, &patch);
}

static void take_codes(vs_picture *photo, const unsigned char *rgba) {
    for (size_t i = 0; i < 3 * photo->width * photo->height; i++) {
        photo->sample[i] = (uint16_t)(rgba[4 * (i / 3) + i % 3] * OF_BYTE);
    }
}

static vs_status lay(vs_page_scout *s, const vs_camera *camera, const double *grey) {
    vs_still_photo photo;
    double clipped;
    vs_status status = take_photo(s, camera, grey, &photo);
    return status != VS_OK ? status
                           : vs_still_composite(&s->still, &photo, &s->hazed, 0, 0, NULL, &clipped);
}

PAGE_EXPORT(vs_page_scouted)
const unsigned char *vs_page_scouted(vs_page *page, int shot, double extinction_per_m, int width,
                                     int height, const unsigned char *rgba, const double *grey) {
    const vs_ask_kept *kept = page->ask.kept;
    const vs_scene_shot *asked = &kept->scene.shot[shot];
    vs_page_scout *s = &page->scout;
    double rooms[VS_ROOMS_MAX];
    vs_status status = open_scout(page, s, (size_t)shot, (size_t)width, (size_t)height);
    if (status == VS_OK) {
        status = vs_held_rooms(&kept->scene, asked, &kept->predictor.haze, extinction_per_m, rooms);
    }
    if (status == VS_OK) {
        status = vs_still_haze(&s->still, rooms);
    }
    size_t count = (size_t)width * (size_t)height;
    if (status == VS_OK) {
        take_codes(&s->photo, rgba);
        status = lay(s, &kept->scene.camera[asked->camera], grey);
    }
    if (status != VS_OK) {
        return NULL;
    }
    for (size_t i = 0; i < 4 * count; i++) {
        s->pixels[i] = i % 4 == 3 ? 255 : (unsigned char)(s->hazed.sample[i / 4 * 3 + i % 4] >> 8);
    }
    return s->pixels;
}

PAGE_EXPORT(vs_page_scout_grey)
int vs_page_scout_grey(vs_page *page, int shot, int width, int height, const unsigned char *rgba,
                       const double *grey) {
    const vs_scene *scene = vs_ask_scene_of(&page->ask);
    vs_page_scout own = {0};
    vs_still_photo photo;
    vs_status status = vs_picture_init(&own.photo, (size_t)width, (size_t)height, 8);
    if (status == VS_OK) {
        take_codes(&own.photo, rgba);
        status = take_photo(&own, &scene->camera[scene->shot[shot].camera], grey, &photo);
    }
    vs_picture_free(&own.photo);
    return status == VS_OK ? 1 : status == VS_ERR_DOMAIN ? 0 : status == VS_ERR_INPUT ? -1 : -2;
}
