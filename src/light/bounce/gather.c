/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See gather.h. Equations: docs/physics.md, "Bounced light". */
#include "light/bounce/gather.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"
#include "base/numerics/legendre_rules.h"
#include "light/bounce/gather_lights.h"
#include "veilstop/base/units.h"

#define NODES       4     /* places on a segment of a camera ray; measured: docs/accuracy.md */
#define LEAST_SHARE 1e-6f /* [1] of what is seen behind an opening: less is not kept; our choice */

/* ---- memory ---- */

vs_status vs_gather_init(vs_gather *gather, size_t emitter_count) {
    const vs_gather blank = {.emitter_count = emitter_count};
    *gather = blank;
    gather->light = calloc(emitter_count + 1, sizeof *gather->light);
    return gather->light ? VS_OK : VS_ERR_MEMORY;
}

static void light_free(vs_gather_light *light) {
    free(light->samples.eight);
    free(light->before_m);
}

void vs_gather_free(vs_gather *g) {
    const vs_gather blank = {0};
    for (size_t e = 0; g->light && e < g->emitter_count; e++) {
        light_free(&g->light[e]);
    }
    free(g->segment);
    free(g->blocker);
    free(g->node);
    free(g->view);
    free(g->eight);
    free(g->air);
    free(g->opening);
    free(g->behind);
    free(g->block);
    free(g->light);
    free(g->pooled.samples.eight);
    free(g->pooled.pools);
    free(g->pooled.left_out);
    *g = blank;
}

/* Cuts a list to what it holds; leaves it as it is where that fails. */
static void *cut(void *list, size_t count, size_t *size, size_t bytes) {
    void *less = count < *size ? realloc(list, (count + 1) * bytes) : NULL;
    *size = less ? count + 1 : *size;
    return less ? less : list;
}

static void samples_tighten(vs_gather_sample_list *list) {
    list->eight = cut(list->eight, list->count, &list->size, sizeof *list->eight);
}

static void lights_tighten(vs_gather *g) {
    vs_gather_pooled *p = &g->pooled;
    for (size_t e = 0; e < g->emitter_count; e++) {
        samples_tighten(&g->light[e].samples);
    }
    samples_tighten(&p->samples);
    p->pools = cut(p->pools, p->pool_count, &p->pool_size, sizeof *p->pools);
    p->left_out = cut(p->left_out, p->left_out_count, &p->left_out_size, sizeof *p->left_out);
}

void vs_gather_tighten(vs_gather *g) {
    g->tight = true;
    g->segment = cut(g->segment, g->segment_count, &g->segment_size, sizeof *g->segment);
    g->blocker = cut(g->blocker, g->blocker_count, &g->blocker_size, sizeof *g->blocker);
    g->node = cut(g->node, g->node_count, &g->node_size, sizeof *g->node);
    g->view = cut(g->view, g->view_count, &g->view_size, sizeof *g->view);
    g->eight = cut(g->eight, g->eight_count, &g->eight_size, sizeof *g->eight);
    g->air = cut(g->air, g->air_count, &g->air_size, sizeof *g->air);
    g->opening = cut(g->opening, g->opening_count, &g->opening_size, sizeof *g->opening);
    g->behind = cut(g->behind, g->behind_count, &g->behind_size, sizeof *g->behind);
    g->block = cut(g->block, g->block_count, &g->block_size, sizeof *g->block);
}

size_t vs_gather_bytes(const vs_gather *g) {
    size_t bytes = g->segment_size * sizeof *g->segment + g->blocker_size * sizeof *g->blocker +
                   g->node_size * sizeof *g->node + g->view_size * sizeof *g->view +
                   g->eight_size * sizeof *g->eight + g->air_size * sizeof *g->air +
                   g->block_size * sizeof *g->block + g->opening_size * sizeof *g->opening +
                   g->behind_size * sizeof *g->behind + g->emitter_count * sizeof *g->light +
                   g->pooled.samples.size * sizeof *g->pooled.samples.eight +
                   g->pooled.pool_size * sizeof *g->pooled.pools +
                   g->pooled.left_out_size * sizeof *g->pooled.left_out;
    for (size_t e = 0; e < g->emitter_count; e++) {
        bytes += g->light[e].samples.size * sizeof *g->light[e].samples.eight +
                 g->light[e].before_size * sizeof *g->light[e].before_m;
    }
    return bytes;
}

static void forget_lights(vs_gather *g) {
    for (size_t e = 0; e < g->emitter_count; e++) {
        g->light[e].number = 0;
    }
}

