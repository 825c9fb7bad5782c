/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A frame: opened once, looked through in one haze after another. What is worked out at one place
 * hangs on nothing that was asked before, so that pictures repeat to the last bit. */
#include "veilstop/picture/frame.h"
#include "veilstop/light/illuminance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"

/* [1] of what is seen and the camera's floor: a seventieth of a stop */
#define TOLERANCE_FINE   0.01
#define TOLERANCE_COARSE 0.1  /* [1] of grey */
#define ROWS             16   /* of a job of finishing */
#define RAY_RELATIVE     1e-5 /* [1] tolerance of light on surfaces, of one ray asked for */
#define PLANES           6 /* of three bands: hazed, transmission, veil, indirect, lux, bounced */

static void each_plain(void *self, size_t count,
                       void (*job)(void *context, size_t worker, size_t i), void *context) {
    (void)self;
    for (size_t i = 0; i < count; i++) {
        job(context, 0, i);
    }
}

vs_frame_runner vs_frame_runner_plain(void) {
    vs_frame_runner runner = {each_plain, NULL, 1};
    return runner;
}

/* The largest part of the sensor about its middle with the picture's shape. */
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
    vs_frame_plane *plane[PLANES] = {&k->layers.hazed, &k->layers.transmission,
                                     &k->layers.veil,  &k->layers.indirect,
                                     &k->lux,          &k->bounced_lux};
    for (size_t p = 0; p < PLANES; p++) {
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
    k->worker = calloc(k->runner->workers, sizeof *k->worker);
    vs_status status = k->worker ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < k->runner->workers && status == VS_OK; i++) {
        vs_frame_worker *w = &k->worker[i];
        status = vs_airlight_init(&w->work);
        w->ray = malloc(VS_FRAME_BATCH * sizeof *w->ray);
        if (status == VS_OK) {
            status = w->ray ? vs_cells_init(&w->cells, VS_FRAME_PART_CELLS_X * k->grid.cell,
                                            VS_FRAME_PART_CELLS_Y * k->grid.cell)
                            : VS_ERR_MEMORY;
        }
    }
    return status;
}

static vs_status make_memory(vs_frame_kept *k) {
    size_t pixels = k->width * k->height, lights = k->scene->light_count;
    size_t cells = vs_frame_cells_across(k) * vs_frame_cells_down(k);
    k->memory = calloc(pixels, (VS_BAND_COUNT * PLANES + 1) * sizeof(float));
    k->node_veil = calloc(lights * vs_frame_node_count(k) + 1, VS_BAND_COUNT * sizeof(float));
    k->node_lux = calloc(lights * vs_frame_node_count(k) + 1, VS_BAND_COUNT * sizeof(float));
    k->tolerance = calloc(cells, sizeof(float));
    k->tolerance_mixed = calloc(cells, sizeof(float));
    k->once = calloc(lights + 1, sizeof *k->once);
    k->direct = calloc(lights + 1, sizeof *k->direct);
    k->share = calloc(lights + 1, sizeof *k->share);
    k->edge_mean = calloc(k->edge_count + 1, sizeof(float));
    if (!k->memory || !k->node_veil || !k->node_lux || !k->tolerance || !k->tolerance_mixed ||
        !k->once || !k->direct || !k->share || !k->edge_mean) {
        return VS_ERR_MEMORY;
    }
    cut_planes(k);
    vs_status status = vs_cells_init(&k->wide, k->grid.across - 1, k->grid.down - 1);
    return status == VS_OK ? make_workers(k) : status;
}

/* The lights in clear air, for what does not hang on the haze. */
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
                        size_t height, const vs_frame_runner *runner) {
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
    k->runner = runner;
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
        status = make_memory(k);
    }
    if (status != VS_OK) {
        vs_frame_close(frame);
    }
    return status;
}

