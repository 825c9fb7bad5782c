/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The quantities that are laid over the picture: each light's veil and its light on surfaces, and
 * bounced light. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/light/illuminance.h"

#define RELATIVE         0.015 /* [1] of a quantity itself: in what is seen it counts no more */
#define BOUNCED_RELATIVE 0.02  /* [1] the same for bounced light, which is dear to ask for */
#define LUX_RELATIVE     1e-4  /* [1] tolerance of light on surfaces */
#define SHAFT_LEAST      8     /* [pixels] cells that an edge of a shaft crosses */
#define SOFT_LEAST       4     /* [pixels] cells in a penumbra */
#define BEAM_SHARE       0.5   /* [1] of a beam's radius: cells in it are no larger */
#define SOURCE_MARGIN    0.5   /* [1] of a cell: a lamp this near counts as in it */

#define BOUNCE_LEAST 16   /* [pixels] its smallest cells */
#define FAINT        1e-9 /* [1] of a veil's way: less haze has no colour to tell */

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

static void note(vs_frame_worker *w, vs_status status) {
    if (status != VS_OK && w->status == VS_OK) {
        w->status = status;
    }
}

static void keep_bands(vs_bands bands, float value[VS_BAND_COUNT]) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        value[band] = (float)bands.v[band];
    }
}

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
        note(a->w, vs_airlight_fast_many(&a->w->work, &a->k->setup.hazed, a->emitter, a->w->ray, n,
                                         nits));
        for (size_t i = 0; i < n; i++) {
            keep_bands(nits[i], value[first + i]);
        }
    }
}

static vs_bands lux_at(const asker *a, const vs_way *way, double x, double y) {
    vs_bands lux = vs_bands_grey(0);
    if (way->reflectance > 0) {
        note(a->w,
             vs_illuminance(&a->w->work.sources, &a->k->setup.hazed, a->emitter,
                            vs_frame_surface_at(a->k, way, x, y), way->normal, LUX_RELATIVE, &lux));
    }
    return lux;
}

static void ask_lux(void *context, const vs_cells_place *place, size_t count,
                    float (*value)[VS_CELLS_CHANNELS]) {
    const asker *a = context;
    for (size_t i = 0; i < count; i++) {
        const vs_way *way = vs_frame_way(a->k, place[i].x, place[i].y);
        keep_bands(lux_at(a, way, place[i].x, place[i].y), value[i]);
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
        keep_bands(vs_bands_scale(sum, 0.25), value[i]);
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

static size_t nodes_across(const vs_frame_kept *k) {
    return vs_frame_cells_across(k) + 1;
}

static size_t node_count(const vs_frame_kept *k) {
    return nodes_across(k) * (vs_frame_cells_down(k) + 1);
}

static float *node_value(const vs_frame_kept *k, float *of, size_t light, size_t node) {
    return of + (light * node_count(k) + node) * VS_BAND_COUNT;
}

void vs_frame_ask_nodes(vs_frame_kept *k, size_t worker, size_t light, size_t first, size_t count) {
    asker a = {k, &k->worker[worker], light, &k->predictor->hazed_light[light]};
    vs_cells_place place[VS_FRAME_BATCH];
    for (size_t i = 0; i < count; i++) {
        place[i].x = (uint16_t)((first + i) % nodes_across(k) * k->grid.cell);
        place[i].y = (uint16_t)((first + i) / nodes_across(k) * k->grid.cell);
    }
    float(*veil)[VS_BAND_COUNT] =
        (float(*)[VS_BAND_COUNT])node_value(k, k->node_veil, light, first);
    float(*lux)[VS_BAND_COUNT] = (float(*)[VS_BAND_COUNT])node_value(k, k->node_lux, light, first);
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
            size_t node = (y / cell + j) * nodes_across(k) + x / cell + i;
            vs_cells_know(cells, i * cell, j * cell, node_value(k, of, light, node));
        }
    }
}

static void into_planes(vs_cells_field *field, const vs_frame_plane *first,
                        const vs_frame_plane *second) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        field->into[0][band] = first->band[band];
        field->into[1][band] = second ? second->band[band] : NULL;
    }
}

