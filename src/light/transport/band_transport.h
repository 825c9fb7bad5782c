/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The three bands of some emitters' fields. Surfaces are grey and droplets nearly so: bands differ
 * by how much haze dims and scatters, hardly by where light goes. So one band, green, is solved on
 * the fine mesh; the others have their own light straight from lamps, and for all other light
 * green's, times the ratio that a coarse mesh, solved in each band, gives. Private to src/light.
 * Source: Brandt 1977, Math. Comput. 31, 333 (a coarse grid that corrects a fine one). */
#ifndef VEILSTOP_LIGHT_TRANSPORT_BAND_TRANSPORT_H
#define VEILSTOP_LIGHT_TRANSPORT_BAND_TRANSPORT_H

#include "light/transport/transport.h"

/* The coarse values around a place of the fine mesh: four or eight, and their shares. */
typedef struct {
    uint32_t patch[4];
    float share[4];
} vs_coarse_patches;

typedef struct {
    uint32_t cell[8];
    float share[8];
} vs_coarse_cells;

/* A location's coarse mesh: made once, then only read. */
typedef struct {
    vs_mesh mesh;
    vs_radiosity radiosity;
    vs_air air;
    uint32_t *patch_of, *cell_of; /* of the fine mesh: the coarse one that holds its middle */
    vs_coarse_patches *patches;   /* one a fine patch, about its middle */
    vs_coarse_cells *cells;       /* one a fine cell */
} vs_coarse;

/* surfaces  those of `fine`.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_coarse_init(vs_coarse *coarse, const vs_mesh *fine,
                                        const vs_surfaces *surfaces);
void vs_coarse_free(vs_coarse *coarse);

/* Memory to solve in; one per thread. */
typedef struct {
    const vs_coarse *location; /* borrowed */
    vs_transport fine, coarse;
    double *direct_nits; /* fine patch x LANES: green, straight from lamps */
    /* band, then coarse patch or cell x LANES: all but what is straight from lamps; what comes from
     * air; degree 0 of what cells see */
    double *more_nits[VS_BAND_COUNT], *air_lm[VS_BAND_COUNT], *once_lm[VS_BAND_COUNT];
    float *seen[VS_BAND_COUNT];
    /* of even light, a band a lane, and green in all lanes: what coarse cells see; of coarse patches,
     * what comes from air */
    float *even_cell, *green_cell;
    double *even_patch, *green_patch;
} vs_band_transport;

VS_WARN_UNUSED vs_status vs_band_transport_init(vs_band_transport *transport,
                                                const vs_coarse *coarse,
                                                const vs_radiosity *radiosity, const vs_air *air);
void vs_band_transport_free(vs_band_transport *transport);

/* Sets the haze. */
void vs_band_transport_dim(vs_band_transport *transport, const vs_medium *medium,
                           const vs_scattering *scattering);

/* Even light in the haze that fields were last solved in. */
void vs_band_transport_even(const vs_band_transport *transport, const vs_medium *medium,
                            vs_even_light *even);

/* Solves some emitters' fields in the haze that was set.
 *     walks, field  count of them, at most LANES; the fields have room
 * Errors: VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_band_transport_solve(vs_band_transport *transport,
                                                 const vs_medium *medium,
                                                 const vs_scattering *scattering,
                                                 const vs_tracing *const *walks,
                                                 vs_field *const *field, size_t count);

#endif
