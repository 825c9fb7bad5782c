/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points of the shot in photos: their light, and from two photos the haze. */
#include "cli/still/still_points.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/camera/view.h"
#include "veilstop/shot/held.h"

#define SPOILED     0.1  /* [1] of a patch's pixels clipped or black: more spoil it; our choice */
#define LIKELY      0.03 /* [1/m] where there is no plan: medium */
#define SEEN_SKIN_M 0.01 /* [m] what hides a point by less is the surface it is on; our choice */

/* ---- light ---- */

static vs_view photo_view(const vs_cli_still *s) {
    vs_camera camera = s->camera;
    double width = (double)s->photo.size.width, height = (double)s->photo.size.height;
    double pixel_m = vs_view_pixel_m(&camera, width, height);
    camera.sensor_width_m = pixel_m * width;
    camera.sensor_height_m = pixel_m * height;
    return vs_view_make(&camera);
}

static bool is_hidden(const vs_scene_geometry *geometry, const vs_haze *haze, const double *clear,
                      vs_vec3 from_m, vs_vec3 to_m) {
    vs_medium medium = vs_medium_make(&geometry->space, haze, clear);
    vs_camera_ray ray = vs_camera_ray_to(&medium, from_m, to_m);
    double length_m = vs_vec3_length(vs_vec3_sub(to_m, from_m));
    return ray.end != VS_CAMERA_RAY_AT_POINT && ray.length_m < length_m - SEEN_SKIN_M;
}

/* Why a patch is useless; NULL: it is not. */
static const char *fault_of(vs_status status, const vs_still_patch *patch) {
    if (status == VS_ERR_DOMAIN) {
        return "out of the photo";
    }
    if (patch->clipped > SPOILED) {
        return "clipped";
    }
    return patch->dark > SPOILED || !(vs_bands_luminance(patch->linear) > 0) ? "too dark" : NULL;
}

static vs_status read_point(const vs_cli_still *s, const vs_view *view, const vs_scene_point *point,
                            bool hidden, vs_cli_still_point *out) {
    double x, y;
    bool ahead = vs_view_place(view, point->at_m, &x, &y);
    out->x_px = ahead ? 0.5 * (double)s->photo.size.width * (1 + x) : (double)NAN;
    out->y_px = ahead ? 0.5 * (double)s->photo.size.height * (1 - y) : (double)NAN;
    if (hidden || !ahead) {
        out->why = hidden ? "hidden" : "out of the photo";
        return VS_OK;
    }
    vs_status status = vs_still_patch_at(&s->photo.photo, vs_cli_still_kept_px(s, out->x_px),
                                         vs_cli_still_kept_px(s, out->y_px), &out->patch);
    out->why = status == VS_OK || status == VS_ERR_DOMAIN ? fault_of(status, &out->patch) : NULL;
    return status == VS_ERR_DOMAIN ? VS_OK : status;
}

static vs_bands in_nits(const vs_cli_still *s, vs_bands linear) {
    return vs_bands_scale(linear, s->photo.photo.nits_per_linear);
}

vs_exit vs_cli_still_read_points(vs_cli_still *s) {
    const vs_scene *scene = s->scene.scene;
    const vs_scene_shot *shot = &scene->shot[s->shot];
    vs_scene_geometry geometry;
    vs_haze haze;
    double *clear = calloc(scene->room_count, sizeof *clear);
    s->point = calloc(shot->point_count + 1, sizeof *s->point);
    vs_status status = clear && s->point ? vs_haze_init(&haze, &scene->fluid) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        free(clear);
        return vs_ask_fail_status(status, s->scene.path);
    }
    status = vs_scene_geometry_init(&geometry, scene, shot->open);
    vs_view view = photo_view(s);
    for (size_t i = 0; i < shot->point_count && status == VS_OK; i++) {
        vs_cli_still_point *p = &s->point[i];
        bool hidden = is_hidden(&geometry, &haze, clear, s->camera.at_m, shot->point[i].at_m);
        status = read_point(s, &view, &shot->point[i], hidden, p);
        p->nits = p->why ? (double)NAN : vs_bands_luminance(in_nits(s, p->patch.linear));
        p->sd_nits = p->why ? (double)NAN : vs_bands_luminance(in_nits(s, p->patch.linear_sd));
    }
    vs_scene_geometry_free(&geometry);
    vs_haze_free(&haze);
    free(clear);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, "still");
}

/* ---- haze from two photos ---- */

/* The second photo, read as the first was: the same curve and exposure. */
static vs_exit read_second(const vs_cli_still *s, const char *path, vs_picture *picture) {
    vs_png_size size;
    vs_exit code = vs_cli_photo_read(path, VS_CLI_STILL_PIXELS, picture, &size, NULL, NULL);
    if (code == VS_EXIT_DONE &&
        (size.width != s->photo.size.width || size.height != s->photo.size.height)) {
        code =
            vs_ask_fail(VS_EXIT_INPUT,
                        "%s: must be as large as the photo without haze, %zu x %zu pixels (got "
                        "%zu x %zu)",
                        path, s->photo.size.width, s->photo.size.height, size.width, size.height);
    }
    return code;
}

