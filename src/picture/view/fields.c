/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The quantities interpolated over the picture: each light's veil and its light on surfaces, and
 * bounced light. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/kept.h"
#include "veilstop/base/units.h"
#include "veilstop/light/airlight_fast.h"

#define RELATIVE 0.015 /* [1] of a quantity itself: enough for its part in the picture */
/* cells per side of one of the grid's first cells, at least */
#define SHAFT_PARTS   8   /* where an edge of a shaft crosses */
#define COARSE_PARTS  4   /* in a coarse picture */
#define SOFT_PARTS    8   /* in a penumbra */
#define BEAM_SHARE    0.5 /* [1] of a beam's radius: largest cell in it */
#define SOURCE_MARGIN 0.5 /* [1] of a cell: a lamp this close counts as inside */

vs_camera_ray vs_frame_sight(const vs_frame_kept *k, const vs_medium *medium,
                             const vs_ray_path *path, double x, double y) {
    vs_vec3 direction = vs_frame_direction(k, x, y);
    double slant = vs_vec3_length(direction), length_m = INFINITY;
    if (path->end == VS_RAY_PATH_BODY) {
        length_m = slant * vs_ray_path_at(&path->at[path->crossing_count], k->view.at_m, direction);
    }
    return vs_camera_ray_along(medium, k->view.at_m, vs_vec3_scale(direction, 1 / slant), length_m);
}

/* A panel that is fed through haze is less bright in thicker haze; the rest of its light goes the
 * same paths. */
vs_status vs_frame_line_veils(const vs_frame_kept *k, vs_airlight *work, size_t light,
                              const vs_camera_ray *ray, size_t count, vs_bands *nits) {
    const vs_ladder *ladder = &k->plan[k->detail].ladder;
    const vs_bands *first = &k->step[0].light[light].strength;
    double step[VS_LADDER_STEPS];
    for (int s = 0; s < VS_LADDER_STEPS; s++) {
        step[s] = ladder->step_per_m[s] / ladder->step_per_m[0];
    }
    vs_status status = vs_airlight_fast_steps(work, k->medium, step, VS_LADDER_STEPS,
                                              &k->step[0].light[light], ray, count, nits);
    for (size_t i = 0; i < count * VS_LADDER_STEPS; i++) {
        const vs_bands *strength = &k->step[i % VS_LADDER_STEPS].light[light].strength;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            nits[i].v[band] *= first->v[band] > 0 ? strength->v[band] / first->v[band] : 0;
        }
    }
    return status;
}

vs_vec3 vs_frame_surface_at(const vs_frame_kept *k, const vs_ray_path *path, double x, double y) {
    vs_vec3 direction = vs_frame_direction(k, x, y);
    double t = vs_ray_path_at(&path->at[path->crossing_count], k->view.at_m, direction);
    return vs_vec3_along(k->view.at_m, direction, t);
}

/* Optical depth at 549 nm to what is seen. */
static double depth_of(const vs_frame_kept *k, const vs_medium *medium, const vs_ray_path *path,
                       double x, double y, double *depth_m) {
    vs_vec3 direction = vs_frame_direction(k, x, y);
    double before_m = 0, depth = 0;
    for (size_t i = 0; i <= path->crossing_count; i++) {
        double at_m = vs_ray_path_at(&path->at[i], k->view.at_m, direction);
        depth += (at_m - before_m) * vs_medium_extinction_per_m(medium, path->room[i]);
        before_m = at_m;
    }
    *depth_m = path->far ? (double)INFINITY : before_m;
    return depth * vs_vec3_length(direction);
}

vs_bands vs_frame_dimming(const vs_frame_kept *k, const vs_medium *medium, const vs_ray_path *path,
                          double x, double y, double *depth_m) {
    return vs_medium_transmission(medium, depth_of(k, medium, path, x, y, depth_m));
}

/* ---- one light ---- */

#define LAST (VS_LADDER_STEPS - 1)

typedef struct {
    vs_frame_kept *k;
    vs_frame_worker *w;
    size_t light;
    const vs_emitter *emitter; /* where it stands and what it is; not how bright */
} sampler;

