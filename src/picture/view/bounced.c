/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bounced light: expensive and smooth, so few rays are enough. What a ray sees does not depend on
 * the haze: it is found once for all steps of the ladder. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"

#define RELATIVE 0.02 /* [1] of the quantity itself: enough for its part in the picture */
/* smallest cells per side of one of the grid's first cells */
#define VEIL_LEAST   4
#define LUX_LEAST    4
#define BOUNCED_MOST 1    /* and its largest: one sample in the middle is no check */
#define PLACES_A_JOB 4    /* sampled by one worker at a time: our choice */
#define FAINT        1e-9 /* [1] optical depth: less haze has no usable colour */

typedef struct {
    vs_frame_kept *k;
    vs_frame_worker *w;
} sampler;

static bool computed(const vs_frame_kept *k) {
    return k->scene->indirect == VS_INDIRECT_COMPUTED;
}

static double everywhere_nits(const vs_frame_kept *k) {
    return k->scene->indirect == VS_INDIRECT_NITS ? k->scene->indirect_nits : 0;
}

static vs_bands sum_of(const vs_frame_kept *k, const vs_bands *share) {
    vs_bands sum = vs_bands_grey(0);
    for (size_t i = 0; i < k->scene->light_count; i++) {
        sum = vs_bands_add(sum, share[i]);
    }
    return sum;
}

/* ---- one ray, in the haze in hand ---- */

static vs_status veil_of(vs_frame_kept *k, vs_frame_worker *w, const vs_camera_ray *ray) {
    vs_predictor *p = k->predictor;
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->scene->light_count && status == VS_OK; i++) {
        w->once[i] = vs_bands_grey(0);
        if (vs_frame_shines(&p->hazed_light[i])) {
            status =
                vs_airlight_fast(&w->work, &k->setup.hazed, ray, &p->hazed_light[i], &w->once[i]);
        }
    }
    return status == VS_OK
               ? vs_bounce_veil(&p->hazed_bounce, &k->setup.hazed, ray, w->once, w->share)
               : status;
}

/* Direct light of all lights, which haze scatters forward in addition. */
static vs_status lux_of(vs_frame_kept *k, vs_frame_worker *w, vs_vec3 p_m, vs_vec3 normal) {
    vs_predictor *p = k->predictor;
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->scene->light_count && status == VS_OK; i++) {
        w->direct[i] = vs_bands_grey(0);
        if (vs_frame_shines(&p->hazed_light[i]) && k->hazed_air) {
            status = vs_illuminance(&w->work.sources, &k->setup.hazed, &p->hazed_light[i], p_m,
                                    normal, VS_FRAME_LUX_RELATIVE, &w->direct[i]);
        }
    }
    const vs_bands *direct = k->hazed_air ? w->direct : NULL;
    return status == VS_OK
               ? vs_bounce_lux(&p->hazed_bounce, &k->setup.hazed, p_m, normal, direct, w->share)
               : status;
}

