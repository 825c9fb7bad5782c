/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The contents of a frame: the geometry of its picture, memory for its workers, the current
 * haze. */
#ifndef VEILSTOP_PICTURE_VIEW_KEPT_H
#define VEILSTOP_PICTURE_VIEW_KEPT_H

#include "picture/interpolation/cells.h"
#include "picture/view/ray_paths.h"
#include "shot/sight/camera_setup.h"
#include "veilstop/light/illuminance.h"
#include "veilstop/picture/frame.h"
#include "veilstop/shot/scene_emitters.h"

#define VS_FRAME_PLANES       6 /* of three bands: hazed, transmission, veil, indirect, lux, bounced */
#define VS_FRAME_BATCH        64   /* rays computed together */
#define VS_FRAME_LUX_RELATIVE 1e-4 /* [1] tolerance of light on surfaces */
#define VS_FRAME_PART_CELLS_X 2    /* first cells across a part filled by one worker at a time */
#define VS_FRAME_PART_CELLS_Y 2

#define VS_FRAME_BOUNCE_CELLS 2 /* first cells per side, for bounced light */

#define VS_FRAME_RAYS 8 /* rays for a pixel crossed by an edge */

/* A pixel crossed by an edge: for each ray a nearby pixel that sees the same. */
typedef struct {
    uint32_t pixel;
    int8_t dx[VS_FRAME_RAYS], dy[VS_FRAME_RAYS]; /* VS_FRAME_NO_RAY: there is none */
} vs_frame_edge;
#define VS_FRAME_NO_RAY 127

/* The state of a worker. */
typedef struct {
    vs_airlight work;
    vs_cells cells;
    vs_camera_ray *ray;                /* VS_FRAME_BATCH */
    float (*value)[VS_CELLS_CHANNELS]; /* samples of the largest plan, at one density */
    size_t value_size;
    vs_bands *once, *direct, *share, *more; /* one a light, for bounced light */
    vs_bounce_solver beside;                /* reads what was solved, while cells are found */
    vs_status status;
} vs_frame_worker;

/* One step of a ladder: the lights and their bounced light in its haze. */
typedef struct {
    double *room_extinction_per_m;
    vs_emitter *light; /* one a light of the scene */
    vs_bounce bounce;  /* while cells are found */
} vs_frame_step;

/* Plans that are kept beside the one in hand, so that a control that goes to and fro over the end of
 * a range pays once: from thin to heavy there are about so many ranges. */
#define VS_FRAME_PLANS_OLDER 3

#define VS_FRAME_DETAILS 2 /* coarse, fine */

/* Cells of every light for a range of densities. */
typedef struct {
    bool made;
    vs_ladder ladder;
    int near; /* in a coarse picture, the step whose bounced light stands for that of all */
    double *room_share, *dim; /* what it was made for: each room's haze over the most, each light */
    vs_cells_plan *veil, *lux; /* part x light */
    vs_cells_plan bounced_veil, bounced_lux;
} vs_frame_plan;

typedef struct {
    vs_predictor *predictor;
    const vs_scene *scene;
    const vs_scene_shot *shot;
    const vs_camera *camera;
    const vs_runner *runner;
    size_t width, height;

    vs_view view; /* of the part of the sensor shown in the picture */
    double *no_haze;
    vs_bodies bodies;
    vs_ray_paths paths;
    vs_cells_grid grid;
    uint16_t *label;
    uint16_t *group_kind, *own_kind, *air_kind; /* one per path: veils, surfaces, bounced veils */
    uint16_t *group_whole, *own_whole,
        *air_whole; /* one per cell of the grid, as in vs_cells_field */
    float *veil_scale, *lux_scale;
    vs_lines_frame lines_frame;
    vs_lines outline;
    vs_lines *shaft, *shadow; /* one per light */
    vs_frame_edge *edge;
    size_t edge_count;
    float *edge_mean; /* workspace, one per edge */

    vs_frame_worker *worker;
    size_t worker_count;
    vs_cells wide;        /* the whole grid, for bounced light */
    vs_cells_value *more; /* sample of bounced veil x light: sent straight on, of its veil */
    size_t more_count, more_size;
    size_t *region_of_part; /* first of bounced veil's regions in each part */
    double longest_m;       /* path to anything in the picture */

    vs_frame_plan plan[VS_FRAME_DETAILS];
    vs_frame_plan older[VS_FRAME_DETAILS][VS_FRAME_PLANS_OLDER]; /* the newest first */
    vs_frame_step step[VS_LADDER_STEPS];
    vs_medium medium[VS_LADDER_STEPS];    /* of the steps */
    vs_frame_detail detail;               /* that is being found, or filled */
    vs_cells_value *node_veil, *node_lux; /* light x node */
    float *tolerance, *tolerance_mixed;   /* step x cell of the grid */
    bool nodes_known;

    /* the haze in hand */
    vs_camera_setup setup;
    double *room_extinction_per_m;
    bool hazed_air;
    bool bounce_known; /* in this haze */
    double most_per_m; /* haze of the thickest room */
    double weight[VS_LADDER_STEPS];
    float (*wide_veil)[VS_CELLS_CHANNELS], (*wide_lux)[VS_CELLS_CHANNELS]; /* of bounced light */
    vs_bands *own;                                                         /* one per path */
    vs_frame_layers layers;
    vs_frame_plane lux, bounced_lux; /* on what is seen */
    float *memory;                   /* of all planes except those by light */
    float *by_light;
    bool rendered;
} vs_frame_kept;

static inline vs_vec3 vs_frame_direction(const vs_frame_kept *k, double x, double y) {
    return vs_ray_paths_direction(&k->view, 2 * (x + 0.5) / (double)k->width - 1,
                                  1 - 2 * (y + 0.5) / (double)k->height);
}