static void forget(vs_gather *g) {
    g->segment_count = g->blocker_count = g->node_count = g->view_count = 0;
    g->eight_count = g->air_count = g->opening_count = g->behind_count = g->block_count = 0;
    forget_lights(g);
}

/* Room for `more` numbers behind those of the views. */
static float *add_view(vs_gather *g, size_t more) {
    if (g->view_count + more > g->view_size) {
        size_t size = g->view_count + more + g->view_size / 2;
        float *view = realloc(g->view, size * sizeof *view);
        if (!view) {
            return NULL;
        }
        g->view = view;
        g->view_size = size;
    }
    g->view_count += more;
    return g->view + g->view_count - more;
}

/* The place of an item in a list from `from` on, put at its end where it is not there.  False: no
 * memory. */
static bool place_in(size_t **list, size_t from, size_t *count, size_t *size, size_t item,
                     size_t *place) {
    for (*place = from; *place < *count; (*place)++) {
        if ((*list)[*place] == item) {
            return true;
        }
    }
    size_t *more = vs_growable_reserve(*list, *count, size, sizeof **list);
    if (!more) {
        return false;
    }
    *list = more;
    (*list)[(*count)++] = item;
    return true;
}

/* The block of a room, one of those from `from` on, made where there is none. */
static vs_status block_of(vs_gather *g, size_t from, size_t room, size_t *block) {
    return place_in(&g->block, from, &g->block_count, &g->block_size, room, block) ? VS_OK
                                                                                   : VS_ERR_MEMORY;
}

/* A blocker in the room of the last segment. */
static vs_status add_blocker(vs_gather *g, const vs_blocker *stops, vs_extent extent) {
    vs_gather_blocker *list =
        vs_growable_reserve(g->blocker, g->blocker_count, &g->blocker_size, sizeof *g->blocker);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    const vs_gather_segment *segment = &g->segment[g->segment_count - 1];
    const vs_vec3 axis[3] = {stops->rect.u, stops->rect.v, stops->rect.normal};
    const vs_vec3 off = vs_vec3_sub(g->at_m, stops->rect.center_m);
    vs_gather_blocker blocker = {.segment = (uint32_t)g->segment_count - 1,
                                 .low = {extent.low_u, extent.low_v, 0},
                                 .high = {extent.high_u, extent.high_v, 0},
                                 .stopped = (float)(1 - stops->transmittance)};
    for (int a = 0; a < 3; a++) {
        double start = vs_vec3_dot(off, axis[a]), along = vs_vec3_dot(g->toward, axis[a]);
        double from = start + segment->from_m * along, to = start + segment->to_m * along;
        blocker.axis[a][0] = (float)axis[a].x;
        blocker.axis[a][1] = (float)axis[a].y;
        blocker.axis[a][2] = (float)axis[a].z;
        blocker.start[a] = (float)start;
        blocker.along[a] = (float)along;
        blocker.line_low[a] = (float)fmin(from, to);
        blocker.line_high[a] = (float)fmax(from, to);
    }
    g->blocker = list;
    g->blocker[g->blocker_count++] = blocker;
    return VS_OK;
}

/* A segment, its room as its block, and what stands in that. */
static vs_status add_segment(vs_gather *g, const vs_mesh *mesh, vs_gather_segment segment) {
    size_t block;
    vs_gather_segment *list =
        vs_growable_reserve(g->segment, g->segment_count, &g->segment_size, sizeof *g->segment);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    g->segment = list;
    g->segment[g->segment_count++] = segment;
    vs_status status = block_of(g, g->block_count, segment.room, &block);
    for (size_t i = 0; i < mesh->space->blocker_count && status == VS_OK; i++) {
        if (mesh->blocker_room[i] == segment.room) {
            status = add_blocker(g, &mesh->space->blocker[i], mesh->blocker[i]);
        }
    }
    return status;
}

/* ---- openings ---- */

/* Through openings: the rooms on the way, the place's own first. */
typedef struct {
    const vs_mesh *mesh;
    const vs_scattering *scattering; /* NULL: of a place */
    vs_vec3 at_m;
    vs_room_view *view; /* one a room */
    size_t room[VS_GATHER_ROOMS_MAX], opening[VS_VIEW_OPENINGS_MAX];
    size_t count; /* of openings so far */
} opening_view;

static vs_bands worth_of(const vs_room_view *v, size_t patch, vs_bands scale) {
    vs_bands worth;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        worth.v[band] = scale.v[band] * (double)v->worth[band][patch];
    }
    return worth;
}

static vs_status add_openings(vs_gather *g, opening_view *k, vs_bands scale);

