/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Selection of lights and of directions towards lamps, each with its density. The weights only
 * guide: the estimate is divided by the density, whatever they are. */
#include "light/walks/path_guiding.h"

#include <math.h>

#include "light/lamps/light_sampling.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

#define EVEN_SHARE  0.2  /* [1] of selections that are uniform instead of following the weights */
#define GUIDE_SHARE 0.4  /* [1] of directions from a vertex, in thick haze, drawn towards lamps */
#define SINE_LEAST  1e-9 /* [1] directions nearer to a lamp have the density of that angle */

/* ---- drawing a light ---- */

void vs_light_selection_add(vs_light_selection *b, size_t i, double weight) {
    b->weight[i] = weight;
    b->sum += weight;
    b->over_zero += weight > 0;
}

double vs_light_selection_probability(const vs_light_selection *b, size_t i) {
    if (!(b->weight[i] > 0)) {
        return 0;
    }
    return EVEN_SHARE / (double)b->over_zero + (1 - EVEN_SHARE) * b->weight[i] / b->sum;
}

bool vs_light_selection_draw(const vs_light_selection *b, size_t count, vs_random *random,
                             size_t *drawn) {
    double u = vs_random_uniform(random);
    bool any = false;
    for (size_t i = 0; i < count; i++) {
        double share = vs_light_selection_probability(b, i);
        if (share > 0) {
            *drawn = i;
            any = true;
            if (u < share) {
                break;
            }
            u -= share;
        }
    }
    return any;
}

/* ---- directions towards lamps ---- */

static double peak_candela(const vs_emitter *emitter) {
    double strength = vs_bands_luminance(emitter->strength);
    return emitter->profile == VS_PROFILE_PHOTOMETRY
               ? strength * vs_photometric_peak_candela(emitter->table)
               : strength;
}

void vs_path_guide_make(vs_path_guide *g, const vs_emitter *const *emitter, size_t count,
                        vs_vec3 p_m, double extinction_per_m) {
    double way_m = 0;
    g->count = count;
    g->lamp.sum = g->share = 0;
    g->lamp.over_zero = 0;
    for (size_t i = 0; i < count && extinction_per_m > 0; i++) {
        g->lamp.weight[i] = 0;
        if (emitter[i]->kind != VS_EMITTER_POINT) {
            continue;
        }
        vs_vec3 way = vs_vec3_sub(emitter[i]->at_m, p_m);
        double length_m = fmax(vs_vec3_length(way), VS_SHAFT_APART_MIN_M);
        g->towards[i] = vs_vec3_scale(way, 1 / length_m);
        vs_light_selection_add(&g->lamp, i, peak_candela(emitter[i]) / (length_m * length_m));
        way_m = fmax(way_m, length_m);
    }
    if (g->lamp.over_zero > 0) {
        g->share = GUIDE_SHARE * -expm1(-extinction_per_m * way_m);
    }
}

vs_vec3 vs_path_guide_draw(const vs_path_guide *g, vs_random *random) {
    size_t drawn = 0;
    vs_light_selection_draw(&g->lamp, g->count, random, &drawn);
    double angle_rad = VS_PI * vs_random_uniform(random);
    return vs_vec3_tilted(g->towards[drawn], cos(angle_rad), 2 * VS_PI * vs_random_uniform(random));
}

static double guide_per_sr(const vs_path_guide *g, vs_vec3 direction) {
    double sum = 0;
    for (size_t i = 0; i < g->count; i++) {
        double share = vs_light_selection_probability(&g->lamp, i);
        if (share > 0) {
            double sine = vs_vec3_length(vs_vec3_cross(g->towards[i], direction));
            sum += share / (2 * VS_PI * VS_PI * fmax(sine, SINE_LEAST));
        }
    }
    return sum;
}

double vs_path_guide_mixed_per_sr(const vs_path_guide *g, vs_vec3 direction,
                                  double natural_per_sr) {
    return g->share > 0 ? g->share * guide_per_sr(g, direction) + (1 - g->share) * natural_per_sr
                        : natural_per_sr;
}
