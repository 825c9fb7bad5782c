/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light of the air of rooms on its way through openings, for eight lights at a time: what patches
 * and cells, the rows, see of the air behind is scaled, side by side, to what comes to the opening,
 * so that openings neither make light nor lose any. Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_AIR_OPENINGS_H
#define VEILSTOP_LIGHT_TRANSPORT_AIR_OPENINGS_H

#include "light/transport/air_exchange.h"
#include "light/transport/radiosity_solve.h"

/* Rows of cells and of patches, as a haze dims them; all borrowed but the lists. */
typedef struct {
    const vs_air *air;
    const vs_air_work *work;
    const vs_radiosity *radiosity;
    const vs_radiosity_work *solving;
    /* of the air behind an opening, before it is scaled: what a cell sees, harmonic x LANES; and a
     * patch, LANES */
    float *to_cell, *to_patch;
    size_t *onward; /* of patches that see air those that are parts of openings */
    size_t onward_count;
    double *got, *scale, *all; /* side of an opening x LANES */
} vs_air_openings;

VS_WARN_UNUSED vs_status vs_air_openings_init(vs_air_openings *openings, const vs_air *air,
                                              const vs_air_work *work,
                                              const vs_radiosity *radiosity,
                                              const vs_radiosity_work *solving);
void vs_air_openings_free(vs_air_openings *openings);

/* Adds to solving->seen_m2 what cells see of patches behind openings: once a haze. */
void vs_air_openings_dim(const vs_air *air, const vs_air_work *work, vs_radiosity_work *solving);

/* Adds what comes to openings of cells' sources of degrees to `order` [lm]: side of an opening x
 * LANES. */
void vs_air_send_out(const vs_air *air, const vs_air_work *work, const float *source, int order,
                     double *lumens);

/* What rows see of air behind openings, whose light is `seen`, of degrees to `order`, scaled to what comes to openings.
 *     moment  cells: added
 *     behind  patch x LANES: overwritten [lx/pi] */
void vs_air_look_through(const vs_air_openings *openings, const float *seen, int order,
                         const double *lumens, float *moment, double *behind);

#endif