static sampler sampler_of(vs_frame_kept *k, size_t worker, size_t light) {
    sampler a = {k, &k->worker[worker], light, &k->step[0].light[light]};
    return a;
}

static void sample_veil(void *context, const vs_cells_place *place, size_t count,
                        vs_cells_value *value) {
    const sampler *a = context;
    vs_bands nits[VS_FRAME_BATCH * VS_LADDER_STEPS];
    for (size_t first = 0; first < count; first += VS_FRAME_BATCH) {
        size_t n = count - first < VS_FRAME_BATCH ? count - first : VS_FRAME_BATCH;
        for (size_t i = 0; i < n; i++) {
            const vs_cells_place *p = &place[first + i];
            a->w->ray[i] =
                vs_frame_sight(a->k, &a->k->medium[0], vs_frame_path(a->k, p->x, p->y), p->x, p->y);
        }
        vs_frame_note(a->w, vs_frame_line_veils(a->k, &a->w->work, a->light, a->w->ray, n, nits));
        for (size_t i = 0; i < n * VS_LADDER_STEPS; i++) {
            vs_frame_store(nits[i], &value[first + i / VS_LADDER_STEPS], i % VS_LADDER_STEPS);
        }
    }
}

static bool is_hard(const vs_emitter *emitter) {
    return emitter->kind == VS_EMITTER_POINT || emitter->kind == VS_EMITTER_PARALLEL;
}

static vs_bands lux_at(const sampler *a, int step, const vs_ray_path *path, vs_vec3 p_m) {
    vs_bands lux;
    vs_frame_note(a->w, vs_illuminance(&a->w->work.sources, &a->k->medium[step],
                                       &a->k->step[step].light[a->light], p_m, path->normal,
                                       VS_FRAME_LUX_RELATIVE, &lux));
    return lux;
}

/* Light along one path is dimmed by a plain exponential: two steps give the others. */
static void fill_steps(const sampler *a, vs_cells_value *value) {
    const vs_ladder *ladder = &a->k->plan[a->k->detail].ladder;
    double range = ladder->step_per_m[LAST] - ladder->step_per_m[0];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double first = (double)value->at[band][0], last = (double)value->at[band][LAST];
        for (int step = 1; step < LAST; step++) {
            double share = (ladder->step_per_m[step] - ladder->step_per_m[0]) / range;
            value->at[band][step] =
                first > 0 && last > 0 ? (float)(first * pow(last / first, share)) : 0;
        }
    }
}

/* Light on what is seen at a place, step by step. */
static void lux_steps(const sampler *a, const vs_ray_path *path, double x, double y,
                      vs_cells_value *value) {
    bool hard = is_hard(a->emitter);
    if (!(path->reflectance > 0)) {
        memset(value, 0, sizeof *value);
        return;
    }
    vs_vec3 p_m = vs_frame_surface_at(a->k, path, x, y);
    for (int step = 0; step < VS_LADDER_STEPS; step += hard ? LAST : 1) {
        vs_frame_store(lux_at(a, step, path, p_m), value, step);
    }
    if (hard) {
        fill_steps(a, value);
    }
}

static void sample_lux(void *context, const vs_cells_place *place, size_t count,
                       vs_cells_value *value) {
    const sampler *a = context;
    for (size_t i = 0; i < count; i++) {
        lux_steps(a, vs_frame_path(a->k, place[i].x, place[i].y), place[i].x, place[i].y,
                  &value[i]);
    }
}

static void add_quarter(const vs_cells_value *one, vs_cells_value *sum) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int step = 0; step < VS_LADDER_STEPS; step++) {
            sum->at[band][step] += one->at[band][step] / 4;
        }
    }
}

