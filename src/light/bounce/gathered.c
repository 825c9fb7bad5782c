/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See gathered.h. Equations: docs/physics.md, "Bounced light". */
#include "light/bounce/gathered.h"

#include <stdlib.h>

#include "base/arrays.h"
#include "base/lanes.h"
#include "base/single.h"

#ifdef VS_LANES_SIMD
#define EACH_HARMONIC(h) _Pragma("omp simd") for (int h = 0; h < VS_SH_COUNT; h++)
#else
#define EACH_HARMONIC(h) for (int h = 0; h < VS_SH_COUNT; h++)
#endif

/* [1] Harmonics cut off at a degree tell little of light from one side close to a wall: even light is
 * no measure there; our choice. */
#define EVENED_MOST 1.5f

/* A cell's light in all bands. */
#define CELL_LIGHT ((size_t)VS_BAND_COUNT * VS_SH_COUNT)

/* The sum of a[i] b[i] over harmonics, in one fixed order. */
LANES_INLINE float harmonics_dot(const float *a, const float *b) {
    float eight[8], four[4];
    for (int h = 0; h < 8; h++) {
        eight[h] = a[h] * b[h] + a[h + 8] * b[h + 8];
    }
    for (int h = 0; h < 4; h++) {
        four[h] = eight[h] + eight[h + 4];
    }
    return (four[0] + four[2]) + (four[1] + four[3]);
}

/* ---- memory ---- */

void vs_gathered_free(vs_gathered *g) {
    const vs_gathered blank = {0};
    free(g->memory);
    *g = blank;
}

static size_t patches_of(const vs_gathered *g, size_t block) {
    size_t room = g->gather->block.item[block];
    return g->gather->mesh->room_first[room + 1] - g->gather->mesh->room_first[room];
}

/* All zeros. */
static vs_status make_room(vs_gathered *g) {
    const vs_gather *from = g->gather;
    size_t own = 0;
    for (size_t b = 0; b < from->block.count; b++) {
        own += VS_BAND_COUNT * whole_lanes(patches_of(g, b));
    }
    const vs_array arrays[] = {VS_ARRAY(g->block, from->block.count + 1),
                               VS_ARRAY(g->segment, from->segment.count),
                               VS_ARRAY(g->node, from->node.count),
                               VS_ARRAY(g->evened, VS_BAND_COUNT * from->node.count),
                               VS_ARRAY(g->own, own),
                               VS_ARRAY(g->behind, CELL_LIGHT * from->behind.count)};
    free(g->memory);
    g->memory = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    for (size_t b = 0; b < from->block.count && g->memory; b++) {
        g->block[b + 1] = g->block[b] + VS_BAND_COUNT * whole_lanes(patches_of(g, b));
    }
    return g->memory ? VS_OK : VS_ERR_MEMORY;
}

/* ---- a haze ---- */

static void place_segments(vs_gathered *g) {
    const vs_medium *m = g->medium;
    double depth = 0;
    for (size_t p = 0; p < g->gather->segment.count; p++) {
        const vs_gather_segment *from = &g->gather->segment.item[p];
        vs_gathered_segment *segment = &g->segment[p];
        segment->depth = depth;
        segment->k = vs_medium_extinction_per_m(m, from->room);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            segment->scattering[band] = segment->k * m->ratio.v[band] * m->haze->albedo.v[band];
            segment->worth[band] = g->gather->place ? 1 : segment->scattering[band];
        }
        depth += segment->k * (from->to_m - from->from_m);
    }
}

/* What light at a node is worth before it is dimmed on its way there. */
static vs_bands node_scale(const vs_gathered *g, const vs_gather_node *node) {
    const vs_gathered_segment *segment = &g->segment[node->segment];
    vs_bands scale = vs_bands_grey(node->weight);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        scale.v[band] *= segment->worth[band] * exp(-g->medium->ratio.v[band] *
                                                    (segment->depth + segment->k * node->off_m));
    }
    return scale;
}

/* Extinction in a band, for light that is scattered forward or not, over that at 549 nm. */
LANES_INLINE double wide_rate(const vs_gathered *g, size_t band) {
    return g->medium->ratio.v[band] * g->gather->scattering->wide.dimming.v[band];
}

/* Adds a node's patches to those of its segment.
 *     taken  out: what haze takes of even light on its way from them, in each band */
