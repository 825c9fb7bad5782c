/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The quantities that are laid over the picture: each light's veil and its light on surfaces, and
 * bounced light. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"

#define RELATIVE 0.015 /* [1] of a quantity itself: in what is seen it counts no more */
/* parts of a first cell of the grid that cells are no larger than */
#define SHAFT_PARTS   8   /* which an edge of a shaft crosses */
#define COARSE_PARTS  4   /* in a coarse picture */
#define SOFT_PARTS    8   /* in a penumbra */
#define BEAM_SHARE    0.5 /* [1] of a beam's radius: cells in it are no larger */
#define SOURCE_MARGIN 0.5 /* [1] of a cell: a lamp this near counts as in it */

vs_camera_ray vs_frame_sight(const vs_frame_kept *k, const vs_way *way, double x, double y) {
    vs_vec3 direction = vs_frame_direction(k, x, y);
    double stretch = vs_vec3_length(direction), length_m = INFINITY;
    if (way->end == VS_WAY_BODY) {
        length_m = stretch * vs_way_at(&way->at[way->crossing_count], k->view.at_m, direction);
    }
    return vs_camera_ray_along(&k->setup.hazed, k->view.at_m, vs_vec3_scale(direction, 1 / stretch),
                               length_m);
}

vs_vec3 vs_frame_surface_at(const vs_frame_kept *k, const vs_way *way, double x, double y) {
    vs_vec3 direction = vs_frame_direction(k, x, y);
    double t = vs_way_at(&way->at[way->crossing_count], k->view.at_m, direction);
    return vs_vec3_along(k->view.at_m, direction, t);
}

/* Optical depth at 549 nm to what is seen. */
static double depth_of(const vs_frame_kept *k, const vs_way *way, double x, double y,
                       double *depth_m) {
    vs_vec3 direction = vs_frame_direction(k, x, y);
    double before_m = 0, depth = 0;
    for (size_t i = 0; i <= way->crossing_count; i++) {
        double at_m = vs_way_at(&way->at[i], k->view.at_m, direction);
        depth += (at_m - before_m) * vs_medium_extinction_per_m(&k->setup.hazed, way->room[i]);
        before_m = at_m;
    }
    *depth_m = way->end == VS_WAY_OUTSIDE ? (double)INFINITY : before_m;
    return depth * vs_vec3_length(direction);
}

vs_bands vs_frame_dimming(const vs_frame_kept *k, const vs_way *way, double x, double y,
                          double *depth_m) {
    return vs_medium_transmission(&k->setup.hazed, depth_of(k, way, x, y, depth_m));
}

/* ---- one light ---- */

typedef struct {
    vs_frame_kept *k;
    vs_frame_worker *w;
    size_t light;
    const vs_emitter *emitter;
} asker;

static void ask_veil(void *context, const vs_cells_place *place, size_t count,
                     float (*value)[VS_CELLS_CHANNELS]) {
    const asker *a = context;
    vs_bands nits[VS_FRAME_BATCH];
    for (size_t first = 0; first < count; first += VS_FRAME_BATCH) {
        size_t n = count - first < VS_FRAME_BATCH ? count - first : VS_FRAME_BATCH;
        for (size_t i = 0; i < n; i++) {
            const vs_cells_place *p = &place[first + i];
            a->w->ray[i] = vs_frame_sight(a->k, vs_frame_way(a->k, p->x, p->y), p->x, p->y);
        }
        vs_frame_note(a->w, vs_airlight_fast_many(&a->w->work, &a->k->setup.hazed, a->emitter,
                                                  a->w->ray, n, nits));
        for (size_t i = 0; i < n; i++) {
            vs_frame_store(nits[i], value[first + i]);
        }
    }
}

static vs_bands lux_at(const asker *a, const vs_way *way, double x, double y) {
    vs_bands lux = vs_bands_grey(0);
    if (way->reflectance > 0) {
        vs_frame_note(a->w, vs_illuminance(&a->w->work.sources, &a->k->setup.hazed, a->emitter,
                                           vs_frame_surface_at(a->k, way, x, y), way->normal,
                                           VS_FRAME_LUX_RELATIVE, &lux));
    }
    return lux;
}

static void ask_lux(void *context, const vs_cells_place *place, size_t count,
                    float (*value)[VS_CELLS_CHANNELS]) {
    const asker *a = context;
    for (size_t i = 0; i < count; i++) {
        const vs_way *way = vs_frame_way(a->k, place[i].x, place[i].y);
        vs_frame_store(lux_at(a, way, place[i].x, place[i].y), value[i]);
    }
}

/* The mean of four rays through a pixel that a shadow's edge crosses. */
static void ask_lux_spread(void *context, const vs_cells_place *place, size_t count,
                           float (*value)[VS_CELLS_CHANNELS]) {
    static const double dx[] = {0.125, 0.375, -0.125, -0.375},
                        dy[] = {-0.375, 0.125, 0.375, -0.125};
    const asker *a = context;
    for (size_t i = 0; i < count; i++) {
        const vs_way *way = vs_frame_way(a->k, place[i].x, place[i].y);
        vs_bands sum = vs_bands_grey(0);
        for (int ray = 0; ray < 4; ray++) {
            sum = vs_bands_add(sum, lux_at(a, way, place[i].x + dx[ray], place[i].y + dy[ray]));
        }
        vs_frame_store(vs_bands_scale(sum, 0.25), value[i]);
    }
}