/* Patches that both photos show, of points that the first one measured. */
static vs_status take_patches(vs_cli_still *s, const vs_still_photo *second, vs_photo_patch *patch,
                              size_t *count) {
    size_t points = s->scene.scene->shot[s->shot].point_count;
    *count = 0;
    for (size_t i = 0; i < points && *count < VS_PHOTO_POINTS_MAX; i++) {
        vs_cli_still_point *p = &s->point[i];
        vs_still_patch hazed;
        if (p->why) {
            continue;
        }
        vs_status status = vs_still_patch_at(second, vs_cli_still_kept_px(s, p->x_px),
                                             vs_cli_still_kept_px(s, p->y_px), &hazed);
        if (status != VS_OK) {
            return status;
        }
        p->why_not_read = fault_of(VS_OK, &hazed);
        vs_photo_patch made = {i, in_nits(s, p->patch.linear), in_nits(s, p->patch.linear_sd),
                               in_nits(s, hazed.linear), in_nits(s, hazed.linear_sd)};
        for (int band = 0; band < VS_BAND_COUNT; band++) { /* a band without light is useless */
            bool lit = made.clear.v[band] > 0 && made.hazed.v[band] > 0;
            p->why_not_read = lit ? p->why_not_read : "too dark";
        }
        if (!p->why_not_read) {
            patch[(*count)++] = made;
        }
    }
    return VS_OK;
}

/* The scene with the photo's camera. */
static vs_status model_of(const vs_cli_still *s, const vs_photo_patch *patch, size_t count,
                          double likely_per_m, vs_photo_model *model) {
    vs_scene scene = *s->scene.scene;
    vs_camera *camera = calloc(scene.camera_count, sizeof *camera);
    vs_predictor predictor;
    size_t point[VS_PHOTO_POINTS_MAX];
    model->kept = NULL;
    if (!camera) {
        return VS_ERR_MEMORY;
    }
    memcpy(camera, scene.camera, scene.camera_count * sizeof *camera);
    camera[scene.shot[s->shot].camera] = s->camera;
    scene.camera = camera;
    for (size_t i = 0; i < count; i++) {
        point[i] = patch[i].point;
    }
    vs_status status = vs_predictor_init(&predictor, &scene);
    if (status == VS_OK) {
        status = vs_photo_model_init(model, &predictor, s->shot, point, count, likely_per_m);
        vs_predictor_free(&predictor);
    }
    free(camera);
    return status;
}

static vs_exit fail_reading(const vs_cli_still *s, const char *path, vs_status status,
                            size_t count) {
    if (status == VS_ERR_INPUT || status == VS_ERR_DOMAIN) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s: must show two points of shot %s or more, neither clipped nor black "
                           "nor hidden, in both photos (got %zu)",
                           path, s->scene.scene->shot[s->shot].name, count);
    }
    if (status == VS_ERR_UNREACHABLE) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s: must be the same framing and exposure in haze: no density of the "
                           "scene's goes with it",
                           path);
    }
    return vs_ask_fail_status(status, path);
}

/* The cautions are about the haze that was read, where that is thicker than planned. */
static vs_status take_thickest(vs_cli_still *s) {
    const vs_scene *scene = s->scene.scene;
    double *rooms = calloc(scene->room_count, sizeof *rooms);
    vs_haze haze;
    vs_status status = rooms ? vs_haze_init(&haze, &scene->fluid) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status =
            vs_held_rooms(scene, &scene->shot[s->shot], &haze, s->reading.extinction_per_m, rooms);
        vs_haze_free(&haze);
    }
    for (size_t r = 0; r < scene->room_count && status == VS_OK; r++) {
        s->thickest_per_m[r] = fmax(s->thickest_per_m[r], rooms[r]);
    }
    free(rooms);
    return status;
}

vs_exit vs_cli_still_read_haze(vs_cli_still *s) {
    const char *path = vs_ask_value(s->args, "hazed");
    vs_picture picture = {0};
    vs_photo_patch patch[VS_PHOTO_POINTS_MAX];
    size_t count = 0;
    vs_exit code = read_second(s, path, &picture);
    if (code != VS_EXIT_DONE) {
        vs_picture_free(&picture);
        return code;
    }
    vs_ask_doing("reading the haze");
    vs_still_photo second = s->photo.photo;
    second.picture = &picture;
    vs_status status = take_patches(s, &second, patch, &count);
    vs_picture_free(&picture);
    if (status == VS_OK && count < 2) {
        status = VS_ERR_INPUT;
    }
    vs_photo_model model = {NULL};
    double planned = s->count > 0 ? s->density[0].extinction_per_m : (double)NAN;
    s->planned_per_m = planned;
    if (status == VS_OK) {
        status = model_of(s, patch, count, planned > 0 ? planned : LIKELY, &model);
    }
    if (status == VS_OK) {
        status = vs_photo_read(&model, patch, count, &s->reading);
    }
    vs_photo_model_free(&model);
    if (status == VS_OK) {
        status = take_thickest(s);
    }
    if (status != VS_OK) {
        return fail_reading(s, path, status, count);
    }
    for (size_t i = 0; i < count; i++) {
        s->point[patch[i].point].read = s->reading.used[i];
        if (!s->reading.used[i]) {
            s->point[patch[i].point].why_not_read = "does not go with the others";
        }
    }
    s->haze_read = true;
    return VS_EXIT_DONE;
}