LANES_INLINE void add_node(vs_gathered *g, const vs_gather_node *node, vs_bands scale,
                           float *taken) {
    const float *presence =
        g->gather->mesh->presence +
        g->gather->mesh->room_first[g->gather->segment.item[node->segment].room];
    const float *view = g->gather->view.item + node->view,
                *away_m = view + VS_BAND_COUNT * node->whole;
    for (size_t band = 0; band < VS_BAND_COUNT && scale.v[band] > 0; band++) {
        float k = (float)(g->segment[node->segment].k * wide_rate(g, band)),
              by = (float)scale.v[band];
        float *own = g->own + g->block[node->segment] + band * node->whole;
        const float *worth = view + band * node->whole;
        float sum[LANES] = {0};
        for (size_t n = 0; n < node->whole; n += LANES) {
            float passes[LANES];
            EACH_LANE(l) {
                size_t i = n + (size_t)l;
                passes[l] = single_exp(-k * away_m[i]);
                own[i] += by * worth[i] * passes[l];
            }
            EACH_LANE(l) {
                size_t i = n + (size_t)l;
                sum[l] += worth[i] * presence[i] * (1 - passes[l]);
            }
        }
        taken[band] = single_sum(sum);
    }
}

/* What cells about a node tell of even light, or patches. */
static vs_bands even_about(const vs_gathered *g, const vs_gather_node *node,
                           const vs_even_light *even) {
    const vs_gather *from = g->gather;
    vs_bands sum = vs_bands_grey(0);
    for (size_t band = 0; band < VS_BAND_COUNT && from->on_surface; band++) {
        for (int i = 0; i < 4; i++) {
            sum.v[band] +=
                from->about_share[i] *
                (double)even->patch[band * g->gather->mesh->patch_count + from->about[i]];
        }
    }
    for (int corner = 0; corner < 8 && !from->on_surface; corner++) {
        const float *cell = even->cell + node->cell[corner] * CELL_LIGHT;
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            sum.v[band] += (double)(node->share[corner] *
                                    harmonics_dot(from->harmonic[band], cell + band * VS_SH_COUNT));
        }
    }
    return sum;
}

/* What haze takes of even light over what cells, or patches, tell of it. */
LANES_INLINE float evened_share(float taken, float told) {
    float share = told > 0 ? taken / told : 1;
    return single_min(single_max(share, 1 / EVENED_MOST), EVENED_MOST);
}

/* Adds the patches that are seen through an opening. Returns what haze behind it takes of even light
 * that comes from them.
 *     before, behind  extinction on the way to the opening, and on from there [1/m] */
LANES_INLINE float add_patches(vs_gathered *g, const vs_gather_opening *of, size_t band,
                               float before, float behind) {
    size_t whole = whole_lanes(patches_of(g, of->block));
    float *own = g->own + g->block[of->block] + band * whole, sum[LANES] = {0};
    const float by = (float)g->node[of->node].v[band];
    for (size_t n = of->eight_first; n < of->eight_end; n++) {
        const vs_gather_eight *eight = &g->gather->eight.item[n];
        EACH_LANE(l) {
            float comes = by * eight->worth[band][l] * single_exp(-before * eight->before_m[l]);
            float passes = single_exp(-behind * eight->behind_m[l]);
            own[eight->place + (size_t)l] += comes * passes;
            sum[l] += comes * (1 - passes);
        }
    }
    return single_sum(sum);
}

/* Adds the air that is seen through an opening, cell by cell, so much of it that in even light there
 * comes what haze takes of that on its way from patches. */
LANES_INLINE void add_air(vs_gathered *g, const vs_gather_opening *of, size_t band, float before,
                          float taken, const vs_even_light *even) {
    const vs_gather_air *air = g->gather->air.item;
    float by =
        of->worth[band] * (float)g->node[of->node].v[band] * single_exp(-of->away_m * before);
    float told = 0;
    for (size_t n = of->air_first; n < of->air_end; n++) {
        const float *cell = even->cell + g->gather->behind.item[air[n].cell] * CELL_LIGHT;
        told += air[n].share * harmonics_dot(of->harmonic, cell + band * VS_SH_COUNT);
    }
    by *= evened_share(taken, by * told);
    for (size_t n = of->air_first; n < of->air_end; n++) {
        float *behind = g->behind + air[n].cell * CELL_LIGHT + band * VS_SH_COUNT;
        EACH_HARMONIC(h) {
            behind[h] += by * air[n].share * of->harmonic[h];
        }
    }
}

