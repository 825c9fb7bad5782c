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

#define VS_LEGS_MAX 4096 /* pieces of a room's patches; more are left out, and made up for */

/* Legs of light to a place, each from the middle of a patch or of a piece of one, through the air;
 * laid out for vector code: their last block may be made up with legs that carry nothing. */
typedef struct {
    const vs_gatherer *g;
    size_t count;
    size_t patch[VS_LEGS_MAX];
    size_t sub[VS_LEGS_MAX]; /* part of a patch told apart, or SIZE_MAX: all of it */
    int cell[VS_LEGS_MAX];   /* of air, half-way in the place's room */
    double x_m[VS_LEGS_MAX], y_m[VS_LEGS_MAX], z_m[VS_LEGS_MAX]; /* from the place to the piece */
    double way_m[VS_LEGS_MAX];                                   /* length of that */
    double through_m[VS_LEGS_MAX]; /* an opening: length on to the patch behind it; else 0 */
    /* share of the view: worked out, or area x distance from the piece's plane, to be divided by
     * the cube of the way; the other is 0 */
    double view[VS_LEGS_MAX], facing_m3[VS_LEGS_MAX];
    double open[VS_LEGS_MAX];  /* what of its light screens and nets let through */
    double depth[VS_LEGS_MAX]; /* optical depth at 549 nm */
    /* what its light is worth, and light scattered on the way; openings and screens counted */
    double share[VS_BAND_COUNT][VS_LEGS_MAX], spread[VS_BAND_COUNT][VS_LEGS_MAX];
    vs_bands whole, whole_spread; /* shares summed, those that go outside too */
} vs_legs;

/* What the place sees, but for depths; legs that bring nothing have a share of 0. EVEN: whatever
 * the haze, medium may be NULL. */
void vs_gather_legs(const vs_gatherer *gatherer, vs_legs *legs);

/* Where a leg begins: on its piece, or on what lies behind the opening. */
vs_vec3 vs_legs_end_m(const vs_legs *legs, size_t leg);

/* Adds the weights, times `scale`, with which the place gets radiance: EVEN the mean over all
 * directions, SCATTERED by the phase functions, FACING by the cosine law. Together they sum to
 * `scale` times what of the view is not outside. */
void vs_gather_add(const vs_gatherer *gatherer, vs_bands scale, vs_weights *sum);

#endif
