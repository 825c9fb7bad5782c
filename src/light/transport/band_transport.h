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
    void *block;                  /* holds the arrays */
    uint32_t *patch_of, *cell_of; /* of the fine mesh: the coarse one that holds its middle */
    vs_coarse_patches *patches;   /* one a fine patch, about its middle */
    vs_coarse_cells *cells;       /* one a fine cell */
} vs_coarse;

/* surfaces  those of `fine`.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_coarse_init(vs_coarse *coarse, const vs_mesh *fine,
                                        const vs_surfaces *surfaces);
void vs_coarse_free(vs_coarse *coarse);

/* What is brought from the coarse mesh to the fine one. Of patches: what they give back of all light
 * but that straight from lamps; what lands from the air, and of that what was scattered once; what
 * haze takes of even light. Of cells: what they see, and what of even light. */
typedef enum { MORE_NITS, AIR_LM, ONCE_LM, TAKEN, PATCH_KINDS } vs_coarse_patch_light;
typedef enum { SEEN, EVEN, CELL_KINDS } vs_coarse_cell_light;

typedef struct {
    double *patch[PATCH_KINDS]; /* patch x LANES */
    float *cell[CELL_KINDS];    /* cell x harmonic x LANES */
} vs_coarse_light;

/* Memory to solve in; one per thread. */
typedef struct {
    const vs_coarse *location; /* borrowed */
    vs_transport fine, coarse;
    void *block;                 /* holds the arrays */
    double *direct_nits;         /* fine patch x LANES: green, straight from lamps */
    vs_coarse_light green, band; /* of the coarse mesh; another band's */
} vs_band_transport;

VS_WARN_UNUSED vs_status vs_band_transport_init(vs_band_transport *transport,
                                                const vs_coarse *coarse,
                                                const vs_radiosity *radiosity, const vs_air *air);
void vs_band_transport_free(vs_band_transport *transport);

/* Sets the haze. */
void vs_band_transport_dim(vs_band_transport *transport, const vs_medium *medium,
                           const vs_scattering *scattering);

/* Solves some emitters' fields in the haze that was set.
 *     walks, field  count of them, at most LANES; the fields have room
 *     even          out: even light in that haze
 * Errors: VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_band_transport_solve(
    vs_band_transport *transport, const vs_medium *medium, const vs_scattering *scattering,
    const vs_tracing *const *walks, vs_field *const *field, size_t count, vs_even_light *even);

#endif
