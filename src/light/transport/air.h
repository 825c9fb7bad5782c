/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How light goes through the air of rooms, in cells: what each cell exchanges with every patch and
 * every cell of its room and with what it sees through openings, found once a location, for eight
 * lights at a time in any haze. Inside src/light.
 * Sources: Hottel & Sarofim 1967, Radiative Transfer, ch. 7 (zones that exchange light); Sinkhorn
 * 1967, Am. Math. Mon. 74, 402 (bringing a matrix to given sums). */
#ifndef VEILSTOP_LIGHT_TRANSPORT_AIR_H
#define VEILSTOP_LIGHT_TRANSPORT_AIR_H

#include "light/transport/radiosity.h"
#include "light/transport/scattering.h"
#include "veilstop/light/camera_ray.h"

#define VS_AIR_MOMENTS ((size_t)VS_SH_COUNT * LANES) /* numbers a cell: harmonic x light */

/* A direction in which a cell sends to another, or one of a few for neighbours. */
typedef struct {
    float harmonic[VS_SH_COUNT];
} vs_air_way;

typedef struct {
    size_t patch_first, patch_count, stride; /* stride: patches made up to whole lanes */
    size_t solid_first;                      /* in solid_sr, away_m and to: cell x stride */
    size_t pair_first;                       /* in open and in work: cell x cell */
    size_t offset_first, reach[3];           /* in offset: cells one way + cells the other - 1 */
    bool screened;                           /* open tells what screens let by; else all is 1 */
} vs_air_room;

/* From a cell to another so many cells off along x, y and z. */
typedef struct {
    double per_m2, away_m; /* mean of 1/distance^2 between their places; their middles' distance */
    size_t way_first, way_count; /* of neighbours several, each a share */
    float way_share;
} vs_air_offset;

typedef struct {
    const vs_mesh *mesh;
    vs_air_room *room;
    /* of patches as seen from cells: solid angle past screens, which with what nets stop is 4 pi in
     * all, distance, unit vector */
    float *solid_sr, *away_m, *to[3];
    float *open; /* from cell to cell */
    size_t solid_count, pair_count, stride_most;
    vs_air_offset *offset;
    size_t offset_count;
    vs_air_way *way;
    size_t way_count, way_size;
    vs_throughs through; /* what cells see behind openings */
} vs_air;

/* mesh  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_air_init(vs_air *air, const vs_mesh *mesh);
void vs_air_free(vs_air *air);

typedef struct {
    uint32_t cell, room;
    float length_m;
} vs_air_crossing;

/* The cells that a straight piece of a room crosses, in order. Returns how many. */
#define VS_AIR_CROSSINGS_MAX 128
size_t vs_air_cross(const vs_mesh *mesh, size_t room, vs_vec3 at_m, vs_vec3 way, double length_m,
                    vs_air_crossing *crossing);

/* Exchanges as one band of a haze dims them; one a thread. */
typedef struct {
    float *to_patch; /* cell x patch: solid angle x what haze lets by [sr] */
    float *to_cell;  /* cell x cell: what haze lets by/distance^2 [1/m2] */
    float *whole;    /* cell x harmonic: what of its light comes to patches and cells [1] */
    float *passes;   /* offset: what haze lets by/distance^2 [1/m2] */
    double *through; /* what comes by openings: as to_patch */
    double *k_per_m; /* room: extinction of light on its way */
    double *middle;  /* room: light from droplets at cells' middles over its mean in cells [1] */
    double *scratch;
} vs_air_work;

VS_WARN_UNUSED vs_status vs_air_work_init(vs_air_work *work, const vs_air *air);
void vs_air_work_free(vs_air_work *work);

/* Takes up one band of a haze, so that all that patches and cells send comes to patches and cells.
 *     room_extinction_per_m, rate  as vs_radiosity_dim
 *     taken  patch: of light that falls on it from all round, what haze takes on its way [1] */
void vs_air_dim(const vs_air *air, const double *room_extinction_per_m, double rate,
                const double *taken, vs_air_work *work);

/* Adds what patches of a luminance send to the cells of their rooms, by harmonics to degree
 * `order`, and behind openings. nits    patch x LANES moment  cell x harmonic x LANES: of the
 * radiance at its middle */
void vs_air_send(const vs_air *air, const vs_air_work *work, const double *nits, int order,
                 float *moment);

/* Droplets, as they meet light. */
typedef struct {
    double albedo_rate;                  /* scattering over extinction of light on its way [1] */
    double rest[LANES][VS_SH_ORDER + 1]; /* light: moments of the phase function's rest */
} vs_air_droplets;

/* What droplets send of the light that falls on them, by harmonics of its direction to degree
 * `order` [lm/sr]; in all, just what is scattered of what haze takes. Adds what that is to
 * `lumens`.
 */
void vs_air_source(const vs_air *air, const vs_air_work *work, const vs_air_droplets *droplets,
                   const float *moment, int order, float *source, double lumens[LANES]);

/* What sources of degrees to `order` send to cells of their room, the same degrees of it.
 * Overwrites `moment`. */
void vs_air_scatter(const vs_air *air, const vs_air_work *work, const float *source, int order,
                    float *moment);

/* Adds what cells see through openings of air that sends the light of `seen`. */
void vs_air_look_through(const vs_air *air, const vs_air_work *work, const float *seen,
                         float *moment);

/* Adds what rows see of that air: nits, row x LANES. weight: of each, as haze dims it */
void vs_air_behind(const vs_throughs *through, const double *weight, const float *seen,
                   double *nits);

/* What sources of degrees to `order` send to patches. patch_lm: patch x LANES: what ends there */
void vs_air_land(const vs_air *air, const vs_air_work *work, const float *source, int order,
                 double *patch_lm);

#endif
