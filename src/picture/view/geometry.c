/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What each pixel sees: squares that no outline crosses as a whole, the others ray by ray; then
 * pixels crossed by an edge, with eight rays each. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"

#define CELLS_ACROSS 20 /* approximate number of first cells: our choice */
#define CELL_MIN     16 /* [pixels] */
#define CELL_MAX     128
#define SQUARE_LEAST 4 /* [pixels] smaller squares go ray by ray */
#define NEIGHBOURS   2 /* [pixels] how far a ray's twin is sought: a pixel that sees the same */

static size_t cell_of(size_t width) {
    size_t cell = CELL_MIN;
    while (cell < CELL_MAX && width / cell > CELLS_ACROSS * 3 / 2) {
        cell *= 2;
    }
    return cell;
}

static void make_grid(vs_frame_kept *k) {
    size_t cell = cell_of(k->width);
    k->grid.width = k->width;
    k->grid.height = k->height;
    k->grid.cell = cell;
    size_t whole = VS_FRAME_BOUNCE_CELLS * cell; /* bounced light starts with cells this large */
    k->grid.across = (k->width + whole - 1) / whole * whole + 1;
    k->grid.down = (k->height + whole - 1) / whole * whole + 1;
    vs_lines_frame f = {
        k->view, k->width, k->height, cell, vs_frame_cells_across(k), vs_frame_cells_down(k)};
    k->lines_frame = f;
}

static uint16_t *label_of(vs_frame_kept *k, size_t x, size_t y) {
    return &k->label[y * k->grid.across + x];
}

#define UNSEEN UINT16_MAX

static bool look_at(vs_frame_kept *k, size_t x, size_t y) {
    uint16_t *label = label_of(k, x, y);
    if (*label == UNSEEN) {
        size_t path = vs_ray_paths_find(&k->paths, vs_frame_direction(k, (double)x, (double)y));
        if (path == VS_RAY_PATHS_MAX) {
            return false;
        }
        *label = (uint16_t)path;
    }
    return true;
}

/* Labels of a square and its closing row and column. */
static bool label_square(vs_frame_kept *k, size_t x, size_t y, size_t side) {
    bool crossed = vs_lines_cross(&k->outline, (double)x, (double)y, (double)side);
    if (crossed && side > SQUARE_LEAST) {
        size_t h = side / 2;
        return label_square(k, x, y, h) && label_square(k, x + h, y, h) &&
               label_square(k, x, y + h, h) && label_square(k, x + h, y + h, h);
    }
    size_t step = crossed ? 1 : side;
    for (size_t j = 0; j <= side; j += step) {
        for (size_t i = 0; i <= side; i += step) {
            if (!look_at(k, x + i, y + j)) {
                return false;
            }
        }
    }
    uint16_t label = *label_of(k, x, y);
    bool one = label == *label_of(k, x + side, y) && label == *label_of(k, x, y + side) &&
               label == *label_of(k, x + side, y + side);
    for (size_t j = 0; j <= side && !crossed; j++) {
        for (size_t i = 0; i <= side; i++) {
            if (one && *label_of(k, x + i, y + j) == UNSEEN) {
                *label_of(k, x + i, y + j) = label;
            } else if (!look_at(k, x + i, y + j)) {
                return false;
            }
        }
    }
    return true;
}

static vs_status label_all(vs_frame_kept *k) {
    size_t cell = k->grid.cell;
    memset(k->label, 0xff, k->grid.across * k->grid.down * sizeof *k->label);
    for (size_t y = 0; y + 1 < k->grid.down; y += cell) {
        for (size_t x = 0; x + 1 < k->grid.across; x += cell) {
            if (!label_square(k, x, y, cell)) {
                return VS_ERR_DOMAIN;
            }
        }
    }
    return VS_OK;
}

