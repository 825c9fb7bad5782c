/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a line of sight or a place sees of one emitter's own sources, its pools and beams, as
 * samples. Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHER_SAMPLES_H
#define VEILSTOP_LIGHT_BOUNCE_GATHER_SAMPLES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/vector.h"
#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"

/* Light of separate sources, pools or beams, eight samples on one segment: its worth and its path,
 * parts of which are dimmed by all of the extinction, as a narrow beam is, and as other light is.
 * Unused samples are worth nothing. */
typedef struct {
    float worth[VS_BAND_COUNT][LANES];
    float plain_m[LANES], narrow_m[LANES], wide_m[LANES];
    uint32_t source[LANES]; /* pool */
    uint32_t segment;
} vs_gather_samples;

typedef struct {
    float worth[VS_BAND_COUNT], plain_m, narrow_m, wide_m;
} vs_gather_sample;

/* A patch whose pool counts by itself on a segment, and so not as if it were even over the patch. */
typedef struct {
    uint32_t patch, segment;
} vs_gather_left_out;

/* What is seen of one emitter's separate sources. */
typedef struct {
    size_t number; /* of the walks that it was made of; 0: none yet */
    vs_gather_samples *samples;
    size_t count, size;
    size_t pool_end, beam_end; /* of pools, then of beams, then of light scattered forward */
    size_t begun;              /* samples in the last eight; 0: the next begins eight more */
    vs_gather_left_out *left_out;
    size_t left_out_count, left_out_size;
    float *before_m; /* segment x room: mean path of beams in other rooms before they come here */
    size_t before_size;
} vs_gather_light;

/* Eight more samples of one source on a segment, to be filled in: worth nothing yet.  NULL: no
 * memory. */
vs_gather_samples *vs_gather_add_eight(vs_gather_light *light, size_t segment, size_t source);

/* Append to a light's lists.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_gather_add_sample(vs_gather_light *light, size_t segment, size_t source,
                                              const vs_gather_sample *sample);
VS_WARN_UNUSED vs_status vs_gather_leave_out(vs_gather_light *light, vs_gather_left_out left_out);

#endif
