/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a line of sight or a place sees of emitters' own sources, their pools and beams, as samples.
 * Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHER_SAMPLES_H
#define VEILSTOP_LIGHT_BOUNCE_GATHER_SAMPLES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/vector.h"
#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"

/* Light of separate sources, eight samples on one segment: its worth and its path, parts of which
 * are dimmed by all of the extinction, as a narrow beam is, and as other light is. Unused samples are
 * worth nothing. */
typedef struct {
    float worth[VS_BAND_COUNT][LANES];
    float plain_m[LANES], narrow_m[LANES], wide_m[LANES];
    uint32_t segment;
} vs_gather_samples;

typedef struct {
    vs_gather_samples *eight;
    size_t count, size;
} vs_gather_sample_list;

/* `count` more eights on a segment, worth nothing yet.  NULL: no memory. */
vs_gather_samples *vs_gather_add_samples(vs_gather_sample_list *list, size_t segment, size_t count);

/* Eight pools seen from one segment: as many eights of samples follow one another as places that
 * each is seen from. */
typedef struct {
    uint32_t pool[LANES], emitter[LANES];
    uint32_t count;         /* the rest are unused */
    uint32_t first, places; /* among the samples */
} vs_gather_pools;

/* A patch whose pool counts by itself on a segment, or a share of it, and so not as if it were even
 * over the patch. */
typedef struct {
    uint32_t patch, segment, emitter;
    float share;
} vs_gather_left_out;

/* Pools seen of all emitters. */
typedef struct {
    vs_gather_sample_list samples;
    vs_gather_pools *pools;
    size_t pool_count, pool_size;
    vs_gather_left_out *left_out;
    size_t left_out_count, left_out_size;
} vs_gather_pooled;

/* What is seen of one emitter's narrow beam, and of its light scattered forward. */
typedef struct {
    size_t
        number; /* of the walks that it, and what is seen of its pools, was made of; 0: none yet */
    bool once;  /* its samples include its light scattered once, of a place on a surface */
    vs_gather_sample_list samples;
    size_t beam_end; /* of beams, then of light scattered forward */
    float *before_m; /* segment x room: mean path of beams in other rooms before they come here */
    size_t before_size;
} vs_gather_light;

#endif