/* The patches of the last room. */
static void look(const vs_gather *g, const opening_view *k) {
    vs_room_view *v = &k->view[k->count];
    vs_room_view_make(v, k->mesh, k->room, k->at_m, k->opening, k->count);
    vs_room_view_worths(v, k->scattering, g->toward);
}

/* Adds eight patches of the last room, behind its opening.
 *     worth  of all of the opening */
static vs_status add_eight(vs_gather *g, const opening_view *k, size_t n, vs_bands worth) {
    const vs_room_view *v = &k->view[k->count];
    const float *crossed = v->crossed[k->count - 1] + n, *away_m = v->away_m + n;
    vs_gather_eight *list =
        vs_growable_reserve(g->eight, g->eight_count, &g->eight_size, sizeof *g->eight);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    g->eight = list;
    vs_gather_eight *eight = &list[g->eight_count++];
    eight->place = (uint32_t)n;
    for (int l = 0; l < LANES; l++) {
        eight->before_m[l] = crossed[l] * away_m[l];
        eight->behind_m[l] = away_m[l] - eight->before_m[l];
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int l = 0; l < LANES; l++) {
            eight->worth[band][l] = (float)worth.v[band] * v->worth[band][n + (size_t)l];
        }
    }
    return VS_OK;
}

/* The patches of the room behind the last opening.
 *     worth  of all of the opening */
static vs_status add_behind(vs_gather *g, const opening_view *k, vs_bands worth) {
    const vs_room_view *v = &k->view[k->count];
    vs_status status = VS_OK;
    look(g, k);
    for (size_t n = 0; n < v->count && status == VS_OK; n += LANES) {
        if (v->seen[n / LANES] && single_sum(v->worth[VS_BAND_GREEN] + n) > LEAST_SHARE) {
            status = add_eight(g, k, n, worth);
        }
    }
    return status;
}

/* Adds a patch of an opening to what is seen of that: sums, to be divided by the worth. */
static void add_part(const opening_view *k, size_t patch, vs_bands worth, vs_gather_opening *seen) {
    const vs_room_view *v = &k->view[k->count];
    const vs_vec3 back = {-(double)v->x_sr[patch], -(double)v->y_sr[patch],
                          -(double)v->z_sr[patch]};
    double by = worth.v[VS_BAND_GREEN], y[VS_SH_COUNT];
    float from = 0;
    for (size_t i = 0; i <= k->count; i++) {
        float to = i < k->count ? fmaxf(from, v->crossed[i][patch]) : 1;
        seen->part[i] += (float)by * (to - from);
        from = to;
    }
    seen->away_m += (float)by * v->away_m[patch];
    vs_sh(vs_vec3_unit(back), y);
    for (int n = 0; n < VS_SH_COUNT; n++) {
        seen->harmonic[n] += (float)(by * y[n]);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        seen->worth[band] += (float)worth.v[band];
    }
}

/* Adds the cell of air behind an opening at a patch of it. */
static vs_status add_air(vs_gather *g, const opening_view *k, size_t patch, float worth,
                         const vs_gather_opening *seen) {
    const vs_patch *on = &k->mesh->patch[k->view[k->count].first + patch];
    size_t beyond = vs_opening_beyond(&k->mesh->space->opening[on->opening], on->room);
    const vs_gather_air air = {(uint32_t)vs_mesh_cell(k->mesh, beyond, on->rect.center_m), worth};
    for (size_t i = seen->air_first; i < g->air_count; i++) {
        if (g->air[i].cell == air.cell) {
            g->air[i].share += worth;
            return VS_OK;
        }
    }
    vs_gather_air *list = vs_growable_reserve(g->air, g->air_count, &g->air_size, sizeof *g->air);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    g->air = list;
    g->air[g->air_count++] = air;
    return VS_OK;
}

/* Turns sums over an opening's patches into means. */
static void end_parts(vs_gather *g, vs_gather_opening *seen) {
    float per = 1 / seen->worth[VS_BAND_GREEN];
    for (size_t i = 0; i < seen->room_count; i++) {
        seen->part[i] *= per;
    }
    seen->away_m *= per;
    for (int n = 0; n < VS_SH_COUNT; n++) {
        seen->harmonic[n] *= per;
    }
    for (size_t i = seen->air_first; i < g->air_count; i++) {
        g->air[i].share *= per;
    }
}