static void place_of(const vs_frame_kept *k, vs_vec3 p_m, double *x, double *y) {
    double across, up;
    if (!vs_view_place(&k->view, p_m, &across, &up)) {
        *x = *y = NAN;
        return;
    }
    *x = (across + 1) / 2 * (double)k->width - 0.5;
    *y = (1 - up) / 2 * (double)k->height - 0.5;
}

/* Whether a lamp is in a cell or close by. */
static bool source_in(const asker *a, double x, double y, double side) {
    double sx, sy, margin = side * SOURCE_MARGIN;
    place_of(a->k, a->emitter->at_m, &sx, &sy);
    return sx >= x - margin && sx <= x + side + margin && sy >= y - margin &&
           sy <= y + side + margin;
}

/* Whether a cell is too wide for the beam that it looks through: the nearest places of the cell's
 * middle ray and the beam's axis. */
static bool wide_for_beam(const asker *a, double x, double y, double side) {
    const vs_emitter *e = a->emitter;
    vs_vec3 ray = vs_frame_direction(a->k, x + side / 2, y + side / 2);
    vs_vec3 off_m = vs_vec3_sub(a->k->view.at_m, e->at_m);
    double rr = vs_vec3_dot(ray, ray), ra = vs_vec3_dot(ray, e->axis);
    double d = vs_vec3_dot(ray, off_m), s = vs_vec3_dot(e->axis, off_m);
    double below = rr - ra * ra;
    double axis_m = below > 1e-9 * rr ? (rr * s - ra * d) / below : 0;
    axis_m = fmax(axis_m, 0);
    double t = (ra * axis_m - d) / rr;
    if (t <= 0) {
        return false;
    }
    vs_vec3 apart = vs_vec3_sub(vs_vec3_along(off_m, ray, t), vs_vec3_scale(e->axis, axis_m));
    double pixel_m = 2 * a->k->view.half_width / (double)a->k->width * t, cell_m = side * pixel_m;
    double far_m = axis_m * tan(fmin(e->spot.cutoff_rad, 1.5));
    return vs_vec3_length(apart) <= far_m + cell_m &&
           cell_m > BEAM_SHARE * axis_m * tan(fmin(e->spot.half_rad, 1.5));
}

static bool veil_is_fine(void *context, double x, double y, double side) {
    const asker *a = context;
    if (a->emitter->kind != VS_EMITTER_POINT) {
        return false;
    }
    return (side > 1 && source_in(a, x, y, side)) ||
           (a->emitter->profile == VS_PROFILE_SPOT && wide_for_beam(a, x, y, side));
}

/* Whether a cell on a surface is too wide for the patch of light that a spot throws there. */
static bool lux_is_fine(void *context, double x, double y, double side) {
    const asker *a = context;
    const vs_emitter *e = a->emitter;
    if (e->kind != VS_EMITTER_POINT || e->profile != VS_PROFILE_SPOT) {
        return false;
    }
    const vs_way *way = vs_frame_way(a->k, (size_t)(x + side / 2), (size_t)(y + side / 2));
    vs_vec3 p = vs_vec3_sub(vs_frame_surface_at(a->k, way, x, y), e->at_m);
    vs_vec3 q = vs_vec3_sub(vs_frame_surface_at(a->k, way, x + side, y + side), e->at_m);
    double wide_rad = acos(fmin(1, vs_vec3_dot(vs_vec3_unit(p), vs_vec3_unit(q))));
    double off_rad = acos(fmin(1, fmax(-1, vs_vec3_dot(vs_vec3_unit(vs_vec3_add(p, q)), e->axis))));
    return off_rad <= e->spot.cutoff_rad + wide_rad && wide_rad > BEAM_SHARE * e->spot.half_rad;
}

/* ---- the grid's nodes ---- */

void vs_frame_ask_nodes(vs_frame_kept *k, size_t worker, size_t light, size_t first, size_t count) {
    asker a = {k, &k->worker[worker], light, &k->predictor->hazed_light[light]};
    vs_cells_place place[VS_FRAME_BATCH];
    for (size_t i = 0; i < count; i++) {
        place[i].x = (uint16_t)((first + i) % vs_frame_nodes_across(k) * k->grid.cell);
        place[i].y = (uint16_t)((first + i) / vs_frame_nodes_across(k) * k->grid.cell);
    }
    float(*veil)[VS_BAND_COUNT] =
        (float(*)[VS_BAND_COUNT])vs_frame_node(k, k->node_veil, light, first);
    float(*lux)[VS_BAND_COUNT] =
        (float(*)[VS_BAND_COUNT])vs_frame_node(k, k->node_lux, light, first);
    if (k->hazed_air) {
        ask_veil(&a, place, count, veil);
    }
    ask_lux(&a, place, count, lux);
}

