/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bounced light: dear to ask for and smooth, so that few rays tell it; what they see is kept. */
#include <math.h>
#include <stdlib.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"

#define RELATIVE 0.02 /* [1] of the quantity itself: in what is seen it counts no more */
/* parts of a first cell of the grid that its smallest cells are */
#define VEIL_LEAST 4
#define LUX_LEAST  2
#define FAINT      1e-9 /* [1] of a veil's way: less haze has no colour to tell */
#define NO_KEY     UINT32_MAX

typedef struct {
    vs_frame_kept *k;
    vs_frame_worker *w;
} asker;

static bool computed(const vs_frame_kept *k) {
    return k->scene->indirect == VS_INDIRECT_COMPUTED;
}

static double everywhere_nits(const vs_frame_kept *k) {
    return k->scene->indirect == VS_INDIRECT_NITS ? k->scene->indirect_nits : 0;
}

static bool shines(const vs_frame_kept *k, size_t light) {
    return vs_bands_luminance(k->predictor->hazed_light[light].strength) > 0;
}

static vs_bands sum_of(const vs_frame_kept *k, const vs_bands *share) {
    vs_bands sum = vs_bands_grey(0);
    for (size_t i = 0; i < k->scene->light_count; i++) {
        sum = vs_bands_add(sum, share[i]);
    }
    return sum;
}

/* Once-scattered light of one light at a node of the grid, where it was asked for already. */
static bool once_known(const vs_frame_kept *k, size_t light, uint32_t key, vs_bands *once) {
    size_t x = key % k->grid.across, y = key / k->grid.across, cell = k->grid.cell;
    if (key == NO_KEY || !k->nodes_asked || x % cell != 0 || y % cell != 0) {
        return false;
    }
    size_t node = y / cell * vs_frame_nodes_across(k) + x / cell;
    const float *value = vs_frame_node(k, k->node_veil, light, node);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        once->v[band] = (double)value[band];
    }
    return true;
}

/* Of all lights on one line. */
static vs_status ask_once(vs_frame_kept *k, vs_airlight *work, const vs_camera_ray *ray,
                          uint32_t key) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->scene->light_count && status == VS_OK; i++) {
        k->once[i] = vs_bands_grey(0);
        if (shines(k, i) && !once_known(k, i, key, &k->once[i])) {
            status = vs_airlight_fast(work, &k->setup.hazed, ray, &k->predictor->hazed_light[i],
                                      &k->once[i]);
        }
    }
    return status;
}

static vs_bounce_solver *solver_of(const vs_frame_kept *k) {
    return &k->predictor->bounces[k->predictor->in_hand];
}

/* Bounced veil of a line whose view may be kept. */
static vs_status ask_line(vs_frame_kept *k, const vs_camera_ray *ray, uint32_t key) {
    const vs_bounce *bounce = &k->predictor->hazed_bounce;
    vs_bounce_view *view = key == NO_KEY ? NULL : vs_seen_find(&k->lines, key), fresh;
    if (view || key == NO_KEY) {
        return view ? vs_bounce_view_veil(bounce, &k->setup.hazed, view, k->once, k->share)
                    : vs_bounce_veil(bounce, &k->setup.hazed, ray, k->once, k->share);
    }
    vs_status status = vs_bounce_view_ray(&fresh, solver_of(k), ray);
    if (status != VS_OK) {
        return status;
    }
    status = vs_bounce_view_veil(bounce, &k->setup.hazed, &fresh, k->once, k->share);
    if (!vs_seen_keep(&k->lines, key, &fresh)) {
        vs_bounce_view_free(&fresh);
    }
    return status;
}

static vs_status veil_bounced(vs_frame_kept *k, vs_airlight *work, const vs_camera_ray *ray,
                              uint32_t key, vs_bands *veil) {
    *veil = vs_airlight_ambient(&k->setup.hazed, ray, everywhere_nits(k));
    if (!computed(k)) {
        return VS_OK;
    }
    vs_status status = ask_once(k, work, ray, key);
    if (status == VS_OK) {
        status = ask_line(k, ray, key);
    }
    if (status == VS_OK) {
        *veil = vs_bands_add(*veil, sum_of(k, k->share));
    }
    return status;
}

/* Light straight from all lights, which in haze adds to what is scattered straight on. */
static vs_status ask_direct(vs_frame_kept *k, vs_airlight *work, vs_vec3 p_m, vs_vec3 normal) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->scene->light_count && status == VS_OK; i++) {
        k->direct[i] = vs_bands_grey(0);
        if (shines(k, i) && k->hazed_air) {
            status = vs_illuminance(&work->sources, &k->setup.hazed, &k->predictor->hazed_light[i],
                                    p_m, normal, VS_FRAME_LUX_RELATIVE, &k->direct[i]);
        }
    }
    return status;
}

