/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light tracing: from one emitter outward to the first surface, found once for a location, whatever
 * its haze. In any haze each path then carries a share that follows from extinction alone, so that
 * answers are smooth in density and repeatable. Private to src/light.
 * Source: Veach 1997, Robust Monte Carlo Methods for Light Transport, ch. 8 (particle tracing). */
#ifndef VEILSTOP_LIGHT_TRACING_TRACING_H
#define VEILSTOP_LIGHT_TRACING_TRACING_H

#include <stdbool.h>
#include <stdint.h>

#include "base/vector.h"
#include "light/mesh/harmonics.h"
#include "light/mesh/mesh.h"
#include "light/tracing/direct.h"
#include "veilstop/light/emitter.h"

#define VS_TRACING_NONE UINT32_MAX

/* A straight part of a thin beam in one room, with nothing in it. */
typedef struct {
    float from_m[3], direction[3]; /* start, unit direction */
    float length_m;
    float onward; /* what the next one sets out with, of what arrives [1] */
    uint32_t room;
} vs_beam_segment;

static inline vs_vec3 vs_beam_segment_from(const vs_beam_segment *segment) {
    vs_vec3 from_m = {(double)segment->from_m[0], (double)segment->from_m[1],
                      (double)segment->from_m[2]};
    return from_m;
}

static inline vs_vec3 vs_beam_segment_direction(const vs_beam_segment *segment) {
    vs_vec3 direction = {(double)segment->direction[0], (double)segment->direction[1],
                         (double)segment->direction[2]};
    return direction;
}

/* A pool of direct light on a surface, within a patch: an even rectangle of the same middle and
 * spread. Pools are split into pools: from afar the whole stands for its parts. */
typedef struct {
    vs_rect rect;
    double size_m; /* half its diagonal */
    uint32_t patch;
    uint32_t parent, end; /* NONE: a whole; its parts and theirs stand behind it, up to `end` */
} vs_pool;

/* Eight whole pools, for the search of those nearby: one counts by itself where it is nearer than
 * sqrt(near_m2), 0 where there is none. */
typedef struct {
    float x_m[LANES], y_m[LANES], z_m[LANES], near_m2[LANES];
    uint32_t room[LANES], first[LANES]; /* first: the whole among the pools, its parts behind it */
} vs_pool_wholes;

/* The same where it crosses a cell of air. */
typedef struct {
    vs_direct path;             /* target: the cell; lumens: lumens x metres */
    double moment[VS_SH_COUNT]; /* lumens x metres x harmonics of directions */
    uint32_t next;              /* another of that cell, by other rooms; or NONE */
} vs_passing;

/* A narrow beam, as a few thin ones: segments that follow one another from the emitter. */
typedef struct {
    uint32_t segment_first, segment_count;
    double lumens; /* at a strength of 1 */
} vs_thin_beam;

typedef struct {
    vs_beam_segment *segment; /* of thin beams */
    size_t segment_count, segment_size;
    vs_passing *passing;
    size_t passing_count, passing_size;
    vs_direct *direct;
    size_t direct_count;
    vs_pool *pool; /* wholes before their parts */
    size_t pool_count, pool_size;
    vs_pool_wholes *wholes;
    size_t whole_count, wholes_size; /* whole_count: of pools; the size is of eights */
    bool narrow; /* the thin beams stand for the light that its beam scatters within the room */
    vs_thin_beam *thin;
    size_t thin_count;
    double beam_start_m2, beam_spread_sr; /* cross-section of a thin beam after t metres:
                                           * start + spread t^2 */
    bool *lit_room;                       /* room: whether its direct light is there */
} vs_tracing;

/* An emitter and its walks. */
typedef struct {
    vs_emitter emitter;
    vs_tracing walks;
    size_t number; /* of its walks so far, those kept the last */
    bool good;     /* they are of the emitter; else it is not traced yet */
    bool borrowed; /* they are another's */
    bool lent;     /* another uses them, whatever becomes of this */
} vs_traced;

/* Traces an emitter's light, whatever its strength.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_tracing_init(vs_tracing *tracing, const vs_mesh *mesh,
                                         const vs_emitter *emitter);
void vs_tracing_free(vs_tracing *tracing);

/* Whether two emitters' light takes the same paths: all is alike but their strengths. */
bool vs_tracing_alike(const vs_emitter *a, const vs_emitter *b);

#endif
