/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many lines of sight of a shot's camera: the lamps' light that haze scatters into each, what each
 * ends at and its luminance. The same light as in a prediction's points, without the camera's
 * exposure. */
#ifndef VEILSTOP_SHOT_RAYS_H
#define VEILSTOP_SHOT_RAYS_H

#include <stdint.h>

#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A shot prepared in one haze. */
typedef struct {
    void *kept; /* opaque */
} vs_rays;

/** predictor  borrowed, must outlive it; any other use of it invalidates vs_rays_set
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_rays_init(vs_rays *rays, vs_predictor *predictor);
void vs_rays_free(vs_rays *rays);

/** Prepares a shot's lights and bounced light, with the predictor's `dim`.
 *  shot                   index into the scene's shots
 *  room_extinction_per_m  at 549 nm, one per room, copied; NULL: as the shot gives
 *  Errors: those of vs_predict_shot. */
VS_WARN_UNUSED vs_status vs_rays_set(vs_rays *rays, size_t shot,
                                     const double *room_extinction_per_m);

/** Lines of sight from the camera. */
typedef struct {
    size_t count;
    const vs_vec3 *direction; /* unit vectors */
    const double *length_m; /* over 0: where each ends if nothing ends it before; NULL: no limit */
    double relative; /* tolerance of light on surfaces, 1e-10 to 0.1; 0: that of a prediction */
} vs_rays_block;

/** The results. Arrays are the caller's; NULL: not needed and not computed. Those by light have
 *  vs_rays_columns entries per line: one per light of the scene, then what is due to no light. A
 *  light through several openings is given as a whole, its further parts are zero. [cd/m2] */
typedef struct {
    double *length_m;       /* to its end [m] */
    uint32_t *surface;      /* what it ends at: see vs_rays_surface */
    vs_bands *transmission; /* of haze, nets and panes on the line [1] */
    /* by light, at the camera: */
    vs_bands *veil;         /* scattered once */
    vs_bands *bounced_veil; /* after a surface, or more than one droplet */
    /* by light, at what ends the line, to be dimmed by the transmission: */
    vs_bands *direct;  /* straight from each light; last: its own light (a fed panel, the sky) */
    vs_bands *bounced; /* bounced light */
    vs_bands *clear;   /* one per line: the total luminance of its end without haze */
} vs_rays_light;

/** Entries per line of the arrays by light: the scene's lights and one. */
size_t vs_rays_columns(const vs_rays *rays);

/** Computes a block of lines.
 *  light  borrowed; its arrays are filled
 *  Errors: VS_ERR_DOMAIN before vs_rays_set, VS_ERR_MEMORY, VS_ERR_CONVERGENCE; the arrays are then
 *  undefined.
 *  Method: vs_airlight_fast_many, vs_bounce_veil, vs_illuminance, vs_bounce_lux.
 *  Leaves out: light of the lamps themselves that reaches the lens.
 *  Checked: tests/unit/test_rays.c against the points of predictions. */
VS_WARN_UNUSED vs_status vs_rays_ask(vs_rays *rays, const vs_rays_block *block,
                                     const vs_rays_light *light);

typedef enum {
    VS_SURFACE_NONE,    /* the line ended in the air, at the length given */
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

/** The surface that a number in vs_rays_light.surface stands for. Different surfaces have different
 *  numbers. */
vs_surface_seen vs_rays_surface(const vs_rays *rays, uint32_t surface);

#ifdef __cplusplus
}
#endif
#endif