vs_status vs_frame_solve_bounce(vs_frame_kept *k) {
    vs_predictor *p = k->predictor;
    if (k->bounce_known || k->scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    vs_bounce_free(&p->hazed_bounce);
    vs_status status =
        vs_bounce_solve(&p->bounces[p->in_hand], &k->setup.hazed, p->hazed_light, &p->hazed_bounce);
    k->bounce_known = status == VS_OK;
    return status;
}

vs_status vs_frame_bounced(vs_frame_kept *k, vs_frame_worker *w, const vs_ray_path *path, double x,
                           double y, vs_bands *veil, vs_bands *lux) {
    vs_camera_ray ray = vs_frame_sight(k, &k->setup.hazed, path, x, y);
    vs_status status = vs_frame_solve_bounce(k);
    *veil = vs_airlight_ambient(&k->setup.hazed, &ray, everywhere_nits(k));
    *lux = vs_bands_grey(path->reflectance > 0 ? VS_PI * everywhere_nits(k) : 0);
    if (!computed(k)) {
        return status;
    }
    if (status == VS_OK && k->hazed_air) {
        status = veil_of(k, w, &ray);
        *veil = vs_bands_add(*veil, sum_of(k, w->share));
    }
    if (status == VS_OK && path->reflectance > 0) {
        status = lux_of(k, w, vs_frame_surface_at(k, path, x, y), path->normal);
        *lux = vs_bands_add(*lux, sum_of(k, w->share));
    }
    return status;
}

/* ---- at every step ---- */

/* The node of the grid at a place; their count where there is none, or it was not computed. */
static size_t node_at(const vs_frame_kept *k, const vs_cells_place *place) {
    size_t cell = k->grid.cell;
    return !k->nodes_known || place->x % cell != 0 || place->y % cell != 0
               ? vs_frame_node_count(k)
               : place->y / cell * vs_frame_nodes_across(k) + place->x / cell;
}

static void sample_direct(const sampler *a, int step, size_t node, vs_vec3 p_m, vs_vec3 normal) {
    vs_frame_kept *k = a->k;
    const vs_frame_step *s = &k->step[step];
    for (size_t i = 0; i < k->scene->light_count; i++) {
        a->w->direct[i] = vs_bands_grey(0);
        if (!vs_frame_shines(&s->light[i])) {
            continue;
        }
        if (node < vs_frame_node_count(k)) {
            a->w->direct[i] = vs_frame_stored(vs_frame_node(k, k->node_lux, i, node), step);
        } else {
            vs_frame_note(a->w,
                          vs_illuminance(&a->w->work.sources, &k->medium[step], &s->light[i], p_m,
                                         normal, VS_FRAME_LUX_RELATIVE, &a->w->direct[i]));
        }
    }
}

/* The bounced light of a step as a worker reads it. */
static vs_bounce bounce_of(const sampler *a, int step) {
    return vs_bounce_beside(&a->k->step[step].bounce, &a->w->beside);
}

/* In a coarse picture one step stands for all. */
static void let_near_stand(const vs_frame_kept *k, vs_cells_value *value) {
    int near = k->plan[k->detail].near;
    for (int step = 0; step < VS_LADDER_STEPS && k->detail == VS_FRAME_COARSE; step++) {
        vs_frame_store(vs_frame_stored(value, near), value, step);
    }
}

/* Bounced veil of a line, step by step, but for what droplets send straight on of light that they
 * scatter: of that, light by light, how much it is of the light scattered once. */
static void add_bounced(const sampler *a, const vs_camera_ray *ray, vs_bands veil[VS_LADDER_STEPS],
                        size_t sample) {
    vs_frame_kept *k = a->k;
    vs_bounce_view view;
    vs_status status = vs_bounce_view_ray(&view, &a->w->beside, ray);
    vs_frame_note(a->w, status);
    if (status != VS_OK) {
        return;
    }
    for (int step = 0; step < VS_LADDER_STEPS; step++) {
        if (!vs_frame_asks_bounce(k, step)) {
            continue;
        }
        vs_bounce bounce = bounce_of(a, step);
        vs_frame_note(a->w, vs_bounce_view_veil_apart(&bounce, &k->medium[step], &view, a->w->share,
                                                      a->w->more));
        veil[step] = vs_bands_add(veil[step], sum_of(k, a->w->share));
        for (size_t i = 0; i < k->scene->light_count; i++) {
            vs_frame_store(a->w->more[i], &k->more[sample * k->scene->light_count + i], step);
        }
    }
    for (size_t i = 0; i < k->scene->light_count; i++) {
        let_near_stand(k, &k->more[sample * k->scene->light_count + i]);
    }
    vs_bounce_view_free(&view);
}

/* Bounced veil on a line, step by step, for each bit of haze before what is seen: smooth even where
 * depths differ. */
static void sample_veil_at(const sampler *a, const vs_cells_place *place, vs_cells_value *value,
                           size_t sample) {
    vs_frame_kept *k = a->k;
    const vs_ray_path *path = vs_frame_path(k, place->x, place->y);
    vs_bands veil[VS_LADDER_STEPS];
    for (int step = 0; step < VS_LADDER_STEPS; step++) {
        vs_camera_ray ray = vs_frame_sight(k, &k->medium[step], path, place->x, place->y);
        veil[step] = vs_airlight_ambient(&k->medium[step], &ray, everywhere_nits(k));
    }
    if (computed(k)) {
        vs_camera_ray ray = vs_frame_sight(k, &k->medium[0], path, place->x, place->y);
        add_bounced(a, &ray, veil, sample);
    }
    for (int step = 0; step < VS_LADDER_STEPS; step++) {
        double depth_m;
        vs_bands through =
            vs_frame_dimming(k, &k->medium[step], path, place->x, place->y, &depth_m);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double haze = 1 - through.v[band];
            value->at[band][step] = haze > FAINT ? (float)(veil[step].v[band] / haze) : 0;
        }
    }
    let_near_stand(k, value);
}

