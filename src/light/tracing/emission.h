/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where an emitter's light sets out: start, direction and lumens, evenly spread. Private to
 * src/light. */
#ifndef VEILSTOP_LIGHT_TRACING_EMISSION_H
#define VEILSTOP_LIGHT_TRACING_EMISSION_H

#include "veilstop/light/emitter.h"

#define VS_EMISSION_ANGLES 128 /* of a spot's profile */
#define VS_EMISSIONS_MAX   16  /* of an emitter outside: openings it may shine in through */

typedef struct {
    const vs_space *space;
    const vs_emitter *emitter;
    double flux_sr;                            /* SPOT: lumens per candela on its axis */
    double cumulative[VS_EMISSION_ANGLES + 1]; /* SPOT: share of the flux within an angle */
} vs_emission_source;

typedef struct {
    vs_vec3 at_m, direction;
    size_t room;
    double lumens; /* at a strength of 1 */
} vs_emission;

/* Borrows both. */
vs_emission_source vs_emission_source_make(const vs_space *space, const vs_emitter *emitter);

/* One of `count` draws; the sum over all of them is the emitter's flux, as far as it enters rooms.
 *  even  four numbers in (0, 1): the draw
 *  out   room for VS_EMISSIONS_MAX.  Returns how many set out. */
size_t vs_emission_draw(const vs_emission_source *source, const double even[4], double count,
                        vs_emission *out);

#endif