LANES_INLINE void add_opening(vs_gathered *g, const vs_gather_opening *of,
                              const vs_even_light *even) {
    double before = 0;
    double behind = vs_medium_extinction_per_m(g->medium, g->gather->block.item[of->block]);
    for (size_t r = 0; r < of->room_count; r++) {
        before += (double)of->part[r] * vs_medium_extinction_per_m(g->medium, of->room[r]);
    }
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        float to_it = (float)(before * wide_rate(g, band));
        float taken = add_patches(g, of, band, to_it, (float)(behind * wide_rate(g, band)));
        add_air(g, of, band, to_it, taken, even);
    }
}

LANES_CLONES static void dim(vs_gathered *g, const vs_even_light *even) {
    for (size_t n = 0; n < g->gather->node.count; n++) {
        const vs_gather_node *node = &g->gather->node.item[n];
        float taken[VS_BAND_COUNT] = {0};
        g->node[n] = node_scale(g, node);
        add_node(g, node, g->node[n], taken);
        vs_bands about = even_about(g, node, even);
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            g->evened[n * VS_BAND_COUNT + band] = evened_share(taken[band], (float)about.v[band]);
        }
    }
    for (size_t i = 0; i < g->gather->opening.count; i++) {
        add_opening(g, &g->gather->opening.item[i], even);
    }
}

vs_status vs_gathered_make(vs_gathered *g, const vs_gather *gather, const vs_medium *medium,
                           const vs_even_light *even) {
    g->gather = gather;
    g->medium = medium;
    vs_status status = make_room(g);
    if (status != VS_OK) {
        return status;
    }
    place_segments(g);
    dim(g, even);
    return VS_OK;
}

/* ---- one emitter ---- */

/* The sum of a[i] b[i]; a is zero past its end, to whole lanes. Four sums, none of which waits for
 * another. */
LANES_INLINE double dot(const float *a, const float *b, size_t whole) {
    const size_t four = (size_t)4 * LANES;
    float part[4][LANES] = {{0}};
    size_t n = 0;
    for (; n + four <= whole; n += four) {
        for (size_t i = 0; i < 4; i++) {
            EACH_LANE(l) {
                size_t at = n + i * LANES + (size_t)l;
                part[i][l] += a[at] * b[at];
            }
        }
    }
    for (; n < whole; n += LANES) {
        EACH_LANE(l) {
            part[0][l] += a[n + (size_t)l] * b[n + (size_t)l];
        }
    }
    EACH_LANE(l) {
        part[0][l] += part[1][l] + (part[2][l] + part[3][l]);
    }
    return (double)single_sum(part[0]);
}

/* Patches: of openings' rooms, too. */
LANES_INLINE vs_bands light_of_patches(const vs_gathered *g, const vs_field *field) {
    const vs_gather *from = g->gather;
    vs_bands sum = vs_bands_grey(0);
    for (size_t b = 0; b < from->block.count; b++) {
        size_t first = g->gather->mesh->room_first[from->block.item[b]],
               whole = whole_lanes(patches_of(g, b));
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            sum.v[band] += dot(g->own + g->block[b] + band * whole,
                               field->nits + band * g->gather->mesh->patch_count + first, whole);
        }
    }
    return sum;
}

/* Sums of what harmonics are worth, in one fixed order; light is never below zero. */
LANES_INLINE vs_bands sum_harmonics(float sum[VS_BAND_COUNT][VS_SH_COUNT]) {
    vs_bands light;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        light.v[band] = 0;
        for (int n = 0; n < VS_SH_COUNT; n++) {
            light.v[band] += (double)sum[band][n];
        }
        light.v[band] = fmax(0, light.v[band]);
    }
    return light;
}

/* The air on a surface, between the four patches about a place. */
static vs_bands light_on_surface(const vs_gathered *g, const vs_field *field,
                                 const vs_gather_light *light) {
    vs_bands lux = vs_bands_grey(0);
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        const float *air_lux = field->air_lux + band * g->gather->mesh->patch_count;
        const float *once_lux = field->once_lux + band * g->gather->mesh->patch_count;
        for (int i = 0; i < 4; i++) {
            size_t patch = g->gather->about[i];
            float once = light->once ? 0 : once_lux[patch];
            lux.v[band] += g->gather->about_share[i] * (double)(air_lux[patch] + once);
        }
        lux.v[band] *= (double)g->evened[band];
    }
    return lux;
}

