/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A frame: opened once, computed in one haze after another. No result depends on what was computed
 * before, so pictures are reproducible to the last bit. */
#include "veilstop/picture/frame.h"
#include "veilstop/light/illuminance.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"

#define LONGEST_LEAST_M 1.0  /* [m] our choice */
#define RAY_RELATIVE    1e-5 /* [1] tolerance of light on surfaces for a single ray */

/* The largest central part of the sensor with the picture's shape. */
static vs_view view_of(const vs_camera *camera, size_t width, size_t height) {
    vs_view view = vs_view_make(camera);
    double shape = (double)width / (double)height;
    if (view.half_width > view.half_height * shape) {
        view.half_width = view.half_height * shape;
    } else {
        view.half_height = view.half_width / shape;
    }
    return view;
}

static void cut_planes(vs_frame_kept *k) {
    size_t pixels = k->width * k->height;
    float *next = k->memory;
    vs_frame_plane *plane[VS_FRAME_PLANES] = {&k->layers.hazed, &k->layers.transmission,
                                              &k->layers.veil,  &k->layers.indirect,
                                              &k->lux,          &k->bounced_lux};
    for (size_t p = 0; p < VS_FRAME_PLANES; p++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            plane[p]->band[band] = next;
            next += pixels;
        }
    }
    k->layers.depth_m = next;
    k->layers.width = k->width;
    k->layers.height = k->height;
}

static vs_status make_workers(vs_frame_kept *k) {
    size_t lights = k->scene->light_count;
    k->worker = calloc(k->worker_count, sizeof *k->worker);
    vs_status status = k->worker ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < k->worker_count && status == VS_OK; i++) {
        vs_frame_worker *w = &k->worker[i];
        status = vs_airlight_init(&w->work);
        w->ray = malloc(VS_FRAME_BATCH * sizeof *w->ray);
        w->once = calloc(lights + 1, sizeof *w->once);
        w->more = calloc(lights + 1, sizeof *w->more);
        w->direct = calloc(lights + 1, sizeof *w->direct);
        w->share = calloc(lights + 1, sizeof *w->share);
        if (status == VS_OK) {
            status = w->ray && w->once && w->direct && w->share && w->more
                         ? vs_cells_init(&w->cells, VS_FRAME_PART_CELLS_X * k->grid.cell,
                                         VS_FRAME_PART_CELLS_Y * k->grid.cell)
                         : VS_ERR_MEMORY;
        }
    }
    return status;
}

static vs_status make_memory(vs_frame_kept *k) {
    size_t pixels = k->width * k->height, lights = k->scene->light_count;
    size_t cells = vs_frame_cells_across(k) * vs_frame_cells_down(k);
    k->memory = calloc(pixels, (VS_BAND_COUNT * VS_FRAME_PLANES + 1) * sizeof(float));
    k->node_veil = calloc(lights * vs_frame_node_count(k) + 1, sizeof *k->node_veil);
    k->node_lux = calloc(lights * vs_frame_node_count(k) + 1, sizeof *k->node_lux);
    k->tolerance = calloc(VS_LADDER_STEPS * cells, sizeof(float));
    k->tolerance_mixed = calloc(VS_LADDER_STEPS * cells, sizeof(float));
    k->edge_mean = calloc(k->edge_count + 1, sizeof(float));
    if (!k->memory || !k->node_veil || !k->node_lux || !k->tolerance || !k->tolerance_mixed ||
        !k->edge_mean) {
        return VS_ERR_MEMORY;
    }
    cut_planes(k);
    vs_status status = vs_cells_init(&k->wide, k->grid.across - 1, k->grid.down - 1);
    return status == VS_OK ? make_workers(k) : status;
}

/* What each step of a ladder needs. */
static vs_status make_steps(vs_frame_kept *k) {
    bool room = true;
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        k->step[i].room_extinction_per_m = calloc(k->scene->room_count + 1, sizeof(double));
        k->step[i].light = calloc(k->scene->light_count + 1, sizeof *k->step[i].light);
        room = room && k->step[i].room_extinction_per_m && k->step[i].light;
    }
    return room ? VS_OK : VS_ERR_MEMORY;
}

