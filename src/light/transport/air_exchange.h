/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How light goes through the air of rooms in one band of a haze, from patches and cells to patches
 * and cells, for eight lights at a time. Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_AIR_EXCHANGE_H
#define VEILSTOP_LIGHT_TRANSPORT_AIR_EXCHANGE_H

#include "base/vector.h"
#include "light/mesh/air.h"

#define VS_AIR_MOMENTS ((size_t)VS_SH_COUNT * LANES) /* numbers per cell: harmonic x light */

/* Harmonics to an order. */
static inline size_t vs_air_count(int order) {
    return (size_t)((order + 1) * (order + 1));
}

/* Runs a call for harmonics to an order with their count as a constant, for loops of fixed length. */
#define BY_ORDER(order, call)                                                                      \
    switch (order) {                                                                               \
    case 0: {                                                                                      \
        enum { count = 1 };                                                                        \
        call;                                                                                      \
    } break;                                                                                       \
    case 1: {                                                                                      \
        enum { count = 4 };                                                                        \
        call;                                                                                      \
    } break;                                                                                       \
    case 2: {                                                                                      \
        enum { count = 9 };                                                                        \
        call;                                                                                      \
    } break;                                                                                       \
    default: {                                                                                     \
        enum { count = VS_SH_COUNT };                                                              \
        call;                                                                                      \
    } break;                                                                                       \
    }

/* Adds light of one direction to a cell's moments. */
LANES_INLINE void vs_air_add(const float *harmonic, const float light[LANES], int count,
                             float *moment) {
    for (int n = 0; n < count; n++) {
        EACH_LANE(l) {
            moment[n * LANES + l] += harmonic[n] * light[l];
        }
    }
}

/* Exchanges as one band of a haze dims them; one per thread. */
typedef struct {
    void *block;     /* holds them all */
    float *to_patch; /* cell x patch: solid angle x what haze lets by [sr] */
    float *to_cell;  /* cell x cell: what haze lets by/distance^2 [1/m2] */
    float *whole;    /* cell x harmonic: what of its light comes to patches and cells [1] */
    float *passes;   /* offset: what haze lets by/distance^2 [1/m2] */
    double *through, *through_air; /* of patches behind openings, and of air: as to_patch */
    float *to_side; /* side of an opening x cell of the room beyond x harmonic: what comes to it */
    size_t *side_first; /* where a side begins in to_side, in cells; as many as sides and one */
    double *k_per_m;    /* room: extinction of light on its way */
    float *even; /* cell x harmonic: what comes to it of cells of its room in even light of 1 */
    double *scratch;
    float *more; /* cell x harmonic x LANES: scratch */
} vs_air_work;

VS_WARN_UNUSED vs_status vs_air_work_init(vs_air_work *work, const vs_air *air);
void vs_air_work_free(vs_air_work *work);

/* Sets one band of a haze, so that all that patches and cells send reaches patches and cells.
 *     room_extinction_per_m, rate  as vs_radiosity_dim
 *     taken  patch: what haze takes of light on its way to it from all directions [1] */
void vs_air_dim(const vs_air *air, const double *room_extinction_per_m, double rate,
                const double *taken, vs_air_work *work);

/* Adds what patches of a luminance send to the cells of their rooms, by harmonics to degree
 * `order`, and behind openings.
 *     scale   side of an opening x LANES: of what is seen through it
 *     moment  cell x harmonic x LANES: of the radiance at its middle */
void vs_air_send(const vs_air *air, const vs_air_work *work, const double *nits, const float *scale,
                 int order, float *moment);

/* Droplets, as they meet light. */
typedef struct {
    double albedo_rate;                  /* scattering over extinction of light on its way [1] */
    double rest[LANES][VS_SH_ORDER + 1]; /* light: moments of the phase function's rest */
} vs_air_droplets;

/* What droplets send of the light that falls on them, by harmonics of its direction to degree
 * `order`, the only ones written [lm/sr]; in all, exactly the scattered part of what haze takes.
 * Adds that total to `lumens`. */
void vs_air_source(const vs_air *air, const vs_air_work *work, const vs_air_droplets *droplets,
                   const float *moment, int order, float *source, double lumens[LANES]);

/* What sources of degrees to `order` send to cells of their room, in the same degrees, which it
 * overwrites in `moment`. */
void vs_air_scatter(const vs_air *air, const vs_air_work *work, const float *source, int order,
                    float *moment);

/* What sources of degrees to `order` send to patches. patch_lm: patch x LANES: what ends there */
void vs_air_land(const vs_air *air, const vs_air_work *work, const float *source, int order,
                 double *patch_lm);

#endif