static void know_nodes(const vs_frame_kept *k, vs_cells *cells, float *of, size_t light, size_t x,
                       size_t y, size_t across, size_t down) {
    size_t cell = k->grid.cell;
    for (size_t j = 0; j <= down; j++) {
        for (size_t i = 0; i <= across; i++) {
            size_t node = (y / cell + j) * vs_frame_nodes_across(k) + x / cell + i;
            vs_cells_know(cells, i * cell, j * cell, vs_frame_node(k, of, light, node));
        }
    }
}

/* A part of the grid: its cells, and how many pixels they are. */
typedef struct {
    size_t x, y, across, down; /* [cells] */
    size_t cell;               /* [pixels] */
} part_of_grid;

static part_of_grid part_at(const vs_frame_kept *k, size_t part) {
    size_t all_x = vs_frame_cells_across(k), all_y = vs_frame_cells_down(k);
    size_t parts_x = (all_x + VS_FRAME_PART_CELLS_X - 1) / VS_FRAME_PART_CELLS_X;
    part_of_grid p = {part % parts_x * VS_FRAME_PART_CELLS_X,
                      part / parts_x * VS_FRAME_PART_CELLS_Y, VS_FRAME_PART_CELLS_X,
                      VS_FRAME_PART_CELLS_Y, k->grid.cell};
    p.across = all_x - p.x < p.across ? all_x - p.x : p.across;
    p.down = all_y - p.y < p.down ? all_y - p.y : p.down;
    return p;
}

/* Lays a quantity over a part, with what its nodes said where they were asked. */
static void lay(const asker *a, const vs_cells_field *field, const part_of_grid *p, float *nodes,
                size_t start) {
    const vs_frame_kept *k = a->k;
    vs_cells *cells = &a->w->cells;
    vs_cells_begin(cells, p->across * p->cell, p->down * p->cell);
    if (k->detail == VS_FRAME_FINE) {
        know_nodes(k, cells, nodes, a->light, p->x * p->cell, p->y * p->cell, p->across, p->down);
    }
    vs_frame_note(a->w, vs_cells_lay(cells, &k->grid, field, p->x * p->cell, p->y * p->cell,
                                     p->across * p->cell, p->down * p->cell, start));
}

/* In a coarse picture the veil of an area, dear to ask for and smooth, is laid past all edges from
 * cells twice as large; that of a point or a beam, which has edges of its own, down to a quarter. */
static void lay_veil(asker *a, const part_of_grid *p, bool hard) {
    const vs_frame_kept *k = a->k;
    bool coarse = k->detail == VS_FRAME_COARSE, past = coarse && !hard;
    size_t start = past ? VS_FRAME_BOUNCE_CELLS * p->cell : p->cell;
    vs_cells_field veil = {.kind = past ? k->air_kind : k->group_kind,
                           .whole = past ? k->air_whole : k->group_whole,
                           .scale = k->veil_scale,
                           .relative = RELATIVE,
                           .tolerance = k->tolerance,
                           .tolerance_mixed = k->tolerance_mixed,
                           .edge = &k->shaft[a->light],
                           .edge_least = p->cell / SHAFT_PARTS,
                           .fine = veil_is_fine,
                           .ask = ask_veil,
                           .context = a,
                           .least = past     ? start
                                    : coarse ? p->cell / COARSE_PARTS
                                             : 1};
    if (past) {
        veil.edge = NULL;
    }
    vs_frame_into(&veil, &k->layers.veil,
                  k->layers.veil_by_light ? &k->layers.veil_by_light[a->light] : NULL);
    lay(a, &veil, p, k->node_veil, start);
}

static void lay_lux(asker *a, const part_of_grid *p, bool hard) {
    const vs_frame_kept *k = a->k;
    bool coarse = k->detail == VS_FRAME_COARSE;
    vs_cells_field lux = {.kind = k->own_kind,
                          .whole = k->own_whole,
                          .scale = k->lux_scale,
                          .relative = RELATIVE,
                          .tolerance = k->tolerance,
                          .tolerance_mixed = k->tolerance,
                          .edge = &k->shadow[a->light],
                          .edge_least = hard ? 1 : p->cell / SOFT_PARTS,
                          .edge_spread = hard && !coarse,
                          .fine = lux_is_fine,
                          .ask = ask_lux,
                          .ask_spread = ask_lux_spread,
                          .context = a,
                          .least = coarse && !hard ? p->cell / COARSE_PARTS : 1};
    vs_frame_into(&lux, &k->lux, NULL);
    lay(a, &lux, p, k->node_lux, p->cell);
}

void vs_frame_lay_light(vs_frame_kept *k, size_t worker, size_t light, size_t part) {
    asker a = {k, &k->worker[worker], light, &k->predictor->hazed_light[light]};
    part_of_grid p = part_at(k, part);
    bool hard = a.emitter->kind == VS_EMITTER_POINT || a.emitter->kind == VS_EMITTER_PARALLEL;
    if (k->hazed_air) {
        lay_veil(&a, &p, hard);
    }
    lay_lux(&a, &p, hard);
}
