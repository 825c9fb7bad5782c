/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A photo's camera in its rooms: the grid of samples, what each sees, and the veil there. */
#include "veilstop/picture/still.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/still/still_kept.h"

#define SAMPLES_ALONG 640 /* at most, over a photo's longer side; our choice */
#define MARGIN        1 /* samples beyond the photo's edge, so that each pixel lies between some */
#define SKIP_WORST                                                                                 \
    8 /* [pixels] the largest block, reached by photos 5000 wide; larger photos have more samples */

static size_t block_of(size_t width, size_t height) {
    size_t longer = width > height ? width : height;
    size_t block = (longer + SAMPLES_ALONG - 1) / SAMPLES_ALONG;
    return block < SKIP_WORST ? block : SKIP_WORST;
}

/* The camera of the grid: the photo's, with a sensor that just holds the samples. */
static vs_camera grid_camera(const vs_camera *camera, const vs_still_kept *k) {
    vs_camera grid = *camera;
    double sample_m =
        vs_view_pixel_m(camera, (double)k->width, (double)k->height) * (double)k->block;
    grid.sensor_width_m = sample_m * (double)k->across;
    grid.sensor_height_m = sample_m * (double)k->down;
    return grid;
}

static vs_view photo_view(const vs_camera *camera, size_t width, size_t height) {
    vs_camera photo = *camera;
    double pixel_m = vs_view_pixel_m(camera, (double)width, (double)height);
    photo.sensor_width_m = pixel_m * (double)width;
    photo.sensor_height_m = pixel_m * (double)height;
    return vs_view_make(&photo);
}

/* The scene with that camera. Its points show no cards: the photo has the things themselves. */
static vs_status copy_scene(vs_still_kept *k, const vs_camera *camera) {
    const vs_scene *scene = k->scene;
    k->own = *scene;
    k->camera = calloc(scene->camera_count, sizeof *k->camera);
    k->shot_list = calloc(scene->shot_count, sizeof *k->shot_list);
    if (!k->camera || !k->shot_list) {
        return VS_ERR_MEMORY;
    }
    memcpy(k->camera, scene->camera, scene->camera_count * sizeof *k->camera);
    memcpy(k->shot_list, scene->shot, scene->shot_count * sizeof *k->shot_list);
    k->own.camera = k->camera;
    k->own.shot = k->shot_list;
    k->camera[scene->shot[k->shot].camera] = grid_camera(camera, k);
    k->shot_list[k->shot].point_count = 0;
    k->shot_list[k->shot].want_count = 0;
    return VS_OK;
}

static vs_status take_memory(vs_still_kept *k) {
    size_t samples = k->across * k->down;
    k->room_extinction_per_m = calloc(k->scene->room_count + 1, sizeof(double));
    k->sight = calloc(samples, sizeof *k->sight);
    k->pure = calloc(samples, sizeof *k->pure);
    k->even = calloc(samples, sizeof *k->even);
    k->veil = calloc(samples, sizeof *k->veil);
    k->transmission = calloc(samples, sizeof *k->transmission);
    k->share = k->depth ? calloc((size_t)VS_STILL_SHARES_ACROSS * VS_STILL_SHARES_DOWN *
                                     (VS_STILL_SHARE_STEPS + 1),
                                 sizeof *k->share)
                        : NULL;
    return k->room_extinction_per_m && k->sight && k->pure && k->even && k->veil &&
                   k->transmission && (k->share || !k->depth)
               ? VS_OK
               : VS_ERR_MEMORY;
}

/* ---- lines of sight ---- */

static void see_row(void *context, size_t worker, size_t j) {
    vs_still_kept *k = context;
    (void)worker;
    double y_px =
        ((double)j + 0.5 - 0.5 * (double)k->down) * (double)k->block + 0.5 * (double)k->height;
    for (size_t i = 0; i < k->across; i++) {
        double x_px =
            ((double)i + 0.5 - 0.5 * (double)k->across) * (double)k->block + 0.5 * (double)k->width;
        size_t at = j * k->across + i;
        k->sight[at] = vs_still_sight_along(k, vs_still_direction(k, x_px, y_px));
        vs_bands through = vs_medium_transmission(&k->medium, (double)k->sight[at].depth);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            k->transmission[at][band] = (float)through.v[band];
        }
    }
}

static bool all_alike(const vs_still_kept *k, size_t i, size_t j, size_t from, size_t to) {
    uint32_t thing = k->sight[j * k->across + i].thing;
    for (size_t y = j + 1 - from; y < j + to && y < k->down; y++) {
        for (size_t x = i + 1 - from; x < i + to && x < k->across; x++) {
            if (k->sight[y * k->across + x].thing != thing) {
                return false;
            }
        }
    }
    return true;
}

/* Which samples are surrounded by samples of the same thing, and which cells have four such
 * corners: a frame's samples beside an outline are means of both sides. */