/* Bounced light on a surface, step by step. */
static void sample_lux_at(const sampler *a, const vs_cells_place *place, vs_cells_value *value,
                          size_t sample) {
    (void)sample;
    vs_frame_kept *k = a->k;
    const vs_ray_path *path = vs_frame_path(k, place->x, place->y);
    vs_bounce_view view;
    vs_status status = VS_OK;
    memset(value, 0, sizeof *value);
    if (!(path->reflectance > 0)) {
        return;
    }
    vs_vec3 p_m = vs_frame_surface_at(k, path, place->x, place->y);
    if (computed(k)) {
        status = vs_bounce_view_place(&view, &a->w->beside, p_m, path->normal);
        vs_frame_note(a->w, status);
    }
    for (int step = 0; step < VS_LADDER_STEPS && status == VS_OK; step++) {
        vs_bands lux = vs_bands_grey(VS_PI * everywhere_nits(k));
        if (computed(k) && vs_frame_asks_bounce(k, step)) {
            sample_direct(a, step, node_at(k, place), p_m, path->normal);
            vs_bounce bounce = bounce_of(a, step);
            vs_frame_note(a->w, vs_bounce_view_lux(&bounce, &k->medium[step], &view, a->w->direct,
                                                   a->w->share));
            lux = vs_bands_add(lux, sum_of(k, a->w->share));
        }
        vs_frame_store(lux, value, step);
    }
    let_near_stand(k, value);
    if (computed(k) && status == VS_OK) {
        vs_bounce_view_free(&view);
    }
}

/* Places that are sampled together, some by each worker. */
typedef struct {
    vs_frame_kept *k;
    const vs_cells_place *place;
    size_t count;
    vs_cells_value *value;
    size_t first; /* number of the first among the samples */
    void (*sample)(const sampler *a, const vs_cells_place *place, vs_cells_value *value,
                   size_t sample);
} places;

static void sample_some(void *context, size_t worker, size_t i) {
    const places *p = context;
    sampler a = {p->k, &p->k->worker[worker]};
    for (size_t at = i * PLACES_A_JOB; at < p->count && at < (i + 1) * PLACES_A_JOB; at++) {
        p->sample(&a, &p->place[at], &p->value[at], p->first + at);
    }
}

static void sample_all(vs_frame_kept *k, places p) {
    k->runner->each(k->runner->context, (p.count + PLACES_A_JOB - 1) / PLACES_A_JOB, sample_some,
                    &p);
}

static void sample_bounced_veil(void *context, const vs_cells_place *place, size_t count,
                                vs_cells_value *value) {
    vs_frame_kept *k = context;
    size_t lights = k->scene->light_count, first = k->more_count;
    vs_cells_value *more = vs_growable_reserve_many(k->more, first * lights, count * lights + 1,
                                                    &k->more_size, sizeof *more);
    if (!more) {
        vs_frame_note(&k->worker[0], VS_ERR_MEMORY);
        memset(value, 0, count * sizeof *value);
        return;
    }
    k->more = more;
    memset(more + first * lights, 0, count * lights * sizeof *more);
    k->more_count += count;
    places p = {k, place, count, value, first, sample_veil_at};
    sample_all(k, p);
}

static void sample_bounced_lux(void *context, const vs_cells_place *place, size_t count,
                               vs_cells_value *value) {
    places p = {context, place, count, value, 0, sample_lux_at};
    sample_all(context, p);
}

/* A solver for each worker to read. */
static vs_status begin_reading(vs_frame_kept *k) {
    const vs_bounce_solver *solver = &k->predictor->bounces[k->predictor->in_hand];
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->worker_count && computed(k) && status == VS_OK; i++) {
        status = vs_bounce_solver_init_beside(&k->worker[i].beside, solver);
    }
    return status;
}

static void end_reading(vs_frame_kept *k) {
    for (size_t i = 0; i < k->worker_count; i++) {
        vs_bounce_solver_free(&k->worker[i].beside);
    }
}

static vs_status find_veil(vs_frame_kept *k, vs_cells_field *field) {
    bool coarse = k->detail == VS_FRAME_COARSE;
    size_t start = VS_FRAME_BOUNCE_CELLS * k->grid.cell;
    field->kind = coarse ? k->air_kind : k->group_kind;
    field->whole = coarse ? k->air_whole : k->group_whole;
    field->scale = k->veil_scale;
    field->sample = sample_bounced_veil;
    field->least = coarse ? start : k->grid.cell / VEIL_LEAST;
    field->most = k->grid.cell / BOUNCED_MOST;
    vs_cells_begin(&k->wide, k->grid.across - 1, k->grid.down - 1);
    return vs_cells_find(&k->wide, &k->grid, field, 0, 0, start, &k->plan[k->detail].bounced_veil);
}