void vs_frame_lay_light(vs_frame_kept *k, size_t worker, size_t light, size_t part) {
    vs_frame_worker *w = &k->worker[worker];
    asker a = {k, w, light, &k->predictor->hazed_light[light]};
    size_t cell = k->grid.cell, all_x = vs_frame_cells_across(k), all_y = vs_frame_cells_down(k);
    size_t parts_x = (all_x + VS_FRAME_PART_CELLS_X - 1) / VS_FRAME_PART_CELLS_X;
    size_t cx = part % parts_x * VS_FRAME_PART_CELLS_X, cy = part / parts_x * VS_FRAME_PART_CELLS_Y;
    size_t across = all_x - cx < VS_FRAME_PART_CELLS_X ? all_x - cx : VS_FRAME_PART_CELLS_X;
    size_t down = all_y - cy < VS_FRAME_PART_CELLS_Y ? all_y - cy : VS_FRAME_PART_CELLS_Y;
    bool hard = a.emitter->kind == VS_EMITTER_POINT || a.emitter->kind == VS_EMITTER_PARALLEL;
    size_t least = k->detail == VS_FRAME_COARSE ? cell : 1;
    vs_cells_field veil = {.kind = k->group_kind,
                           .scale = k->veil_scale,
                           .relative = RELATIVE,
                           .tolerance = k->tolerance,
                           .tolerance_mixed = k->tolerance_mixed,
                           .edge = &k->shaft[light],
                           .edge_least = SHAFT_LEAST,
                           .fine = veil_is_fine,
                           .ask = ask_veil,
                           .context = &a,
                           .least = least};
    vs_cells_field lux = {.kind = k->own_kind,
                          .scale = k->lux_scale,
                          .relative = RELATIVE,
                          .tolerance = k->tolerance,
                          .tolerance_mixed = k->tolerance,
                          .edge = &k->shadow[light],
                          .edge_least = hard ? 1 : SOFT_LEAST,
                          .edge_spread = hard,
                          .fine = lux_is_fine,
                          .ask = ask_lux,
                          .ask_spread = ask_lux_spread,
                          .context = &a,
                          .least = least};
    if (k->hazed_air) {
        into_planes(&veil, &k->layers.veil,
                    k->layers.veil_by_light ? &k->layers.veil_by_light[light] : NULL);
        vs_cells_begin(&w->cells, across * cell, down * cell);
        know_nodes(k, &w->cells, k->node_veil, light, cx * cell, cy * cell, across, down);
        note(w, vs_cells_lay(&w->cells, &k->grid, &veil, cx * cell, cy * cell, across * cell,
                             down * cell, cell));
    }
    into_planes(&lux, &k->lux, NULL);
    vs_cells_begin(&w->cells, across * cell, down * cell);
    know_nodes(k, &w->cells, k->node_lux, light, cx * cell, cy * cell, across, down);
    note(w, vs_cells_lay(&w->cells, &k->grid, &lux, cx * cell, cy * cell, across * cell,
                         down * cell, cell));
}

/* ---- bounced light ---- */

static bool computed(const vs_frame_kept *k) {
    return k->scene->indirect == VS_INDIRECT_COMPUTED;
}

/* Once-scattered light of one light at a node of the grid, where it was asked for already. */
static bool once_known(const vs_frame_kept *k, size_t light, double x, double y, vs_bands *once) {
    double cell = (double)k->grid.cell, i = x / cell, j = y / cell;
    if (!k->nodes_asked || i != floor(i) || j != floor(j)) {
        return false;
    }
    size_t node = (size_t)j * nodes_across(k) + (size_t)i;
    const float *value = node_value(k, k->node_veil, light, node);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        once->v[band] = (double)value[band];
    }
    return true;
}

static vs_status veil_bounced(vs_frame_kept *k, vs_airlight *work, const vs_camera_ray *ray,
                              double x, double y, vs_bands *veil) {
    double everywhere = k->scene->indirect == VS_INDIRECT_NITS ? k->scene->indirect_nits : 0;
    vs_status status = VS_OK;
    *veil = vs_airlight_ambient(&k->setup.hazed, ray, everywhere);
    for (size_t i = 0; i < k->scene->light_count && computed(k) && status == VS_OK; i++) {
        const vs_emitter *e = &k->predictor->hazed_light[i];
        k->once[i] = vs_bands_grey(0);
        if (vs_bands_luminance(e->strength) > 0 && !once_known(k, i, x, y, &k->once[i])) {
            status = vs_airlight_fast(work, &k->setup.hazed, ray, e, &k->once[i]);
        }
    }
    if (computed(k) && status == VS_OK) {
        status =
            vs_bounce_veil(&k->predictor->hazed_bounce, &k->setup.hazed, ray, k->once, k->share);
    }
    for (size_t i = 0; i < k->scene->light_count && computed(k) && status == VS_OK; i++) {
        *veil = vs_bands_add(*veil, k->share[i]);
    }
    return status;
}