static bool edge_at(const vs_frame_kept *k, size_t x, size_t y) {
    const uint16_t *at = &k->label[y * k->grid.across + x];
    return (x > 0 && at[-1] != *at) || (y > 0 && at[-(ptrdiff_t)k->grid.across] != *at) ||
           at[1] != *at || at[k->grid.across] != *at;
}

/* The pixel nearest to a ray that sees the same as the ray. */
static void find_twin(const vs_frame_kept *k, size_t x, size_t y, double dx, double dy,
                      vs_frame_edge *edge, int ray) {
    size_t path =
        vs_ray_paths_known(&k->paths, vs_frame_direction(k, (double)x + dx, (double)y + dy));
    double best = INFINITY;
    edge->dx[ray] = edge->dy[ray] = VS_FRAME_NO_RAY;
    for (int j = -NEIGHBOURS; j <= NEIGHBOURS && path < VS_RAY_PATHS_MAX; j++) {
        for (int i = -NEIGHBOURS; i <= NEIGHBOURS; i++) {
            ptrdiff_t px = (ptrdiff_t)x + i, py = (ptrdiff_t)y + j;
            double off = (i - dx) * (i - dx) + (j - dy) * (j - dy);
            if (px < 0 || py < 0 || px >= (ptrdiff_t)k->width || py >= (ptrdiff_t)k->height ||
                off >= best || k->label[(size_t)py * k->grid.across + (size_t)px] != path) {
                continue;
            }
            best = off;
            edge->dx[ray] = (int8_t)i;
            edge->dy[ray] = (int8_t)j;
        }
    }
}

/* Positions of eight rays in a pixel: no two in one row or column of eighths. */
static const double ray_x[VS_FRAME_RAYS] = {1, -1, 5, -3, -5, -7, 3, 7};
static const double ray_y[VS_FRAME_RAYS] = {-3, 3, 1, -5, 5, -1, 7, -7};

static void split_pixel(void *context, size_t worker, size_t i) {
    vs_frame_kept *k = context;
    (void)worker;
    size_t last = (i + 1) * VS_FRAME_BATCH;
    for (size_t e = i * VS_FRAME_BATCH; e < k->edge_count && e < last; e++) {
        vs_frame_edge *edge = &k->edge[e];
        for (int ray = 0; ray < VS_FRAME_RAYS; ray++) {
            find_twin(k, edge->pixel % k->width, edge->pixel / k->width, ray_x[ray] / 16,
                      ray_y[ray] / 16, edge, ray);
        }
    }
}

static vs_status list_edges(vs_frame_kept *k) {
    size_t size = 1;
    for (size_t y = 0; y < k->height; y++) {
        for (size_t x = 0; x < k->width; x++) {
            size += edge_at(k, x, y);
        }
    }
    k->edge = calloc(size, sizeof *k->edge);
    if (!k->edge) {
        return VS_ERR_MEMORY;
    }
    for (size_t y = 0; y < k->height; y++) {
        for (size_t x = 0; x < k->width; x++) {
            if (edge_at(k, x, y)) {
                k->edge[k->edge_count++].pixel = (uint32_t)(y * k->width + x);
            }
        }
    }
    k->runner->each(k->runner->context, (k->edge_count + VS_FRAME_BATCH - 1) / VS_FRAME_BATCH,
                    split_pixel, k);
    return VS_OK;
}

static vs_status kinds(vs_frame_kept *k) {
    size_t count = k->paths.count;
    k->group_kind = calloc(count, sizeof *k->group_kind);
    k->own_kind = calloc(count, sizeof *k->own_kind);
    k->air_kind = calloc(count, sizeof *k->air_kind);
    k->veil_scale = calloc(count, sizeof *k->veil_scale);
    k->lux_scale = calloc(count, sizeof *k->lux_scale);
    k->own = calloc(VS_RAY_PATHS_MAX, sizeof *k->own);
    if (!k->group_kind || !k->own_kind || !k->air_kind || !k->veil_scale || !k->lux_scale ||
        !k->own) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        double reflectance = k->paths.item[i].reflectance;
        k->group_kind[i] = k->paths.item[i].group;
        k->air_kind[i] = k->paths.item[i].air;
        k->own_kind[i] = (uint16_t)i;
        k->veil_scale[i] = 1;
        k->lux_scale[i] = reflectance > 0 ? (float)(VS_PI / reflectance) : 0;
    }
    return VS_OK;
}

