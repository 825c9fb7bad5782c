/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How light goes through the air of rooms, in cells: fixed rays from every cell and every patch,
 * found once a location, that carry light in any haze, for eight lights at a time. Inside
 * src/light. Sources: Askew 1972, AEEW-M 1108 (method of characteristics); Lathrop 1968, Nucl. Sci.
 * Eng. 32, 357 (ray effects: here each cell and patch has directions of its own). */
#ifndef VEILSTOP_LIGHT_BOUNCE_AIR_H
#define VEILSTOP_LIGHT_BOUNCE_AIR_H

#include "light/bounce/mesh.h"
#include "light/bounce/scattering.h"
#include "veilstop/light/camera_ray.h"

/* From each cell and from each patch; measured: docs/accuracy.md. */
#define VS_AIR_CELL_RAYS  24
#define VS_AIR_PATCH_RAYS 12
#define VS_AIR_MOMENTS    ((size_t)VS_SH_COUNT * LANES) /* numbers a cell: harmonic x light */
#define VS_AIR_NOTHING    UINT32_MAX

typedef struct {
    uint32_t cell, room;
    float length_m;
} vs_air_crossing;

typedef struct {
    uint32_t crossing_end; /* its crossings begin where those of the ray before end */
    uint32_t room_end;     /* those in its first room end there, the others are behind openings */
    uint32_t target;       /* patch where it ends in its first room; else NOTHING */
    float harmonic[VS_SH_COUNT]; /* of its direction */
} vs_air_ray;

typedef struct {
    const vs_mesh *mesh;
    vs_air_ray *ray; /* patch x VS_AIR_PATCH_RAYS, then cell x VS_AIR_CELL_RAYS */
    size_t ray_count;
    vs_air_crossing *crossing;
    size_t crossing_count, crossing_size;
} vs_air;

/* mesh  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_air_init(vs_air *air, const vs_mesh *mesh);
void vs_air_free(vs_air *air);

/* The cells that a straight piece of a room crosses, in order. Returns how many. */
#define VS_AIR_CROSSINGS_MAX 128
size_t vs_air_cross(const vs_mesh *mesh, size_t room, vs_vec3 at_m, vs_vec3 way, double length_m,
                    vs_air_crossing *crossing);

/* One band of a haze. */
typedef struct {
    const double *room_extinction_per_m; /* at 549 nm */
    double rate;                         /* extinction over that [1] */
    double dimming, albedo;              /* of light on its way between droplets and surfaces */
    double rest[LANES][VS_SH_ORDER + 1]; /* light: moments of the phase function's rest */
} vs_air_band;

/* Adds what patches of a luminance send through the air.
 *     nits    patch x LANES
 *     moment  cell x harmonic x LANES: radiance on its way, by travel
 *     lost    of each light, what haze takes of it [lm] */
void vs_air_send(const vs_air *air, const vs_air_band *band, const double *nits, float *moment,
                 double lost[LANES]);

/* Adds what droplets send that light falls on.
 *     in        moments of that light
 *     due       of each light, what is scattered in all [lm]: the sum is brought to it
 *     out       moments of what they send within their room; behind: past openings
 *     patch_lm  patch x LANES: what ends there
 *     lost      of each light, what haze takes of it again [lm] */
void vs_air_scatter(const vs_air *air, const vs_air_band *band, const float *in,
                    const double due[LANES], float *out, float *behind, double *patch_lm,
                    double lost[LANES]);

#endif