/* Its cells are listed among those of others. */
static vs_status keep_opening(vs_gather *g, size_t beyond, vs_gather_opening *seen) {
    size_t block, behind;
    vs_gather_opening *list =
        vs_growable_reserve(g->opening, g->opening_count, &g->opening_size, sizeof *list);
    g->opening = list ? list : g->opening;
    if (!list || block_of(g, g->segment_count, beyond, &block) != VS_OK) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = seen->air_first; i < g->air_count; i++) {
        if (!place_in(&g->behind, 0, &g->behind_count, &g->behind_size, g->air[i].cell, &behind)) {
            return VS_ERR_MEMORY;
        }
        g->air[i].cell = (uint32_t)behind;
    }
    seen->block = (uint32_t)block;
    seen->eight_end = g->eight_count;
    seen->air_end = g->air_count;
    g->opening[g->opening_count++] = *seen;
    return VS_OK;
}

/* One opening of the last room, if it leads on to another: the air behind it, and what is seen
 * there. */
static vs_status add_opening(vs_gather *g, opening_view *k, size_t opening, vs_bands scale) {
    const vs_room_view *v = &k->view[k->count];
    const vs_opening *on = &k->mesh->space->opening[opening];
    size_t beyond = vs_opening_beyond(on, k->room[k->count]);
    vs_gather_opening seen = {.node = (uint32_t)(g->node_count - 1),
                              .room_count = (uint32_t)k->count + 1,
                              .eight_first = g->eight_count,
                              .air_first = g->air_count};
    vs_status status = VS_OK;
    for (size_t i = 0; i <= k->count; i++) {
        seen.room[i] = (uint32_t)k->room[i];
    }
    for (size_t n = 0; n < v->opening_count && status == VS_OK && beyond != VS_SPACE_OUTSIDE; n++) {
        const vs_patch *patch = &k->mesh->patch[v->opening[n]];
        size_t i = v->opening[n] - v->first;
        if (patch->opening == opening && patch->room == v->room && v->worth[VS_BAND_GREEN][i] > 0) {
            vs_bands worth = vs_bands_scale(worth_of(v, i, scale), on->transmittance);
            add_part(k, i, worth, &seen);
            status = add_air(g, k, i, (float)worth.v[VS_BAND_GREEN], &seen);
        }
    }
    if (status == VS_OK && seen.worth[VS_BAND_GREEN] > 0) {
        vs_bands all = {{(double)seen.worth[0], (double)seen.worth[1], (double)seen.worth[2]}};
        end_parts(g, &seen);
        k->opening[k->count++] = opening;
        k->room[k->count] = beyond;
        status = add_behind(g, k, all);
        status = status == VS_OK ? keep_opening(g, beyond, &seen) : status;
        if (status == VS_OK && k->count < VS_VIEW_OPENINGS_MAX) {
            status = add_openings(g, k, all);
        }
        k->count--;
    }
    return status;
}

/* The openings of the last room.  scale: of its view's worths */
static vs_status add_openings(vs_gather *g, opening_view *k, vs_bands scale) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < k->mesh->space->opening_count && status == VS_OK; i++) {
        if (vs_opening_joins(&k->mesh->space->opening[i], k->room[k->count])) {
            status = add_opening(g, k, i, scale);
        }
    }
    return status;
}

/* ---- places ---- */

/* Keeps what is seen from a place. */
static vs_status add_node(vs_gather *g, opening_view *k, vs_gather_node node) {
    const vs_room_view *v = k->view;
    vs_gather_node *list =
        vs_growable_reserve(g->node, g->node_count, &g->node_size, sizeof *g->node);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    g->node = list;
    look(g, k);
    node.whole = (v->count + LANES - 1) / LANES * LANES;
    node.view = g->view_count;
    float *kept = add_view(g, (VS_BAND_COUNT + 1) * node.whole);
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        memcpy(kept + band * node.whole, v->worth[band], node.whole * sizeof *kept);
    }
    memcpy(kept + VS_BAND_COUNT * node.whole, v->away_m, node.whole * sizeof *kept);
    vs_mesh_cells_about(k->mesh, k->room[0], k->at_m, node.cell, node.share);
    g->node[g->node_count++] = node;
    return add_openings(g, k, vs_bands_grey(1));
}

static vs_status add_segment_nodes(vs_gather *g, const vs_mesh *mesh,
                                   const vs_scattering *scattering, vs_room_view *view, size_t p) {
    const vs_gather_segment *segment = &g->segment[p];
    double length_m = segment->to_m - segment->from_m;
    const vs_legendre_rule *rule = &vs_legendre_rules[NODES];
    vs_status status = VS_OK;
    for (int i = 0; i < NODES && status == VS_OK; i++) {
        vs_gather_node node = {.segment = p,
                               .off_m = (rule->node[i] + 1) / 2 * length_m,
                               .weight = rule->weight[i] / 2 * length_m * segment->open};
        vs_vec3 at_m = vs_vec3_along(g->at_m, g->toward, segment->from_m + node.off_m);
        opening_view k = {mesh, scattering, at_m, view, .room = {segment->room}};
        status = add_node(g, &k, node);
    }
    return status;
}