/* The longest path to anything that is seen. */
static double longest_of(const vs_frame_kept *k) {
    double longest_m = LONGEST_LEAST_M;
    for (size_t y = 0; y < k->grid.down; y += k->grid.cell) {
        for (size_t x = 0; x < k->grid.across; x += k->grid.cell) {
            const vs_ray_path *path = vs_frame_path(k, x, y);
            vs_vec3 direction = vs_frame_direction(k, (double)x, (double)y);
            size_t last = path->crossing_count;
            last -= last > 0 && path->room[last] == VS_SPACE_OUTSIDE; /* no haze out there */
            double end = vs_ray_path_at(&path->at[last], k->view.at_m, direction);
            longest_m = fmax(longest_m, end * vs_vec3_length(direction));
        }
    }
    return longest_m;
}

/* The lights in clear air, for what does not depend on the haze. */
static vs_status clear_lights(vs_frame_kept *k) {
    vs_predictor *p = k->predictor;
    k->setup = vs_camera_setup_make(p, k->shot, p->clear_air);
    return vs_scene_emitters(p->geometry, k->shot, &k->setup.clear, p->dim, &p->work,
                             p->clear_light);
}

static bool size_good(size_t width, size_t height) {
    return width >= VS_FRAME_SIDE_MIN && height >= VS_FRAME_SIDE_MIN &&
           width <= VS_FRAME_SIDE_MAX && height <= VS_FRAME_SIDE_MAX &&
           width * height <= VS_FRAME_PIXELS_MAX;
}

vs_status vs_frame_open(vs_frame *frame, vs_predictor *predictor, size_t shot, size_t width,
                        size_t height, const vs_runner *runner) {
    frame->kept = NULL;
    if (!size_good(width, height) || shot >= predictor->scene->shot_count) {
        return VS_ERR_DOMAIN;
    }
    vs_frame_kept *k = calloc(1, sizeof *k);
    if (!k) {
        return VS_ERR_MEMORY;
    }
    frame->kept = k;
    k->predictor = predictor;
    k->scene = predictor->scene;
    k->shot = &predictor->scene->shot[shot];
    k->camera = &predictor->scene->camera[k->shot->camera];
    k->runner = vs_runner_or_plain(runner);
    k->worker_count = k->runner->workers(k->runner->context, SIZE_MAX);
    k->width = width;
    k->height = height;
    k->view = view_of(k->camera, width, height);
    k->room_extinction_per_m = calloc(k->scene->room_count + 1, sizeof(double));
    vs_status status =
        k->room_extinction_per_m ? vs_predictor_set_openings(predictor, k->shot) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = clear_lights(k);
    }
    if (status == VS_OK) {
        status = vs_frame_geometry(k);
    }
    if (status == VS_OK) {
        k->longest_m = longest_of(k);
        status = make_memory(k);
    }
    if (status == VS_OK) {
        status = make_steps(k);
    }
    if (status != VS_OK) {
        vs_frame_close(frame);
    }
    return status;
}

static void free_workers(vs_frame_kept *k) {
    for (size_t i = 0; k->worker && i < k->worker_count; i++) {
        vs_airlight_free(&k->worker[i].work);
        vs_cells_free(&k->worker[i].cells);
        free(k->worker[i].ray);
        free(k->worker[i].value);
        free(k->worker[i].once);
        free(k->worker[i].direct);
        free(k->worker[i].share);
        free(k->worker[i].more);
    }
    free(k->worker);
}

static void free_lines(vs_frame_kept *k) {
    vs_lines_free(&k->outline);
    for (size_t i = 0; i < k->scene->light_count; i++) {
        if (k->shaft) {
            vs_lines_free(&k->shaft[i]);
        }
        if (k->shadow) {
            vs_lines_free(&k->shadow[i]);
        }
    }
    free(k->shaft);
    free(k->shadow);
}