/* The air about each node. */
LANES_INLINE vs_bands light_of_cells(const vs_gathered *g, const vs_field *field) {
    const vs_gather *from = g->gather;
    float sum[VS_BAND_COUNT][VS_SH_COUNT] = {{0}};
    for (size_t n = 0; n < from->node.count; n++) {
        const vs_gather_node *node = &from->node.item[n];
        for (int corner = 0; corner < 8; corner++) {
            const float *cell = field->cell + node->cell[corner] * CELL_LIGHT;
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                float by = (float)g->node[n].v[band] * node->share[corner] *
                           g->evened[n * VS_BAND_COUNT + (size_t)band];
                EACH_HARMONIC(h) {
                    sum[band][h] += by * cell[band * VS_SH_COUNT + h];
                }
            }
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_HARMONIC(h) {
            sum[band][h] *= from->harmonic[band][h];
        }
    }
    return sum_harmonics(sum);
}

/* The air behind openings: a cell's light is never below zero. */
LANES_INLINE vs_bands light_of_air(const vs_gathered *g, const vs_field *field) {
    vs_bands sum = vs_bands_grey(0);
    for (size_t i = 0; i < g->gather->behind.count; i++) {
        const float *behind = g->behind + i * CELL_LIGHT;
        const float *cell = field->cell + g->gather->behind.item[i] * CELL_LIGHT;
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            float light = harmonics_dot(behind + band * VS_SH_COUNT, cell + band * VS_SH_COUNT);
            sum.v[band] += light > 0 ? (double)light : 0;
        }
    }
    return sum;
}

/* Eight samples' worths in the haze.
 *     split  how their narrow and wide parts are dimmed; false: by all of extinction */
LANES_INLINE void dim_samples(const vs_gathered *g, const vs_gather_samples *s, bool split,
                              float passed[VS_BAND_COUNT][LANES]) {
    const vs_gathered_segment *segment = &g->segment[s->segment];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float before = (float)(g->medium->ratio.v[band] * segment->depth);
        float k = (float)(g->medium->ratio.v[band] * segment->k);
        float narrow = split ? k * (float)g->gather->scattering->narrow.dimming.v[band] : k;
        float wide = split ? k * (float)g->gather->scattering->wide.dimming.v[band] : k;
        EACH_LANE(l) {
            float depth =
                before + k * s->plain_m[l] + narrow * s->narrow_m[l] + wide * s->wide_m[l];
            passed[band][l] = s->worth[band][l] * single_exp(-depth);
        }
    }
}

/* Sums of eight in each band. */
LANES_INLINE vs_bands sum_samples(float passed[VS_BAND_COUNT][LANES]) {
    vs_bands sum = vs_bands_grey(0);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float *p = passed[band];
        sum.v[band] = (double)(((p[0] + p[4]) + (p[2] + p[6])) + ((p[1] + p[5]) + (p[3] + p[7])));
    }
    return sum;
}

/* Takes from patches what of their pools counts by itself. */
static void leave_out_pools(const vs_gathered *g, const vs_field *field, const vs_bands *strength,
                            vs_bands *light) {
    const vs_gather_pooled *pooled = &g->gather->pooled;
    for (size_t i = 0; i < pooled->left_out.count; i++) {
        const vs_gather_left_out *out = &pooled->left_out.item[i];
        size_t b = out->segment, whole = whole_lanes(patches_of(g, b));
        size_t first = g->gather->mesh->room_first[g->gather->block.item[b]];
        const float *own = g->own + g->block[b] + out->patch - first;
        if (vs_bands_luminance(strength[out->emitter]) == 0) {
            continue;
        }
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            light[out->emitter].v[band] -=
                (double)(out->share * own[band * whole]) *
                field[out->emitter].pooled_nits[band * g->gather->mesh->patch_count + out->patch];
        }
    }
}

/* What of eight pools' light passes, from all places that they are seen from. */
LANES_CLONES static void pass_pools(const vs_gathered *g, const vs_gather_pools *eight,
                                    float sum[VS_BAND_COUNT][LANES]) {
    const vs_gather_samples *seen = &g->gather->pooled.samples.item[eight->first];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            sum[band][l] = 0;
        }
    }
    for (uint32_t i = 0; i < eight->places; i++) {
        float passed[VS_BAND_COUNT][LANES];
        dim_samples(g, &seen[i], true, passed);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                sum[band][l] += passed[band][l];
            }
        }
    }
}