static void free_workers(vs_frame_kept *k) {
    for (size_t i = 0; k->worker && i < k->runner->workers; i++) {
        vs_airlight_free(&k->worker[i].work);
        vs_cells_free(&k->worker[i].cells);
        free(k->worker[i].ray);
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
    vs_seen_free(&k->lines);
    vs_seen_free(&k->places);
    free(k->ways.item);
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
    free(k->once);
    free(k->direct);
    free(k->share);
    free(k->memory);
    free(k->by_light);
    free(k->layers.veil_by_light);
    free(k);
    frame->kept = NULL;
}

/* ---- looking ---- */

static bool shines(const vs_frame_kept *k, size_t light) {
    return vs_bands_luminance(k->predictor->hazed_light[light].strength) > 0;
}

static vs_status take_haze(vs_frame_kept *k, const double *room_extinction_per_m) {
    k->hazed_air = false;
    for (size_t r = 0; r < k->scene->room_count; r++) {
        if (!(room_extinction_per_m[r] >= 0 && isfinite(room_extinction_per_m[r]))) {
            return VS_ERR_DOMAIN;
        }
        k->room_extinction_per_m[r] = room_extinction_per_m[r];
        k->hazed_air = k->hazed_air || room_extinction_per_m[r] > 0;
    }
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

static size_t node_jobs(const vs_frame_kept *k) {
    return (vs_frame_node_count(k) + VS_FRAME_BATCH - 1) / VS_FRAME_BATCH;
}

/* The bounce is solved beside the first samples of every light. */
static void first_job(void *context, size_t worker, size_t i) {
    vs_frame_kept *k = context;
    vs_frame_worker *w = &k->worker[worker];
    if (i == 0) {
        vs_predictor *p = k->predictor;
        if (k->scene->indirect == VS_INDIRECT_COMPUTED) {
            vs_bounce_free(&p->hazed_bounce);
            vs_status status = vs_bounce_solve(&p->bounces[p->in_hand], &k->setup.hazed,
                                               p->hazed_light, &p->hazed_bounce);
            w->status = status != VS_OK ? status : w->status;
        }
        return;
    }
    size_t first = (i - 1) * VS_FRAME_BATCH, all = vs_frame_node_count(k);
    size_t count = all - first < VS_FRAME_BATCH ? all - first : VS_FRAME_BATCH;
    for (size_t light = 0; light < k->scene->light_count; light++) {
        if (shines(k, light)) {
            vs_frame_ask_nodes(k, worker, light, first, count);
        }
    }
}

static double luminance_of(const float *value) {
    vs_bands bands = {{(double)value[0], (double)value[1], (double)value[2]}};
    return vs_bands_luminance(bands);
}

/* What is seen at a node, bounced light left out, and the veil of it. */
static double node_nits(const vs_frame_kept *k, size_t x, size_t y, double *veil) {
    size_t across = vs_frame_cells_across(k) + 1, node = y * across + x;
    size_t px = x * k->grid.cell, py = y * k->grid.cell;
    const vs_way *way = vs_frame_way(k, px, py);
    double lux = 0, depth_m;
    *veil = 0;
    for (size_t i = 0; i < k->scene->light_count; i++) {
        if (shines(k, i)) {
            size_t at = (i * vs_frame_node_count(k) + node) * VS_BAND_COUNT;
            *veil += k->hazed_air ? luminance_of(k->node_veil + at) : 0;
            lux += luminance_of(k->node_lux + at);
        }
    }
    double through = vs_bands_luminance(vs_frame_dimming(k, way, (double)px, (double)py, &depth_m));
    return *veil + way->open * through * lux * way->reflectance / VS_PI;
}

static void set_tolerances(vs_frame_kept *k) {
    size_t across = vs_frame_cells_across(k), down = vs_frame_cells_down(k);
    double floor_nits = vs_camera_floor_nits(k->camera);
    for (size_t y = 0; y < down; y++) {
        for (size_t x = 0; x < across; x++) {
            double least = INFINITY, least_veil = INFINITY, veil;
            for (size_t corner = 0; corner < 4; corner++) {
                double nits = node_nits(k, x + (corner & 1), y + (corner >> 1), &veil);
                least = fmin(least, nits);
                least_veil = fmin(least_veil, veil);
            }
            k->tolerance[y * across + x] = (float)(TOLERANCE_FINE * (least + floor_nits));
            k->tolerance_mixed[y * across + x] =
                (float)(TOLERANCE_FINE * (least_veil + floor_nits));
        }
    }
}

/* In a coarse picture all is held against grey. */
static void set_coarse_tolerances(vs_frame_kept *k) {
    size_t cells = vs_frame_cells_across(k) * vs_frame_cells_down(k);
    for (size_t i = 0; i < cells; i++) {
        k->tolerance[i] = k->tolerance_mixed[i] =
            (float)(TOLERANCE_COARSE * vs_camera_grey_nits(k->camera));
    }
}

static size_t part_count(const vs_frame_kept *k) {
    size_t across = (vs_frame_cells_across(k) + VS_FRAME_PART_CELLS_X - 1) / VS_FRAME_PART_CELLS_X;
    return across * ((vs_frame_cells_down(k) + VS_FRAME_PART_CELLS_Y - 1) / VS_FRAME_PART_CELLS_Y);
}

static void second_job(void *context, size_t worker, size_t i) {
    vs_frame_kept *k = context;
    if (i == 0) {
        vs_frame_lay_bounced(k, worker);
        return;
    }
    for (size_t light = 0; light < k->scene->light_count; light++) {
        if (shines(k, light)) {
            vs_frame_lay_light(k, worker, light, i - 1);
        }
    }
}

static void third_job(void *context, size_t worker, size_t i) {
    (void)worker;
    vs_frame_finish_rows(context, i * ROWS, ROWS);
}

static vs_status status_of(vs_frame_kept *k) {
    for (size_t i = 0; i < k->runner->workers; i++) {
        if (k->worker[i].status != VS_OK) {
            return k->worker[i].status;
        }
    }
    return VS_OK;
}

static vs_status work_out(vs_frame_kept *k) {
    const vs_frame_runner *r = k->runner;
    for (size_t i = 0; i < r->workers; i++) {
        k->worker[i].status = VS_OK;
    }
    memset(k->memory, 0, k->width * k->height * (VS_BAND_COUNT * PLANES + 1) * sizeof(float));
    for (size_t i = 0; i < k->ways.count; i++) {
        k->own[i] = vs_frame_own_nits(k, &k->ways.item[i]);
    }
    k->nodes_asked = false;
    bool fine = k->detail == VS_FRAME_FINE; /* else nothing hangs on what the nodes say */
    r->each(r->self, 1 + (fine ? node_jobs(k) : 0), first_job, k);
    k->nodes_asked = fine && k->hazed_air;
    vs_status status = status_of(k);
    if (status == VS_OK) {
        if (fine) {
            set_tolerances(k);
        } else {
            set_coarse_tolerances(k);
        }
        r->each(r->self, 1 + part_count(k), second_job, k);
        status = status_of(k);
    }
    if (status == VS_OK) {
        r->each(r->self, (k->height + ROWS - 1) / ROWS, third_job, k);
        vs_frame_finish_edges(k);
    }
    return status;
}

vs_status vs_frame_look(vs_frame *frame, const double *room_extinction_per_m,
                        vs_frame_detail detail, bool by_light, vs_frame_layers *layers) {
    vs_frame_kept *k = frame->kept;
    const vs_frame_layers blank = {0};
    k->detail = detail;
    vs_status status = take_haze(k, room_extinction_per_m);
    if (status == VS_OK) {
        status = take_by_light(k, by_light);
    }
    if (status == VS_OK) {
        status = work_out(k);
    }
    k->looked = status == VS_OK;
    *layers = status == VS_OK ? k->layers : blank;
    return status;
}

/* ---- one ray ---- */

static vs_status direct_of(vs_frame_kept *k, const vs_way *way, double x, double y, vs_bands *veil,
                           vs_bands *lux) {
    vs_airlight *work = &k->worker[0].work;
    vs_camera_ray ray = vs_frame_sight(k, way, x, y);
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->scene->light_count && status == VS_OK; i++) {
        const vs_emitter *e = &k->predictor->hazed_light[i];
        vs_bands more = vs_bands_grey(0);
        if (!shines(k, i)) {
            continue;
        }
        status = vs_airlight_fast(work, &k->setup.hazed, &ray, e, &more);
        *veil = vs_bands_add(*veil, more);
        if (status == VS_OK && way->reflectance > 0) {
            status =
                vs_illuminance(&work->sources, &k->setup.hazed, e,
                               vs_frame_surface_at(k, way, x, y), way->normal, RAY_RELATIVE, &more);
            *lux = vs_bands_add(*lux, more);
        }
    }
    return status;
}

vs_status vs_frame_ask(vs_frame *frame, double x, double y, vs_frame_ray *ray) {
    vs_frame_kept *k = frame->kept;
    const vs_frame_ray blank = {0};
    *ray = blank;
    if (!k->looked || !(x >= 0 && x <= (double)k->width && y >= 0 && y <= (double)k->height)) {
        return VS_ERR_DOMAIN;
    }
    x -= 0.5;
    y -= 0.5;
    size_t found = vs_ways_find(&k->ways, vs_frame_direction(k, x, y));
    if (found == VS_WAYS_MAX) {
        return VS_ERR_DOMAIN;
    }
    const vs_way *way = &k->ways.item[found];
    vs_bands veil = vs_bands_grey(0), lux = vs_bands_grey(0), bounced;
    vs_status status = direct_of(k, way, x, y, &veil, &lux);
    if (status == VS_OK) {
        status = vs_frame_bounced(k, &k->worker[0].work, way, x, y, &ray->indirect, &bounced);
    }
    if (status != VS_OK) {
        return status;
    }
    vs_bands nits = vs_bands_scale(vs_bands_add(lux, bounced), way->reflectance / VS_PI);
    nits = vs_bands_add(nits, vs_frame_own_nits(k, way));
    ray->transmission = vs_bands_scale(vs_frame_dimming(k, way, x, y, &ray->depth_m), way->open);
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
