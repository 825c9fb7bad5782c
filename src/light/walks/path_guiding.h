/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Path guiding (importance sampling): selection of the light that a path vertex samples, by weights
 * (the selection pdf), and directions drawn towards lamps. Each comes with its density, so that
 * estimates can be weighted.
 * Source: after Georgiev et al. 2013, ACM Trans. Graph. 32(6), 164. */
#ifndef VEILSTOP_LIGHT_WALKS_PATH_GUIDING_H
#define VEILSTOP_LIGHT_WALKS_PATH_GUIDING_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/random.h"
#include "veilstop/base/vec3.h"
#include "veilstop/light/emitter.h"

/* lights of one shot; our choice */
#define VS_LIGHT_SELECTION_MAX 256

/* Lights with weights; selection follows the weights, but for a share that is uniform among those
 * over 0. */
typedef struct {
    double weight[VS_LIGHT_SELECTION_MAX];
    double sum;
    size_t over_zero;
} vs_light_selection;

/* The weight of light i, of a selection whose sum and over_zero began at 0; each light is added. */
void vs_light_selection_add(vs_light_selection *b, size_t i, double weight);

/* Selection probability of light i. */
double vs_light_selection_probability(const vs_light_selection *b, size_t i);

/* False: no light has a weight. */
bool vs_light_selection_draw(const vs_light_selection *b, size_t count, vs_random *random,
                             size_t *drawn);

/* Paths that pass close to a point-like lamp collect much of its light, the more the closer: from
 * a vertex a share of the directions is drawn uniformly in the angle to a lamp, which cancels that
 * growth. */
typedef struct {
    vs_light_selection lamp;
    vs_vec3 towards[VS_LIGHT_SELECTION_MAX];
    size_t count; /* lights, the dark and the wide ones among them with weight 0 */
    double share; /* of the draws; 0: no lamp, or no haze to scatter its light */
} vs_path_guide;

/* The guide at a path vertex p, in haze of that extinction; at most VS_LIGHT_SELECTION_MAX lights.
 */
void vs_path_guide_make(vs_path_guide *g, const vs_emitter *const *emitter, size_t count,
                        vs_vec3 p_m, double extinction_per_m);

/* A direction about one of the lamps; only where the guide has a share. */
vs_vec3 vs_path_guide_draw(const vs_path_guide *g, vs_random *random);

/* Density [1/sr] of a direction that is drawn towards lamps or else by the vertex's own
 * scattering, whose density is `natural_per_sr`. */
double vs_path_guide_mixed_per_sr(const vs_path_guide *g, vs_vec3 direction, double natural_per_sr);

#endif