void vs_frame_close(vs_frame *frame) {
    vs_frame_kept *k = frame->kept;
    if (!k) {
        return;
    }
    free_workers(k);
    free_lines(k);
    vs_bodies_free(&k->bodies);
    vs_cells_free(&k->wide);
    free(k->more);
    free(k->region_of_part);
    for (int i = 0; i < VS_FRAME_DETAILS; i++) {
        vs_frame_plan_free(k, &k->plan[i]);
        for (int j = 0; j < VS_FRAME_PLANS_OLDER; j++) {
            vs_frame_plan_free(k, &k->older[i][j]);
        }
    }
    for (int i = 0; i < VS_LADDER_STEPS; i++) {
        free(k->step[i].room_extinction_per_m);
        free(k->step[i].light);
    }
    free(k->wide_veil);
    free(k->wide_lux);
    free(k->paths.item);
    free(k->label);
    free(k->group_kind);
    free(k->own_kind);
    free(k->group_whole);
    free(k->own_whole);
    free(k->air_whole);
    free(k->air_kind);
    free(k->veil_scale);
    free(k->lux_scale);
    free(k->edge);
    free(k->edge_mean);
    free(k->room_extinction_per_m);
    free(k->node_veil);
    free(k->node_lux);
    free(k->tolerance);
    free(k->tolerance_mixed);
    free(k->own);
    free(k->memory);
    free(k->by_light);
    free(k->layers.veil_by_light);
    free(k);
    frame->kept = NULL;
}

/* ---- computing the picture ---- */

static bool shines(const vs_frame_kept *k, size_t light) {
    return vs_frame_shines(&k->predictor->hazed_light[light]);
}

static vs_status take_haze(vs_frame_kept *k, const double *room_extinction_per_m) {
    k->most_per_m = 0;
    for (size_t r = 0; r < k->scene->room_count; r++) {
        if (!(room_extinction_per_m[r] >= 0 && isfinite(room_extinction_per_m[r]))) {
            return VS_ERR_DOMAIN;
        }
        k->room_extinction_per_m[r] = room_extinction_per_m[r];
        k->most_per_m = fmax(k->most_per_m, room_extinction_per_m[r]);
    }
    k->hazed_air = k->most_per_m > 0;
    k->bounce_known = false;
    vs_status status = vs_predictor_set_openings(k->predictor, k->shot);
    if (status == VS_OK) {
        k->setup = vs_camera_setup_make(k->predictor, k->shot, k->room_extinction_per_m);
        status =
            vs_scene_emitters(k->predictor->geometry, k->shot, &k->setup.hazed, k->predictor->dim,
                              &k->predictor->work, k->predictor->hazed_light);
    }
    return status;
}

static vs_status take_by_light(vs_frame_kept *k, bool by_light) {
    size_t pixels = k->width * k->height, lights = k->scene->light_count, count = 0;
    free(k->by_light);
    free(k->layers.veil_by_light);
    k->by_light = NULL;
    k->layers.veil_by_light = NULL;
    if (!by_light) {
        return VS_OK;
    }
    for (size_t i = 0; i < lights; i++) {
        count += shines(k, i);
    }
    k->layers.veil_by_light = calloc(lights + 1, sizeof *k->layers.veil_by_light);
    k->by_light = calloc(pixels * count + 1, VS_BAND_COUNT * sizeof(float));
    if (!k->layers.veil_by_light || !k->by_light) {
        return VS_ERR_MEMORY;
    }
    float *next = k->by_light;
    for (size_t i = 0; i < lights; i++) {
        for (int band = 0; band < VS_BAND_COUNT && shines(k, i); band++) {
            k->layers.veil_by_light[i].band[band] = next;
            next += pixels;
        }
    }
    return VS_OK;
}

vs_status vs_frame_render(vs_frame *frame, const double *room_extinction_per_m,
                          vs_frame_detail detail, bool by_light, vs_frame_layers *layers) {
    vs_frame_kept *k = frame->kept;
    const vs_frame_layers blank = {0};
    k->detail = detail;
    vs_status status = take_haze(k, room_extinction_per_m);
    if (status == VS_OK) {
        status = take_by_light(k, by_light);
    }
    if (status == VS_OK) {
        for (size_t i = 0; i < k->worker_count; i++) {
            k->worker[i].status = VS_OK;
        }
        status = vs_frame_plan_make(k);
    }
    if (status == VS_OK) {
        vs_frame_fill(k);
    }
    k->rendered = status == VS_OK;
    *layers = status == VS_OK ? k->layers : blank;
    return status;
}

/* ---- one ray ---- */