/* The label of each cell of the grid that is of one kind, closing row and column included. */
static vs_status wholes(const vs_frame_kept *k, const uint16_t *kind, uint16_t **whole) {
    size_t across = vs_frame_cells_across(k), down = vs_frame_cells_down(k), cell = k->grid.cell;
    *whole = calloc(across * down, sizeof **whole);
    if (!*whole) {
        return VS_ERR_MEMORY;
    }
    for (size_t at = 0; at < across * down; at++) {
        const uint16_t *first = k->label + at / across * cell * k->grid.across + at % across * cell;
        (*whole)[at] = *first;
        for (size_t j = 0; j <= cell; j++) {
            for (size_t i = 0; i <= cell; i++) {
                if (kind[first[j * k->grid.across + i]] != kind[*first]) {
                    (*whole)[at] = VS_CELLS_MIXED;
                }
            }
        }
    }
    return VS_OK;
}

/* Lines of each light that shines. */
static vs_status light_lines(vs_frame_kept *k) {
    size_t count = k->scene->light_count;
    k->shaft = calloc(count + 1, sizeof *k->shaft);
    k->shadow = calloc(count + 1, sizeof *k->shadow);
    if (!k->shaft || !k->shadow) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        const vs_emitter *e = &k->predictor->clear_light[i];
        vs_lines_begin(&k->shaft[i], &k->lines_frame);
        vs_lines_begin(&k->shadow[i], &k->lines_frame);
        if (vs_bands_luminance(e->strength) > 0) {
            vs_lines_add_shafts(&k->shaft[i], &k->lines_frame, k->predictor->geometry, e);
            vs_lines_add_shadows(&k->shadow[i], &k->lines_frame, k->predictor->geometry, e);
        }
        vs_status status = vs_lines_end(&k->shaft[i]);
        if (status == VS_OK) {
            status = vs_lines_end(&k->shadow[i]);
        }
        if (status != VS_OK) {
            return status;
        }
    }
    return VS_OK;
}

vs_status vs_frame_geometry(vs_frame_kept *k) {
    make_grid(k);
    k->label = malloc(k->grid.across * k->grid.down * sizeof *k->label);
    k->grid.label = k->label;
    k->paths.geometry = k->predictor->geometry;
    k->paths.bodies = &k->bodies;
    k->paths.view = k->view;
    k->paths.clear = k->setup.clear;
    k->paths.item = calloc(VS_RAY_PATHS_MAX, sizeof *k->paths.item);
    if (!k->label || !k->paths.item) {
        return VS_ERR_MEMORY;
    }
    double pixel = 2 * k->view.half_width / (double)k->width;
    vs_status status = vs_bodies_init(&k->bodies, k->predictor->geometry, k->shot,
                                      k->predictor->clear_light, &k->view, pixel);
    vs_lines_begin(&k->outline, &k->lines_frame);
    if (status == VS_OK) {
        vs_lines_add_outlines(&k->outline, &k->lines_frame, k->predictor->geometry, &k->bodies);
        status = vs_lines_end(&k->outline);
    }
    if (status == VS_OK) {
        status = label_all(k);
    }
    if (status == VS_OK) {
        status = kinds(k);
    }
    if (status == VS_OK) {
        status = wholes(k, k->group_kind, &k->group_whole);
    }
    if (status == VS_OK) {
        status = wholes(k, k->own_kind, &k->own_whole);
    }
    if (status == VS_OK) {
        status = wholes(k, k->air_kind, &k->air_whole);
    }
    if (status == VS_OK) {
        status = list_edges(k);
    }
    return status == VS_OK ? light_lines(k) : status;
}
