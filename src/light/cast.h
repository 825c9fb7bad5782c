/* Where the light of an emitter goes: followed outward on many straight ways, evenly spread, to the
 * surfaces it lights and through the air it crosses. No light is lost on the way but to haze. */
#ifndef VEILSTOP_LIGHT_CAST_H
#define VEILSTOP_LIGHT_CAST_H

#include "light/mesh.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/sight.h"

/* Light of one emitter: where haze takes part of it, `dimming` times its extinction. */
typedef struct {
    const vs_mesh *mesh;
    const vs_medium *medium;
    vs_bands dimming;    /* of each band's extinction [1] */
    vs_bands *sub_lm;    /* out, VS_MESH_SUBS a patch: lumens that reach its parts */
    vs_bands *cell_lm_m; /* out, one a cell of air: lumens x metres of way in it */
} vs_cast;

/* Adds an emitter's light to sub_lm and cell_lm_m. Returns the lumens that set out inside, or
 * came in from outside. */
vs_bands vs_cast_light(const vs_cast *cast, const vs_emitter *emitter);

#endif
