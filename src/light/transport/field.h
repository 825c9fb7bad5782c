/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The light of one emitter at a strength of 1 in one haze, everywhere. Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_FIELD_H
#define VEILSTOP_LIGHT_TRANSPORT_FIELD_H

#include "light/mesh/air.h"
#include "light/tracing/tracing.h"
#include "veilstop/base/bands.h"

typedef struct {
    void *block;         /* holds them all */
    float *nits;         /* band x patch: what it gives back of all light [cd/m2] */
    double *pooled_nits; /* band x patch: of the pools' direct light, as if it were even */
    double *pool_cd;     /* pool x band: luminance x area of what it gives back */
    float *air_lux;  /* band x patch: of that light what comes from the air of its room, but for */
    float *once_lux; /* the same: the emitter's own light, scattered once */
    float *cell;     /* cell x band x harmonic: light that droplets scattered last, except what
                          * thin beams account for */
} vs_field;

/* What even light of 1 would be in a haze: between cells and patches light is told by its share of
 * that. */
typedef struct {
    void *block;  /* holds both */
    float *cell;  /* cell x band x harmonic: as a field's */
    float *patch; /* band x patch: of what falls on it, what comes from the air of its room [1] */
} vs_even_light;

VS_WARN_UNUSED vs_status vs_even_light_init(vs_even_light *even, const vs_mesh *mesh);
void vs_even_light_free(vs_even_light *even);

VS_WARN_UNUSED vs_status vs_field_init(vs_field *field, const vs_mesh *mesh,
                                       const vs_tracing *tracing);
void vs_field_free(vs_field *field);

#endif