static vs_status lux_bounced(vs_frame_kept *k, vs_airlight *work, vs_vec3 p_m, vs_vec3 normal,
                             vs_bands *lux) {
    double everywhere = k->scene->indirect == VS_INDIRECT_NITS ? k->scene->indirect_nits : 0;
    vs_status status = VS_OK;
    *lux = vs_bands_grey(VS_PI * everywhere);
    for (size_t i = 0; i < k->scene->light_count && computed(k) && status == VS_OK; i++) {
        const vs_emitter *e = &k->predictor->hazed_light[i];
        k->direct[i] = vs_bands_grey(0);
        if (vs_bands_luminance(e->strength) > 0 && k->hazed_air) {
            status = vs_illuminance(&work->sources, &k->setup.hazed, e, p_m, normal, LUX_RELATIVE,
                                    &k->direct[i]);
        }
    }
    if (computed(k) && status == VS_OK) {
        status = vs_bounce_lux(&k->predictor->hazed_bounce, &k->setup.hazed, p_m, normal,
                               k->hazed_air ? k->direct : NULL, k->share);
    }
    for (size_t i = 0; i < k->scene->light_count && computed(k) && status == VS_OK; i++) {
        *lux = vs_bands_add(*lux, k->share[i]);
    }
    return status;
}

vs_status vs_frame_bounced(vs_frame_kept *k, vs_airlight *work, const vs_way *way, double x,
                           double y, vs_bands *veil, vs_bands *lux) {
    vs_camera_ray ray = vs_frame_sight(k, way, x, y);
    vs_status status = VS_OK;
    *veil = *lux = vs_bands_grey(0);
    if (k->hazed_air) {
        status = veil_bounced(k, work, &ray, NAN, NAN, veil);
    }
    if (status == VS_OK && way->reflectance > 0) {
        status = lux_bounced(k, work, vs_frame_surface_at(k, way, x, y), way->normal, lux);
    }
    return status;
}

/* Bounced veil for each bit of haze before what is seen: smooth even where depths differ. */
static void ask_bounced_veil(void *context, const vs_cells_place *place, size_t count,
                             float (*value)[VS_CELLS_CHANNELS]) {
    const asker *a = context;
    for (size_t i = 0; i < count; i++) {
        const vs_way *way = vs_frame_way(a->k, place[i].x, place[i].y);
        vs_camera_ray ray = vs_frame_sight(a->k, way, place[i].x, place[i].y);
        vs_bands veil;
        double depth_m;
        vs_bands through = vs_frame_dimming(a->k, way, place[i].x, place[i].y, &depth_m);
        note(a->w, veil_bounced(a->k, &a->w->work, &ray, place[i].x, place[i].y, &veil));
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double haze = 1 - through.v[band];
            value[i][band] = haze > FAINT ? (float)(veil.v[band] / haze) : 0;
        }
    }
}

static void ask_bounced_lux(void *context, const vs_cells_place *place, size_t count,
                            float (*value)[VS_CELLS_CHANNELS]) {
    const asker *a = context;
    for (size_t i = 0; i < count; i++) {
        const vs_way *way = vs_frame_way(a->k, place[i].x, place[i].y);
        vs_bands lux = vs_bands_grey(0);
        if (way->reflectance > 0) {
            note(a->w, lux_bounced(a->k, &a->w->work,
                                   vs_frame_surface_at(a->k, way, place[i].x, place[i].y),
                                   way->normal, &lux));
        }
        keep_bands(lux, value[i]);
    }
}

void vs_frame_lay_bounced(vs_frame_kept *k, size_t worker) {
    asker a = {k, &k->worker[worker], 0, NULL};
    size_t cell = k->grid.cell, start = VS_FRAME_BOUNCE_CELLS * cell;
    size_t least = k->detail == VS_FRAME_COARSE ? start : BOUNCE_LEAST;
    size_t across = (k->grid.across - 1) / start * start, down = (k->grid.down - 1) / start * start;
    vs_cells_field field = {.kind = k->group_kind,
                            .scale = k->veil_scale,
                            .relative = BOUNCED_RELATIVE,
                            .tolerance = k->tolerance,
                            .tolerance_mixed = k->tolerance_mixed,
                            .ask = ask_bounced_veil,
                            .context = &a,
                            .least = least};
    if (k->hazed_air) {
        into_planes(&field, &k->layers.indirect, NULL);
        vs_cells_begin(&k->wide, across, down);
        note(a.w, vs_cells_lay(&k->wide, &k->grid, &field, 0, 0, across, down, start));
    }
    field.kind = k->own_kind;
    field.scale = k->lux_scale;
    field.tolerance_mixed = k->tolerance;
    field.ask = ask_bounced_lux;
    into_planes(&field, &k->bounced_lux, NULL);
    vs_cells_begin(&k->wide, across, down);
    note(a.w, vs_cells_lay(&k->wide, &k->grid, &field, 0, 0, across, down, start));
}
