/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's camera asked along many lines of sight: what of the lamps' light the haze sends up each,
 * what each ends at and how bright that is. The same light as behind a prediction's points, without
 * a camera's exposure. */
#ifndef VEILSTOP_SHOT_RAYS_H
#define VEILSTOP_SHOT_RAYS_H

#include <stdint.h>

#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A shot made ready in one haze. */
typedef struct {
    void *kept; /* opaque */
} vs_rays;

/** predictor  borrowed, must outlive it; whatever else is asked of it ends what vs_rays_set made
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_rays_init(vs_rays *rays, vs_predictor *predictor);
void vs_rays_free(vs_rays *rays);

/** Makes a shot's lights and the light that bounced ready, at the predictor's `dim`.
 *  shot                   index into the scene's shots
 *  room_extinction_per_m  at 549 nm, one a room, copied; NULL: as the shot says
 *  Errors: those of vs_predict_shot. */
VS_WARN_UNUSED vs_status vs_rays_set(vs_rays *rays, size_t shot,
                                     const double *room_extinction_per_m);

/** Lines of sight from the camera. */
typedef struct {
    size_t count;
    const vs_vec3 *direction; /* unit vectors */
    const double *length_m; /* over 0, where to end each that nothing ends before; NULL: nowhere */
    double relative; /* tolerance of light on surfaces, 1e-10 to 0.1; 0: that of a prediction */
} vs_rays_block;

/** What is found on them. Arrays of the caller's; NULL: not asked for, and not worked out. Those by
 *  light have vs_rays_columns a line: one a light of the scene, and last what began at no light. A
 *  light through several openings is told as a whole, its further parts are zero. [cd/m2] */
typedef struct {
    double *length_m;       /* to what ends it [m] */
    uint32_t *surface;      /* what ends it: see vs_rays_surface */
    vs_bands *transmission; /* of haze, nets and panes on the way [1] */
    /* by light, at the camera: */
    vs_bands *veil;         /* scattered once */
    vs_bands *bounced_veil; /* what met a surface, or more than one droplet, first */
    /* by light, at what ends the line, to be dimmed by the transmission: */
    vs_bands *direct;  /* straight from each light; last: its own light (a fed panel, the sky) */
    vs_bands *bounced; /* what bounced first */
    vs_bands *clear;   /* one a line: the luminance of what ends it, all told, without haze */
} vs_rays_light;

/** Columns of the arrays by light: the scene's lights and one. */
size_t vs_rays_columns(const vs_rays *rays);

/** Asks a block of lines.
 *  light  borrowed; its arrays are filled
 *  Errors: VS_ERR_DOMAIN before vs_rays_set, VS_ERR_MEMORY, VS_ERR_CONVERGENCE; arrays are then of
 *  no use.
 *  Method: vs_airlight_fast_many, vs_bounce_veil, vs_illuminance, vs_bounce_lux.
 *  Leaves out: the lamps' own light reaching the lens.
 *  Checked: tests/unit/test_rays.c against the points of predictions. */
VS_WARN_UNUSED vs_status vs_rays_ask(vs_rays *rays, const vs_rays_block *block,
                                     const vs_rays_light *light);

typedef enum {
    VS_SURFACE_NONE,    /* the line ended in the air, at the length asked for */
    VS_SURFACE_FACE,    /* of a room: index the room, side the face (VS_FACE_WEST ...) */
    VS_SURFACE_BLOCKER, /* index of the blocker; side 0 its front */
    VS_SURFACE_PANEL,   /* a fed panel: index of the light; side 0 its front, which shines */
    VS_SURFACE_OUTSIDE  /* seen through an opening: its index */
} vs_surface_kind;

typedef struct {
    vs_surface_kind kind;
    size_t index;
    int side;
} vs_surface_seen;

/** What a number in vs_rays_light.surface stands for. Different surfaces have different numbers. */
vs_surface_seen vs_rays_surface(const vs_rays *rays, uint32_t surface);

#ifdef __cplusplus
}
#endif
#endif