static void add_pools(const vs_gathered *g, const vs_gather_pools *eight, const vs_field *field,
                      const vs_bands *strength, vs_bands *light) {
    const vs_gather *from = g->gather;
    size_t segment = from->pooled.samples.item[eight->first].segment;
    float sum[VS_BAND_COUNT][LANES];
    pass_pools(g, eight, sum);
    for (uint32_t l = 0; l < eight->count; l++) {
        size_t e = eight->emitter[l];
        if (vs_bands_luminance(strength[e]) == 0) {
            continue;
        }
        const double *candela = field[e].pool_cd + (size_t)eight->pool[l] * VS_BAND_COUNT;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            light[e].v[band] +=
                g->segment[segment].worth[band] * candela[band] * (double)sum[band][l];
        }
    }
}

/* How much of a beam's light comes to the room of a segment. */
static vs_bands comes_to(const vs_gathered *g, const vs_gather_light *light, size_t segment) {
    size_t rooms = g->gather->mesh->space->room_count;
    double depth = 0;
    vs_bands passed;
    for (size_t r = 0; r < rooms; r++) {
        depth += (double)light->before_m.item[segment * rooms + r] *
                 vs_medium_extinction_per_m(g->medium, r);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        passed.v[band] =
            exp(-g->medium->ratio.v[band] * depth * g->gather->scattering->narrow.dimming.v[band]);
    }
    return passed;
}

LANES_INLINE vs_bands light_of_beams(const vs_gathered *g, const vs_gather_light *light) {
    vs_bands sum = vs_bands_grey(0), comes = sum;
    size_t of = SIZE_MAX;
    for (size_t i = 0; i < light->beam_end; i++) {
        const vs_gather_samples *s = &light->samples.item[i];
        float passed[VS_BAND_COUNT][LANES];
        dim_samples(g, s, true, passed);
        if (s->segment != of) {
            comes = comes_to(g, light, s->segment);
            of = s->segment;
        }
        vs_bands eight = vs_bands_mul(comes, sum_samples(passed));
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            const vs_gathered_segment *segment = &g->segment[s->segment];
            sum.v[band] += eight.v[band] * (segment->scattering[band] * segment->worth[band]);
        }
    }
    return sum;
}

LANES_CLONES static vs_bands light_of(const vs_gathered *g, const vs_field *field,
                                      const vs_gather_light *light) {
    vs_bands sum = light_of_patches(g, field);
    sum = vs_bands_add(sum, g->gather->on_surface ? light_on_surface(g, field, light)
                                                  : light_of_cells(g, field));
    sum = vs_bands_add(sum, light_of_air(g, field));
    return vs_bands_add(sum, light_of_beams(g, light));
}

void vs_gathered_lights(const vs_gathered *g, const vs_field *field, const vs_bands *strength,
                        vs_bands *light) {
    for (size_t e = 0; e < g->gather->emitter_count; e++) {
        bool dark = vs_bands_luminance(strength[e]) == 0;
        light[e] = dark ? vs_bands_grey(0) : light_of(g, &field[e], &g->gather->light[e]);
    }
    leave_out_pools(g, field, strength, light);
    for (size_t i = 0; i < g->gather->pooled.pools.count; i++) {
        add_pools(g, &g->gather->pooled.pools.item[i], field, strength, light);
    }
}

LANES_CLONES vs_bands vs_gathered_straight_on(const vs_gathered *g, size_t emitter) {
    const vs_gather_light *light = &g->gather->light[emitter];
    vs_bands all = vs_bands_grey(0), split = all, more = all;
    for (size_t i = light->beam_end; i < light->samples.count; i++) {
        const vs_gather_samples *s = &light->samples.item[i];
        float plain[VS_BAND_COUNT][LANES], on[VS_BAND_COUNT][LANES];
        dim_samples(g, s, false, plain);
        dim_samples(g, s, true, on);
        vs_bands as_is = sum_samples(plain), dimmed_less = sum_samples(on);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double k = g->segment[s->segment].scattering[band];
            all.v[band] += k * as_is.v[band];
            split.v[band] += k * dimmed_less.v[band];
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        more.v[band] = all.v[band] > 0 ? split.v[band] / all.v[band] - 1 : 0;
    }
    return more;
}