/* The mean of four rays through a pixel that a shadow's edge crosses. */
static void sample_lux_spread(void *context, const vs_cells_place *place, size_t count,
                              vs_cells_value *value) {
    static const double dx[] = {0.125, 0.375, -0.125, -0.375},
                        dy[] = {-0.375, 0.125, 0.375, -0.125};
    const sampler *a = context;
    for (size_t i = 0; i < count; i++) {
        const vs_ray_path *path = vs_frame_path(a->k, place[i].x, place[i].y);
        memset(&value[i], 0, sizeof value[i]);
        for (int ray = 0; ray < 4; ray++) {
            vs_cells_value one;
            lux_steps(a, path, place[i].x + dx[ray], place[i].y + dy[ray], &one);
            add_quarter(&one, &value[i]);
        }
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
static bool source_in(const sampler *a, double x, double y, double side) {
    double sx, sy, margin = side * SOURCE_MARGIN;
    place_of(a->k, a->emitter->at_m, &sx, &sy);
    return sx >= x - margin && sx <= x + side + margin && sy >= y - margin &&
           sy <= y + side + margin;
}

/* Whether a cell is too wide for the beam its rays cross, judged where the cell's middle ray and
 * the beam's axis are closest. */
static bool wide_for_beam(const sampler *a, double x, double y, double side) {
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
    const sampler *a = context;
    if (a->emitter->kind != VS_EMITTER_POINT) {
        return false;
    }
    return (side > 1 && source_in(a, x, y, side)) ||
           (a->emitter->profile == VS_PROFILE_SPOT && wide_for_beam(a, x, y, side));
}

/* Whether a cell on a surface is too wide for the patch of light a spot makes there. */
static bool lux_is_fine(void *context, double x, double y, double side) {
    const sampler *a = context;
    const vs_emitter *e = a->emitter;
    if (e->kind != VS_EMITTER_POINT || e->profile != VS_PROFILE_SPOT) {
        return false;
    }
    const vs_ray_path *path = vs_frame_path(a->k, (size_t)(x + side / 2), (size_t)(y + side / 2));
    vs_vec3 p = vs_vec3_sub(vs_frame_surface_at(a->k, path, x, y), e->at_m);
    vs_vec3 q = vs_vec3_sub(vs_frame_surface_at(a->k, path, x + side, y + side), e->at_m);
    double wide_rad = acos(fmin(1, vs_vec3_dot(vs_vec3_unit(p), vs_vec3_unit(q))));
    double off_rad = acos(fmin(1, fmax(-1, vs_vec3_dot(vs_vec3_unit(vs_vec3_add(p, q)), e->axis))));
    return off_rad <= e->spot.cutoff_rad + wide_rad && wide_rad > BEAM_SHARE * e->spot.half_rad;
}

/* ---- the grid's nodes ---- */

void vs_frame_sample_nodes(vs_frame_kept *k, size_t worker, size_t light, size_t first,
                           size_t count) {
    sampler a = sampler_of(k, worker, light);
    vs_cells_place place[VS_FRAME_BATCH];
    for (size_t i = 0; i < count; i++) {
        place[i].x = (uint16_t)((first + i) % vs_frame_nodes_across(k) * k->grid.cell);
        place[i].y = (uint16_t)((first + i) / vs_frame_nodes_across(k) * k->grid.cell);
    }
    sample_veil(&a, place, count, vs_frame_node(k, k->node_veil, light, first));
    sample_lux(&a, place, count, vs_frame_node(k, k->node_lux, light, first));
}

/* A part of the grid: its cells, and their size. */
typedef struct {
    size_t x, y, across, down; /* [cells] */
    size_t cell;               /* [pixels] */
} part_of_grid;

static part_of_grid part_at(const vs_frame_kept *k, size_t part) {
    size_t all_x = vs_frame_cells_across(k), all_y = vs_frame_cells_down(k);
    size_t parts_x = vs_frame_parts_across(k);
    part_of_grid p = {part % parts_x * VS_FRAME_PART_CELLS_X,
                      part / parts_x * VS_FRAME_PART_CELLS_Y, VS_FRAME_PART_CELLS_X,
                      VS_FRAME_PART_CELLS_Y, k->grid.cell};
    p.across = all_x - p.x < p.across ? all_x - p.x : p.across;
    p.down = all_y - p.y < p.down ? all_y - p.y : p.down;
    return p;
}

static void know_nodes(const sampler *a, const part_of_grid *p, vs_cells_value *nodes) {
    const vs_frame_kept *k = a->k;
    for (size_t j = 0; j <= p->down; j++) {
        for (size_t i = 0; i <= p->across; i++) {
            size_t node = (p->y + j) * vs_frame_nodes_across(k) + p->x + i;
            vs_cells_know(&a->w->cells, (p->x + i) * p->cell, (p->y + j) * p->cell, i * p->cell,
                          j * p->cell, vs_frame_node(k, nodes, a->light, node));
        }
    }
}

/* Finds a quantity's cells over a part, from the values at its nodes where these are known. */
static void find(const sampler *a, const vs_cells_field *field, const part_of_grid *p,
                 vs_cells_value *nodes, size_t start, vs_cells_plan *plan) {
    const vs_frame_kept *k = a->k;
    vs_cells *cells = &a->w->cells;
    vs_cells_begin(cells, p->across * p->cell, p->down * p->cell);
    if (k->nodes_known) {
        know_nodes(a, p, nodes);
    }
    vs_frame_note(
        a->w, vs_cells_find(cells, &k->grid, field, p->x * p->cell, p->y * p->cell, start, plan));
}

static void set_steps(const vs_frame_kept *k, vs_cells_field *field, bool per_haze, bool mixed) {
    size_t cells = vs_frame_cells_across(k) * vs_frame_cells_down(k);
    for (int step = 0; step < VS_LADDER_STEPS; step++) {
        field->tolerance[step] = k->tolerance + (size_t)step * cells;
        field->tolerance_mixed[step] =
            (mixed ? k->tolerance_mixed : k->tolerance) + (size_t)step * cells;
        field->unit[step] = per_haze ? k->plan[k->detail].ladder.step_per_m[step] : 1;
    }
}

/* In a coarse picture the veil of an area, expensive but smooth, is interpolated across all edges
 * from cells twice as large; that of a point or a beam, which has edges of its own, down to a
 * quarter. */
static void find_veil(sampler *a, const part_of_grid *p, vs_cells_plan *plan) {
    const vs_frame_kept *k = a->k;
    bool coarse = k->detail == VS_FRAME_COARSE, past = coarse && !is_hard(a->emitter);
    size_t start = past ? VS_FRAME_BOUNCE_CELLS * p->cell : p->cell;
    vs_cells_field veil = {.kind = past ? k->air_kind : k->group_kind,
                           .whole = past ? k->air_whole : k->group_whole,
                           .scale = k->veil_scale,
                           .relative = RELATIVE,
                           .edge = past ? NULL : &k->shaft[a->light],
                           .edge_least = p->cell / SHAFT_PARTS,
                           .fine = veil_is_fine,
                           .sample = sample_veil,
                           .context = a,
                           .least = past     ? start
                                    : coarse ? p->cell / COARSE_PARTS
                                             : 1};
    veil.most = start;
    set_steps(k, &veil, true, true);
    find(a, &veil, p, k->node_veil, start, plan);
}

static void find_lux(sampler *a, const part_of_grid *p, vs_cells_plan *plan) {
    const vs_frame_kept *k = a->k;
    bool coarse = k->detail == VS_FRAME_COARSE, hard = is_hard(a->emitter);
    vs_cells_field lux = {.kind = k->own_kind,
                          .whole = k->own_whole,
                          .scale = k->lux_scale,
                          .relative = RELATIVE,
                          .edge = &k->shadow[a->light],
                          .edge_least = hard ? 1 : p->cell / SOFT_PARTS,
                          .edge_spread = hard && !coarse,
                          .fine = lux_is_fine,
                          .sample = sample_lux,
                          .sample_spread = sample_lux_spread,
                          .context = a,
                          .least = coarse && !hard ? p->cell / COARSE_PARTS : 1};
    lux.most = p->cell;
    set_steps(k, &lux, false, false);
    find(a, &lux, p, k->node_lux, p->cell, plan);
}

void vs_frame_find_light(vs_frame_kept *k, size_t worker, size_t light, size_t part) {
    sampler a = sampler_of(k, worker, light);
    part_of_grid p = part_at(k, part);
    size_t at = part * k->scene->light_count + light;
    find_veil(&a, &p, &k->plan[k->detail].veil[at]);
    find_lux(&a, &p, &k->plan[k->detail].lux[at]);
}