vs_status vs_gather_ray(vs_gather *g, const vs_mesh *mesh, const vs_scattering *scattering,
                        vs_room_view *view, const vs_camera_ray *ray) {
    double y[VS_SH_COUNT];
    vs_status status = VS_OK;
    forget(g);
    g->place = g->on_surface = false;
    g->at_m = ray->at_m;
    g->toward = ray->direction;
    vs_sh(vs_vec3_scale(g->toward, -1), y);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int n = 0; n < VS_SH_COUNT; n++) {
            g->harmonic[band][n] = (float)(y[n] * scattering->moment[band][vs_sh_degree[n]]);
        }
    }
    for (size_t p = 0; p < ray->segment_count && status == VS_OK; p++) {
        const vs_ray_segment *on = &ray->segment[p];
        vs_gather_segment segment = {on->room, on->from_m, on->to_m, on->open};
        status = on->room == VS_SPACE_OUTSIDE ? VS_OK : add_segment(g, mesh, segment);
    }
    for (size_t p = 0; p < g->segment_count && status == VS_OK; p++) {
        status = add_segment_nodes(g, mesh, scattering, view, p);
    }
    return status;
}

/* Light of harmonics on a surface facing along a normal: each degree's share of the cosine lobe,
 * pi, 2 pi/3, pi/4, 0 by degree (Ramamoorthi & Hanrahan 2001). */
static void facing_harmonics(vs_vec3 normal, float harmonic[VS_BAND_COUNT][VS_SH_COUNT]) {
    static const double share[VS_SH_ORDER + 1] = {VS_PI, 2 * VS_PI / 3, VS_PI / 4, 0};
    double y[VS_SH_COUNT];
    vs_sh(vs_vec3_scale(normal, -1), y);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int n = 0; n < VS_SH_COUNT; n++) {
            harmonic[band][n] = (float)(y[n] * share[vs_sh_degree[n]]);
        }
    }
}

vs_status vs_gather_place(vs_gather *g, const vs_mesh *mesh, vs_room_view *view, vs_vec3 p_m,
                          vs_vec3 normal) {
    vs_vec3 at_m = vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M);
    vs_gather_segment segment = {vs_space_room_at(mesh->space, at_m), 0, 0, 1};
    vs_gather_node node = {.weight = VS_PI};
    forget(g);
    g->place = true;
    g->at_m = at_m;
    g->toward = normal;
    facing_harmonics(normal, g->harmonic);
    if (segment.room == VS_SPACE_OUTSIDE) {
        return VS_OK;
    }
    g->on_surface = vs_mesh_about(mesh, segment.room, at_m, normal, g->about, g->about_share);
    vs_status status = add_segment(g, mesh, segment);
    if (status == VS_OK) {
        opening_view k = {mesh, NULL, at_m, view, .room = {segment.room}};
        status = add_node(g, &k, node);
    }
    return status;
}

/* An emitter's beam, and what of its light is scattered forward. */
static vs_status see_light(vs_gather *g, const vs_mesh *mesh, const vs_scattering *scattering,
                           const vs_traced *traced, vs_gather_light *light) {
    light->samples.count = 0;
    vs_status status = vs_beams_seen(g, mesh, scattering, traced, light);
    light->beam_end = light->samples.count;
    return status == VS_OK && !g->place
               ? vs_straight_on_seen(g, mesh->space, scattering, traced, light)
               : status;
}

vs_status vs_gather_lights(vs_gather *g, const vs_mesh *mesh, const vs_scattering *scattering,
                           const vs_traced *traced, const vs_bands *strength) {
    bool all_known = true;
    vs_status status = VS_OK;
    for (size_t e = 0; e < g->emitter_count && status == VS_OK; e++) {
        size_t *number = &g->light[e].number, was = *number;
        bool wanted = was > 0 ? traced[e].good : vs_bands_luminance(strength[e]) > 0;
        *number = wanted ? traced[e].number : 0;
        if (*number != was) {
            all_known = false;
            status = wanted ? see_light(g, mesh, scattering, &traced[e], &g->light[e]) : VS_OK;
        }
    }
    if (status == VS_OK && !all_known) {
        status = vs_pools_seen(g, mesh, scattering, traced);
    }
    if (status != VS_OK) {
        forget_lights(g);
    } else if (g->tight && !all_known) {
        lights_tighten(g);
    }
    return status;
}
