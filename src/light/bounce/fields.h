/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Emitters' fields, kept for the last few hazes. Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_FIELDS_H
#define VEILSTOP_LIGHT_BOUNCE_FIELDS_H

#include "light/bounce/gathered.h"
#include "light/mesh/scattering.h"
#include "light/transport/band_transport.h"

/* Clear air, and as many densities as a search goes between; our choice. */
#define VS_FIELDS_AIRS 8

/* Fields of one haze, each of an emitter at a strength of 1. */
typedef struct {
    double *room_extinction_per_m;
    vs_bands ratio;  /* of the medium */
    size_t used;     /* the higher the later; 0: never */
    size_t held;     /* how many read it */
    vs_field *field; /* one an emitter */
    vs_even_light even;
    size_t *tracing; /* the number of the walks that each was made of; 0: none */
    void *memory;    /* that holds these lists */
} vs_air_fields;

/* A location: patches and cells, and what they see of one another. */
typedef struct {
    const vs_surfaces *surfaces; /* borrowed */
    vs_mesh mesh;
    vs_radiosity radiosity;
    vs_air air;
    vs_coarse coarse;
} vs_location_light;

typedef struct {
    const vs_mesh *mesh; /* the location's */
    const vs_haze *haze;
    size_t emitter_count;
    bool beside; /* reads what another holds; of its own it has only view, gather and gathered */
    vs_traced *traced;    /* one an emitter */
    vs_tracing *outlived; /* one an emitter: walks that another uses after it moved */
    vs_air_fields air[VS_FIELDS_AIRS];
    vs_scattering scattering;
    vs_band_transport transport;
    const vs_air_fields *dimmed; /* the haze that is set in it; NULL: none */
    size_t *missing;             /* emitters whose fields are being solved */
    void *memory;                /* that holds the lists */
    size_t clock;
    vs_room_view view[VS_GATHER_ROOMS_MAX]; /* to find what is seen */
    vs_gather gather;                       /* a line or place that is asked about once */
    vs_gathered gathered;                   /* the same, in its haze */
} vs_fields;

VS_WARN_UNUSED vs_status vs_fields_init(vs_fields *fields, const vs_location_light *location,
                                        const vs_haze *haze, size_t emitter_count);
void vs_fields_free(vs_fields *fields);

/* Fields for another thread, which reads what `others` hold; those must not change meanwhile. */
VS_WARN_UNUSED vs_status vs_fields_init_beside(vs_fields *fields, const vs_fields *others);

/* Traces an emitter unless it is as it was. Several threads may do that at a time, each another
 * emitter.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_fields_trace(vs_fields *fields, const vs_emitter *emitter, size_t e);
/* Lends walks to others of the same location, which keep them while theirs are alike. `fields` must
 * outlive `others`. */
void vs_fields_lend(vs_fields *fields, vs_fields *others);

/* The fields of a haze, with that of every emitter that shines; those that have moved are traced
 * anew. Held until *air's `held` is released.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_fields_in(vs_fields *fields, const vs_medium *medium,
                                      const vs_emitter *emitter, vs_air_fields **air);

#endif