/* Bounced light on a place whose view may be kept. */
static vs_status ask_place(vs_frame_kept *k, vs_vec3 p_m, vs_vec3 normal, uint32_t key) {
    const vs_bounce *bounce = &k->predictor->hazed_bounce;
    const vs_bands *direct = k->hazed_air ? k->direct : NULL;
    vs_bounce_view *view = key == NO_KEY ? NULL : vs_seen_find(&k->places, key), fresh;
    if (view || key == NO_KEY) {
        return view ? vs_bounce_view_lux(bounce, &k->setup.hazed, view, direct, k->share)
                    : vs_bounce_lux(bounce, &k->setup.hazed, p_m, normal, direct, k->share);
    }
    vs_status status = vs_bounce_view_place(&fresh, solver_of(k), p_m, normal);
    if (status != VS_OK) {
        return status;
    }
    status = vs_bounce_view_lux(bounce, &k->setup.hazed, &fresh, direct, k->share);
    if (!vs_seen_keep(&k->places, key, &fresh)) {
        vs_bounce_view_free(&fresh);
    }
    return status;
}

static vs_status lux_bounced(vs_frame_kept *k, vs_airlight *work, vs_vec3 p_m, vs_vec3 normal,
                             uint32_t key, vs_bands *lux) {
    *lux = vs_bands_grey(VS_PI * everywhere_nits(k));
    if (!computed(k)) {
        return VS_OK;
    }
    vs_status status = ask_direct(k, work, p_m, normal);
    if (status == VS_OK) {
        status = ask_place(k, p_m, normal, key);
    }
    if (status == VS_OK) {
        *lux = vs_bands_add(*lux, sum_of(k, k->share));
    }
    return status;
}

vs_status vs_frame_bounced(vs_frame_kept *k, vs_airlight *work, const vs_way *way, double x,
                           double y, vs_bands *veil, vs_bands *lux) {
    vs_camera_ray ray = vs_frame_sight(k, way, x, y);
    vs_status status = VS_OK;
    *veil = *lux = vs_bands_grey(0);
    if (k->hazed_air) {
        status = veil_bounced(k, work, &ray, NO_KEY, veil);
    }
    if (status == VS_OK && way->reflectance > 0) {
        status = lux_bounced(k, work, vs_frame_surface_at(k, way, x, y), way->normal, NO_KEY, lux);
    }
    return status;
}

static uint32_t key_of(const vs_frame_kept *k, const vs_cells_place *place) {
    return (uint32_t)(place->y * k->grid.across + place->x);
}

/* Bounced veil for each bit of haze before what is seen: smooth even where depths differ. */
static void ask_bounced_veil(void *context, const vs_cells_place *place, size_t count,
                             float (*value)[VS_CELLS_CHANNELS]) {
    const asker *a = context;
    for (size_t i = 0; i < count; i++) {
        double x = place[i].x, y = place[i].y, depth_m;
        const vs_way *way = vs_frame_way(a->k, place[i].x, place[i].y);
        vs_camera_ray ray = vs_frame_sight(a->k, way, x, y);
        vs_bands veil, through = vs_frame_dimming(a->k, way, x, y, &depth_m);
        vs_frame_note(a->w, veil_bounced(a->k, &a->w->work, &ray, key_of(a->k, &place[i]), &veil));
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
            vs_vec3 p_m = vs_frame_surface_at(a->k, way, place[i].x, place[i].y);
            vs_frame_note(a->w, lux_bounced(a->k, &a->w->work, p_m, way->normal,
                                            key_of(a->k, &place[i]), &lux));
        }
        vs_frame_store(lux, value[i]);
    }
}

void vs_frame_lay_bounced(vs_frame_kept *k, size_t worker) {
    asker a = {k, &k->worker[worker]};
    size_t start = VS_FRAME_BOUNCE_CELLS * k->grid.cell;
    size_t across = (k->grid.across - 1) / start * start, down = (k->grid.down - 1) / start * start;
    bool coarse = k->detail == VS_FRAME_COARSE;
    vs_cells_field field = {.kind = coarse ? k->air_kind : k->group_kind,
                            .whole = coarse ? k->air_whole : k->group_whole,
                            .scale = k->veil_scale,
                            .relative = RELATIVE,
                            .tolerance = k->tolerance,
                            .tolerance_mixed = k->tolerance_mixed,
                            .ask = ask_bounced_veil,
                            .context = &a,
                            .least = coarse ? start : k->grid.cell / VEIL_LEAST};
    if (k->hazed_air) {
        vs_frame_into(&field, &k->layers.indirect, NULL);
        vs_cells_begin(&k->wide, across, down);
        vs_frame_note(a.w, vs_cells_lay(&k->wide, &k->grid, &field, 0, 0, across, down, start));
    }
    field.kind = k->own_kind;
    field.whole = k->own_whole;
    field.scale = k->lux_scale;
    field.tolerance_mixed = k->tolerance;
    field.level = true; /* what is seen of other rooms comes and goes patch by patch */
    field.ask = ask_bounced_lux;
    field.least = coarse ? start : k->grid.cell / LUX_LEAST;
    vs_frame_into(&field, &k->bounced_lux, NULL);
    vs_cells_begin(&k->wide, across, down);
    vs_frame_note(a.w, vs_cells_lay(&k->wide, &k->grid, &field, 0, 0, across, down, start));
}