static vs_status direct_of(vs_frame_kept *k, const vs_ray_path *path, double x, double y,
                           vs_bands *veil, vs_bands *lux) {
    vs_airlight *work = &k->worker[0].work;
    vs_camera_ray ray = vs_frame_sight(k, &k->setup.hazed, path, x, y);
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->scene->light_count && status == VS_OK; i++) {
        const vs_emitter *e = &k->predictor->hazed_light[i];
        vs_bands more = vs_bands_grey(0);
        if (!shines(k, i)) {
            continue;
        }
        status = vs_airlight_fast(work, &k->setup.hazed, &ray, e, &more);
        *veil = vs_bands_add(*veil, more);
        if (status == VS_OK && path->reflectance > 0) {
            status = vs_illuminance(&work->sources, &k->setup.hazed, e,
                                    vs_frame_surface_at(k, path, x, y), path->normal, RAY_RELATIVE,
                                    &more);
            *lux = vs_bands_add(*lux, more);
        }
    }
    return status;
}

vs_status vs_frame_render_ray(vs_frame *frame, double x, double y, vs_frame_ray *ray) {
    vs_frame_kept *k = frame->kept;
    const vs_frame_ray blank = {0};
    *ray = blank;
    if (!k->rendered || !(x >= 0 && x <= (double)k->width && y >= 0 && y <= (double)k->height)) {
        return VS_ERR_DOMAIN;
    }
    x -= 0.5;
    y -= 0.5;
    size_t found = vs_ray_paths_find(&k->paths, vs_frame_direction(k, x, y));
    if (found == VS_RAY_PATHS_MAX) {
        return VS_ERR_DOMAIN;
    }
    const vs_ray_path *path = &k->paths.item[found];
    vs_bands veil = vs_bands_grey(0), lux = vs_bands_grey(0), bounced;
    vs_status status = direct_of(k, path, x, y, &veil, &lux);
    if (status == VS_OK) {
        status = vs_frame_bounced(k, &k->worker[0], path, x, y, &ray->indirect, &bounced);
    }
    if (status != VS_OK) {
        return status;
    }
    vs_bands nits = vs_bands_scale(vs_bands_add(lux, bounced), path->reflectance / VS_PI);
    nits = vs_bands_add(nits, vs_frame_own_nits(k, path));
    ray->transmission =
        vs_bands_scale(vs_frame_dimming(k, &k->setup.hazed, path, x, y, &ray->depth_m), path->open);
    ray->veil = vs_bands_add(veil, ray->indirect);
    ray->hazed = vs_bands_add(vs_bands_mul(nits, ray->transmission), ray->veil);
    return VS_OK;
}

/* Whether a pixel is on the list of edges. */
static bool outlined(const vs_frame_kept *k, uint32_t pixel) {
    size_t low = 0, high = k->edge_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (k->edge[middle].pixel < pixel) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low < k->edge_count && k->edge[low].pixel == pixel;
}

/* Whether the edge of a hard shadow may cross a pixel. */
static bool shaded(const vs_frame_kept *k, size_t x, size_t y) {
    for (size_t i = 0; i < k->scene->light_count; i++) {
        const vs_emitter *e = &k->predictor->clear_light[i];
        bool hard = e->kind == VS_EMITTER_POINT || e->kind == VS_EMITTER_PARALLEL;
        if (hard && vs_bands_luminance(e->strength) > 0 &&
            vs_lines_cross(&k->shadow[i], (double)x, (double)y, 0)) {
            return true;
        }
    }
    return false;
}

bool vs_frame_on_edge(const vs_frame *frame, size_t x, size_t y) {
    const vs_frame_kept *k = frame->kept;
    return outlined(k, (uint32_t)(y * k->width + x)) || shaded(k, x, y);
}

bool vs_frame_pixel_of(const vs_frame *frame, vs_vec3 place_m, double *x, double *y) {
    const vs_frame_kept *k = frame->kept;
    double across, up;
    if (!vs_view_place(&k->view, place_m, &across, &up)) {
        return false;
    }
    *x = (across + 1) / 2 * (double)k->width;
    *y = (1 - up) / 2 * (double)k->height;
    return fabs(across) <= 1 && fabs(up) <= 1;
}
