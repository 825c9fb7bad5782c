/* What a place in the air, or a small surface, gets from all patches and cells: weights, with which
 * each emitter's luminances are then summed. */
#ifndef VEILSTOP_LIGHT_GATHER_H
#define VEILSTOP_LIGHT_GATHER_H

#include "light/mesh.h"
#include "veilstop/light/sight.h"

/* Similarity: share of extinction that dims a leg, 1 - albedo g, and the albedo that goes with it.
 */
vs_bands vs_gather_dimming(const vs_medium *medium);
vs_bands vs_gather_albedo(const vs_medium *medium);

/* Sums of weights: of each patch's luminance, of each cell's source function, and of the parts of
 * patches that are told apart. */
typedef struct {
    vs_bands *patch, *cell, *sub;
} vs_weights;

/* A place that gathers, and what a direction is worth to it. */
typedef struct {
    const vs_mesh *mesh;
    const vs_medium *medium;
    vs_bands dimming;
    const size_t *hot; /* patch: its place among those whose parts are told apart; NULL: none is */
    size_t room;
    vs_vec3 at_m;
    enum { VS_GATHER_EVEN, VS_GATHER_SCATTERED, VS_GATHER_FACING } how;
    vs_vec3 axis; /* SCATTERED: towards where light is scattered to; FACING: the normal */
} vs_gatherer;

/* One leg of light to the place: from a patch, or a piece of one, through the air. */
typedef struct {
    size_t patch, cell; /* cell: of air, half-way in the place's room */
    size_t sub;         /* part of a patch told apart, or SIZE_MAX: all of it */
    double length_m;    /* in the place's room, to the patch */
    bool through;       /* an opening: on to end_m, where it meets the patch behind */
    vs_vec3 end_m;
    vs_bands share, spread; /* openings on the way counted; spread: of light scattered on the way */
} vs_leg;

#define VS_LEG_MAX 4096 /* patches of a room, and quarters; more are left out, and made up for */

typedef struct {
    const vs_gatherer *g;
    vs_bands whole, whole_spread; /* shares summed, those that go outside too */
    vs_leg leg[VS_LEG_MAX];
    size_t count;
} vs_legs;

/* What the place sees. EVEN: whatever the haze, medium may be NULL. */
void vs_gather_legs(const vs_gatherer *gatherer, vs_legs *legs);

/* Adds the weights, times `scale`, with which the place gets radiance: EVEN the mean over all
 * directions, SCATTERED by the phase functions, FACING by the cosine law. Together they sum to
 * `scale` times what of the view is not outside. */
void vs_gather_add(const vs_gatherer *gatherer, vs_bands scale, vs_weights *sum);

#endif
