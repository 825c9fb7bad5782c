/* Where the light of an emitter goes: followed outward on many straight ways, evenly spread, to the
 * surfaces it lights and through the air it crosses. No light is lost on the way but to haze.
 * The ways are found once; then they tell the light of any haze. */
#ifndef VEILSTOP_LIGHT_CAST_H
#define VEILSTOP_LIGHT_CAST_H

#include <stdint.h>

#include "light/mesh.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/sight.h"

#define VS_WAY_NONE UINT32_MAX

/* A straight piece of a way, within one room, and what is at its end. */
typedef struct {
    double
        set_out_lm; /* over 0: a way begins here, with so much at a strength of 1; 0: it goes on */
    double part_m;  /* the piece is cut evenly */
    double stopped, open; /* shares of what arrives: on a surface, and on to the next piece [1] */
    uint32_t room, parts;
    uint32_t run_end; /* its runs begin where those of the piece before end */
    uint32_t sub;     /* the part of a patch that stops light, or VS_WAY_NONE */
} vs_way_piece;

/* Parts in a row whose middles are in one cell of air. */
typedef struct {
    uint32_t cell, parts;
} vs_way_run;

/* The ways of one emitter. */
typedef struct {
    vs_way_piece *piece;
    size_t piece_count, piece_size;
    vs_way_run *run;
    size_t run_count, run_size;
} vs_ways;

/* Follows an emitter's light, whatever its strength.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_ways_init(vs_ways *ways, const vs_mesh *mesh,
                                      const vs_emitter *emitter);
void vs_ways_free(vs_ways *ways);

/* Whether two emitters' light goes the same ways: all is alike but their strengths. */
bool vs_ways_alike(const vs_emitter *a, const vs_emitter *b);

/* Adds the light of a strength of 1 in one haze, which takes `dimming` times its extinction.
 *     sub_lm     VS_MESH_SUBS a patch: lumens that reach its parts
 *     cell_lm_m  one a cell of air: lumens x metres of way in it; in clear air none. NULL: not
 *                asked for, which is quicker
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_ways_shine(const vs_ways *ways, const vs_medium *medium,
                                       vs_bands dimming, vs_bands *sub_lm, vs_bands *cell_lm_m,
                                       size_t cell_count);

#endif
