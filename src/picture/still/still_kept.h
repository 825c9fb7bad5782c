/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a photo's haze is worked out on: a grid of samples, one for each square of pixels, of which a
 * frame gives the veil. Between samples of one thing all is smooth; where another thing begins, each
 * pixel finds its own. */
#ifndef VEILSTOP_PICTURE_STILL_STILL_KEPT_H
#define VEILSTOP_PICTURE_STILL_STILL_KEPT_H

#include "veilstop/camera/view.h"
#include "veilstop/picture/still.h"
#include "veilstop/shot/rays.h"

#define VS_STILL_THING_NONE UINT32_MAX

/* How a line of sight goes through haze: in the first room, and on to its end. */
typedef struct {
    uint32_t thing;           /* what ends it: walls of one room are one */
    float length_m;           /* to there */
    float first_m;            /* to where it leaves the first room */
    float first_depth, depth; /* optical depth at 549 nm to there, and to the end [1] */
} vs_still_sight;

/* Shares of the veil before a depth, on a coarse grid, for maps of depth. */
#define VS_STILL_SHARES_ACROSS 33 /* our choice */
#define VS_STILL_SHARES_DOWN   25 /* our choice */
#define VS_STILL_SHARE_STEPS   8  /* of a line's length; our choice */

typedef struct {
    const vs_scene *scene; /* the caller's */
    vs_scene own;          /* the same with the photo's camera, and a shot without points */
    vs_camera *camera;
    vs_scene_shot *shot_list;
    size_t shot;
    size_t width, height; /* of the photo */
    const vs_still_depth *depth;
    const vs_runner *runner;
    vs_predictor predictor;
    bool predictor_open, frame_open, rays_open, hazed;
    vs_frame frame;
    vs_rays rays;
    vs_view view;        /* of the photo */
    size_t block;        /* [pixels] a sample, each way */
    size_t across, down; /* samples */
    double *room_extinction_per_m;
    vs_medium medium;
    vs_still_sight *sight; /* one a sample */
    bool *pure;            /* one a sample: those about it see the same */
    bool *even; /* one a cell, by its first corner: its four corners are pure and one thing */
    float (*veil)[VS_BAND_COUNT];         /* [cd/m2] one a sample */
    float (*transmission)[VS_BAND_COUNT]; /* one a sample */
    float *share;                         /* [1] VS_STILL_SHARES_* x steps, with a depth map */
} vs_still_kept;

static inline vs_still_kept *vs_still_of(const vs_still *still) {
    return still->kept;
}

/* Where a pixel's middle is on the grid of samples. */
static inline double vs_still_grid_x(const vs_still_kept *k, double x_px) {
    return (x_px - 0.5 * (double)k->width) / (double)k->block + 0.5 * (double)k->across - 0.5;
}
static inline double vs_still_grid_y(const vs_still_kept *k, double y_px) {
    return (y_px - 0.5 * (double)k->height) / (double)k->block + 0.5 * (double)k->down - 0.5;
}

/* The direction of a place of the photo [pixels], of length 1 along the camera's axis. */
static inline vs_vec3 vs_still_direction(const vs_still_kept *k, double x_px, double y_px) {
    vs_vec3 direction = vs_vec3_along(k->view.forward, k->view.right,
                                      (2 * x_px / (double)k->width - 1) * k->view.half_width);
    return vs_vec3_along(direction, k->view.up,
                         (1 - 2 * y_px / (double)k->height) * k->view.half_height);
}

/* Optical depth at 549 nm over the first so many metres of a line [1]. */
static inline double vs_still_depth_to(const vs_still_sight *s, double length_m) {
    if (!(length_m < (double)s->length_m)) {
        return (double)s->depth;
    }
    if (length_m <= (double)s->first_m) {
        return s->first_m > 0 ? (double)s->first_depth * length_m / (double)s->first_m : 0;
    }
    return (double)s->first_depth + (double)(s->depth - s->first_depth) *
                                        (length_m - (double)s->first_m) /
                                        (double)(s->length_m - s->first_m);
}

/* ---- still_sight.c ---- */
/* The line of sight along a direction of any length, through the haze in hand. */
vs_still_sight vs_still_sight_along(const vs_still_kept *k, vs_vec3 direction);

/* ---- still_depth.c ---- */
/* Works out the shares of the veil before each depth, in the haze in hand. */
VS_WARN_UNUSED vs_status vs_still_share_init(vs_still_kept *k);
/* The share of a pixel's veil that lies before a share of its line's length. */
double vs_still_share_at(const vs_still_kept *k, double x_px, double y_px, double length_share);
/* What the map says at a pixel [m], square to the picture; INFINITY where it says nothing. */
double vs_still_map_at(const vs_still_kept *k, size_t x, size_t y);

#endif