static inline const vs_ray_path *vs_frame_path(const vs_frame_kept *k, size_t x, size_t y) {
    return &k->paths.item[k->label[y * k->grid.across + x]];
}

static inline size_t vs_frame_cells_across(const vs_frame_kept *k) {
    return (k->grid.across - 1) / k->grid.cell;
}

static inline size_t vs_frame_cells_down(const vs_frame_kept *k) {
    return (k->grid.down - 1) / k->grid.cell;
}

/* Whether bounced light is computed at a step of the ladder. */
static inline bool vs_frame_asks_bounce(const vs_frame_kept *k, int step) {
    return k->detail == VS_FRAME_FINE || step == k->plan[k->detail].near;
}

/* Nodes of the grid: corners of its first cells. */
static inline size_t vs_frame_nodes_across(const vs_frame_kept *k) {
    return vs_frame_cells_across(k) + 1;
}

static inline size_t vs_frame_node_count(const vs_frame_kept *k) {
    return vs_frame_nodes_across(k) * (vs_frame_cells_down(k) + 1);
}

static inline vs_cells_value *vs_frame_node(const vs_frame_kept *k, vs_cells_value *of,
                                            size_t light, size_t node) {
    return of + light * vs_frame_node_count(k) + node;
}

/* Parts of the grid that one worker does at a time. */
static inline size_t vs_frame_parts_across(const vs_frame_kept *k) {
    return (vs_frame_cells_across(k) + VS_FRAME_PART_CELLS_X - 1) / VS_FRAME_PART_CELLS_X;
}

static inline size_t vs_frame_part_count(const vs_frame_kept *k) {
    return vs_frame_parts_across(k) *
           ((vs_frame_cells_down(k) + VS_FRAME_PART_CELLS_Y - 1) / VS_FRAME_PART_CELLS_Y);
}

static inline bool vs_frame_shines(const vs_emitter *emitter) {
    return vs_bands_luminance(emitter->strength) > 0;
}

/* Notes a worker's first failure. */
static inline void vs_frame_note(vs_frame_worker *worker, vs_status status) {
    worker->status = worker->status == VS_OK ? status : worker->status;
}

/* Bands of one step of a value. */
static inline void vs_frame_store(vs_bands bands, vs_cells_value *value, int step) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        value->at[band][step] = (float)bands.v[band];
    }
}

static inline vs_bands vs_frame_stored(const vs_cells_value *value, int step) {
    vs_bands bands;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        bands.v[band] = (double)value->at[band][step];
    }
    return bands;
}

/* ---- geometry.c: once per frame ---- */
VS_WARN_UNUSED vs_status vs_frame_geometry(vs_frame_kept *k);

/* The first failure of any worker. */
static inline vs_status vs_frame_status(const vs_frame_kept *k) {
    for (size_t i = 0; i < k->worker_count; i++) {
        if (k->worker[i].status != VS_OK) {
            return k->worker[i].status;
        }
    }
    return VS_OK;
}

/* ---- plan.c: once a range of densities ---- */
/* Makes the plan for the haze in hand, where it is not there yet. */
VS_WARN_UNUSED vs_status vs_frame_plan_make(vs_frame_kept *k);
void vs_frame_plan_free(vs_frame_kept *k, vs_frame_plan *plan);

/* ---- fields.c: rays to light ---- */
/* The line of sight of a place of the grid, in a haze, to what is seen there. */
vs_camera_ray vs_frame_sight(const vs_frame_kept *k, const vs_medium *medium,
                             const vs_ray_path *path, double x, double y);
/* Once-scattered light of one light on lines, in the haze of every step of the ladder.
 *  ray  in the first step's;  nits  count x VS_LADDER_STEPS */
vs_status vs_frame_line_veils(const vs_frame_kept *k, vs_airlight *work, size_t light,
                              const vs_camera_ray *ray, size_t count, vs_bands *nits);
/* The point of the surface seen there. */
vs_vec3 vs_frame_surface_at(const vs_frame_kept *k, const vs_ray_path *path, double x, double y);
/* Transmission of the haze alone to what is seen, and its distance along the camera's axis. */
vs_bands vs_frame_dimming(const vs_frame_kept *k, const vs_medium *medium, const vs_ray_path *path,
                          double x, double y, double *depth_m);
/* Once-scattered light, and light on surfaces, of one light at nodes of the grid. */
void vs_frame_sample_nodes(vs_frame_kept *k, size_t worker, size_t light, size_t first,
                           size_t count);
/* Finds the cells of one light over one part of the grid. */
void vs_frame_find_light(vs_frame_kept *k, size_t worker, size_t light, size_t part);

/* ---- bounced.c ---- */
/* Finds the cells of bounced light over the whole grid, once it is solved for at every step. */
vs_status vs_frame_find_bounced(vs_frame_kept *k);
/* Solves for bounced light in the haze in hand, where that was not done yet. */
VS_WARN_UNUSED vs_status vs_frame_solve_bounce(vs_frame_kept *k);
/* Bounced light of one ray in the haze in hand: veil, and on the surface at its end. */
vs_status vs_frame_bounced(vs_frame_kept *k, vs_frame_worker *w, const vs_ray_path *path, double x,
                           double y, vs_bands *veil, vs_bands *lux);

/* ---- fill.c ---- */
/* All planes, in the haze in hand, by the plan in hand. */
void vs_frame_fill(vs_frame_kept *k);

/* ---- finish.c: planes to the picture ---- */
void vs_frame_finish_rows(vs_frame_kept *k, size_t first, size_t count);
void vs_frame_finish_edges(vs_frame_kept *k);
vs_bands vs_frame_own_nits(const vs_frame_kept *k, const vs_ray_path *path);

#endif