static vs_status find_lux(vs_frame_kept *k, vs_cells_field *field) {
    bool coarse = k->detail == VS_FRAME_COARSE;
    size_t start = VS_FRAME_BOUNCE_CELLS * k->grid.cell;
    field->kind = k->own_kind;
    field->whole = k->own_whole;
    field->scale = k->lux_scale;
    memcpy(field->tolerance_mixed, field->tolerance, sizeof field->tolerance);
    field->sample = sample_bounced_lux;
    field->least = coarse ? start : k->grid.cell / LUX_LEAST;
    field->most = k->grid.cell / BOUNCED_MOST;
    vs_cells_begin(&k->wide, k->grid.across - 1, k->grid.down - 1);
    return vs_cells_find(&k->wide, &k->grid, field, 0, 0, start, &k->plan[k->detail].bounced_lux);
}

/* ---- what is sent straight on ---- */

static size_t part_of(const vs_frame_kept *k, size_t x, size_t y) {
    size_t side = VS_FRAME_BOUNCE_CELLS * k->grid.cell;
    size_t across = (k->grid.across - 1) / side, down = (k->grid.down - 1) / side;
    size_t px = x / side, py = y / side; /* the closing row and column belong to the last */
    return (py < down ? py : down - 1) * across + (px < across ? px : across - 1);
}

/* Sorts the regions of bounced veil by parts of the grid. */
static vs_status sort_regions(vs_frame_kept *k, vs_cells_plan *plan) {
    size_t parts = part_of(k, k->grid.across, k->grid.down) + 1;
    size_t *first = calloc(parts + 2, sizeof *first);
    vs_cells_region *sorted = malloc((plan->region_count + 1) * sizeof *sorted);
    free(k->region_of_part);
    k->region_of_part = first;
    if (!first || !sorted) {
        free(sorted);
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < plan->region_count; i++) {
        first[part_of(k, plan->region[i].x, plan->region[i].y) + 2]++;
    }
    for (size_t part = 0; part < parts; part++) {
        first[part + 2] += first[part + 1];
    }
    for (size_t i = 0; i < plan->region_count; i++) { /* first[part + 1] moves on to its end */
        sorted[first[part_of(k, plan->region[i].x, plan->region[i].y) + 1]++] = plan->region[i];
    }
    free(plan->region);
    plan->region = sorted;
    return VS_OK;
}

/* One light over one part: how much of its veil comes with each sample of it. */
static vs_status add_more(vs_frame_kept *k, size_t light, vs_cells_plan *veil) {
    const vs_cells_plan *bounced = &k->plan[k->detail].bounced_veil;
    if (veil->sample_count == 0) {
        return VS_OK;
    }
    veil->all = malloc(veil->sample_count * VS_BAND_COUNT * sizeof *veil->all);
    if (!veil->all) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < veil->sample_count; i++) {
        const vs_cells_place *place = &veil->place[i];
        const size_t *first = &k->region_of_part[part_of(k, place->x, place->y)];
        vs_cells_value more;
        vs_cells_read(bounced, k->more + light, k->scene->light_count, first[0],
                      first[1] - first[0], place, k->label[place->y * k->grid.across + place->x],
                      &more);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            size_t at = i * VS_BAND_COUNT + (size_t)band;
            for (int step = 0; step < VS_LADDER_STEPS; step++) {
                veil->all[at][step] =
                    veil->kept[at][step] + (float)log1p((double)more.at[band][step]);
            }
        }
    }
    return VS_OK;
}

static void more_of_part(void *context, size_t worker, size_t part) {
    vs_frame_kept *k = context;
    for (size_t light = 0; light < k->scene->light_count; light++) {
        size_t at = part * k->scene->light_count + light;
        vs_frame_note(&k->worker[worker], add_more(k, light, &k->plan[k->detail].veil[at]));
    }
}

static vs_status add_straight_on(vs_frame_kept *k) {
    vs_status status = sort_regions(k, &k->plan[k->detail].bounced_veil);
    if (status == VS_OK && computed(k)) {
        k->runner->each(k->runner->context, vs_frame_part_count(k), more_of_part, k);
    }
    return status;
}

vs_status vs_frame_find_bounced(vs_frame_kept *k) {
    size_t cells = vs_frame_cells_across(k) * vs_frame_cells_down(k);
    vs_cells_field field = {
        .relative = RELATIVE, .context = k, .straight = k->plan[k->detail].ladder.from_per_m == 0};
    for (int step = 0; step < VS_LADDER_STEPS; step++) {
        field.tolerance[step] = k->tolerance + (size_t)step * cells;
        field.tolerance_mixed[step] = k->tolerance_mixed + (size_t)step * cells;
        field.unit[step] = 1;
    }
    k->more_count = 0;
    vs_status status = begin_reading(k);
    if (status == VS_OK) {
        status = find_veil(k, &field);
    }
    if (status == VS_OK) {
        status = add_straight_on(k);
    }
    if (status == VS_OK) {
        status = find_lux(k, &field);
    }
    end_reading(k);
    return status == VS_OK ? vs_frame_status(k) : status;
}
