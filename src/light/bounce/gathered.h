/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is seen from a line of sight or a place, evaluated in one haze. Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHERED_H
#define VEILSTOP_LIGHT_BOUNCE_GATHERED_H

#include "light/bounce/gather.h"

/* A segment in a haze. */
typedef struct {
    double depth, k;                  /* before it, at 549 nm; in its room [1/m] */
    double scattering[VS_BAND_COUNT]; /* [1/m] */
    double worth[VS_BAND_COUNT]; /* of light there: on a line what is scattered [1/m], else 1 */
} vs_gathered_segment;

/* One per thread. */
typedef struct {
    const vs_gather *gather; /* borrowed, as all here until the next */
    const vs_medium *medium;
    vs_gathered_segment *segment;
    vs_bands *node; /* what light scattered at each, or falling on it, is worth */
    /* node x band: what comes from the air of its room in even light, over what cells, or patches,
     * about it tell of that */
    float *evened;
    float *own;    /* block, band, patch of its room made up to whole lanes: what its luminance is
                      * worth */
    float *behind; /* cell seen through openings x band x harmonic: what its light is worth */
    size_t *block; /* where each begins in own */
    void *memory;  /* that holds these */
} vs_gathered;

void vs_gathered_free(vs_gathered *gathered);

/* Sets the haze.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_gathered_make(vs_gathered *gathered, const vs_gather *gather,
                                          const vs_medium *medium, const vs_even_light *even);

/* Each emitter's light at a strength of 1: veil [cd/m2], or on a surface [lx]; its pools and beams
 * are found. Nothing of those whose strength is 0.
 *     field, strength, light  one an emitter */
void vs_gathered_lights(const vs_gathered *gathered, const vs_field *field,
                        const vs_bands *strength, vs_bands *light);

/* What forward scattering of light from an emitter to a line adds to its once-scattered veil, as a
 * share of that veil. */
vs_bands vs_gathered_straight_on(const vs_gathered *gathered, size_t emitter);

#endif