static void find_edges(vs_still_kept *k) {
    for (size_t j = 0; j < k->down; j++) {
        for (size_t i = 0; i < k->across; i++) {
            bool inside = i > 0 && j > 0 && i + 1 < k->across && j + 1 < k->down;
            k->pure[j * k->across + i] =
                inside ? all_alike(k, i, j, 2, 2) : all_alike(k, i, j, 1 + (i > 0 && j > 0), 2);
        }
    }
    for (size_t j = 0; j + 1 < k->down; j++) {
        for (size_t i = 0; i + 1 < k->across; i++) {
            const bool *p = &k->pure[j * k->across + i];
            k->even[j * k->across + i] =
                p[0] && p[1] && p[k->across] && p[k->across + 1] && all_alike(k, i, j, 1, 2);
        }
    }
}

/* ---- open, haze, close ---- */

static vs_status open_frame(vs_still_kept *k, const vs_camera *camera) {
    vs_status status = vs_predictor_init(&k->predictor, &k->own);
    k->predictor_open = status == VS_OK;
    if (status == VS_OK) {
        status = vs_predictor_set_openings(&k->predictor, &k->shot_list[k->shot]);
    }
    if (status == VS_OK &&
        vs_space_room_at(&k->predictor.geometry->space, camera->at_m) == VS_SPACE_OUTSIDE) {
        status = VS_ERR_DOMAIN;
    }
    if (status == VS_OK) {
        status = vs_frame_open(&k->frame, &k->predictor, k->shot, k->across, k->down, k->runner);
        k->frame_open = status == VS_OK;
    }
    if (status == VS_OK && k->depth) {
        status = vs_rays_init(&k->rays, &k->predictor);
        k->rays_open = status == VS_OK;
    }
    return status;
}

vs_status vs_still_open(vs_still *still, const vs_scene *scene, size_t shot,
                        const vs_camera *camera, size_t width, size_t height,
                        const vs_still_depth *depth, const vs_runner *runner) {
    still->kept = NULL;
    if (shot >= scene->shot_count || width < VS_FRAME_SIDE_MIN || height < VS_FRAME_SIDE_MIN ||
        width > VS_PICTURE_SIDE_MAX || height > VS_PICTURE_SIDE_MAX) {
        return VS_ERR_DOMAIN;
    }
    vs_still_kept *k = calloc(1, sizeof *k);
    if (!k) {
        return VS_ERR_MEMORY;
    }
    still->kept = k;
    k->scene = scene;
    k->shot = shot;
    k->width = width;
    k->height = height;
    k->depth = depth;
    k->runner = vs_runner_or_plain(runner);
    k->block = block_of(width, height);
    k->across = (width + k->block - 1) / k->block + 2 * (size_t)MARGIN;
    k->down = (height + k->block - 1) / k->block + 2 * (size_t)MARGIN;
    k->view = photo_view(camera, width, height);
    vs_status status = copy_scene(k, camera);
    if (status == VS_OK) {
        status = take_memory(k);
    }
    if (status == VS_OK) {
        status = open_frame(k, camera);
    }
    if (status != VS_OK) {
        vs_still_close(still);
    }
    return status;
}

void vs_still_close(vs_still *still) {
    vs_still_kept *k = still->kept;
    still->kept = NULL;
    if (!k) {
        return;
    }
    if (k->rays_open) {
        vs_rays_free(&k->rays);
    }
    if (k->frame_open) {
        vs_frame_close(&k->frame);
    }
    if (k->predictor_open) {
        vs_predictor_free(&k->predictor);
    }
    free(k->camera);
    free(k->shot_list);
    free(k->room_extinction_per_m);
    free(k->sight);
    free(k->pure);
    free(k->even);
    free(k->veil);
    free(k->transmission);
    free(k->share);
    free(k);
}

static void take_veil(vs_still_kept *k, const vs_frame_layers *layers) {
    for (size_t i = 0; i < k->across * k->down; i++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            k->veil[i][band] = layers->veil.band[band][i];
        }
    }
}

vs_status vs_still_haze(vs_still *still, const double *room_extinction_per_m) {
    vs_still_kept *k = vs_still_of(still);
    vs_frame_layers layers;
    k->hazed = false;
    vs_status status =
        vs_frame_render(&k->frame, room_extinction_per_m, VS_FRAME_FINE, false, &layers);
    if (status != VS_OK) {
        return status;
    }
    take_veil(k, &layers);
    memcpy(k->room_extinction_per_m, room_extinction_per_m, k->scene->room_count * sizeof(double));
    k->medium =
        vs_medium_make(&k->predictor.geometry->space, &k->predictor.haze, k->room_extinction_per_m);
    k->runner->each(k->runner->context, k->down, see_row, k);
    find_edges(k);
    if (k->depth) {
        status = vs_still_share_init(k);
    }
    k->hazed = status == VS_OK;
    return status;
}
