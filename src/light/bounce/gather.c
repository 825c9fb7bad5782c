/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See gather.h. Equations: docs/physics.md, "Bounced light". */
#include "light/bounce/gather.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/numerics/legendre_rules.h"
#include "light/bounce/gather_lights.h"
#include "veilstop/base/units.h"

#define NODES       4     /* places on a segment of a camera ray; measured: docs/accuracy.md */
#define LEAST_SHARE 1e-6f /* [1] of what is seen behind an opening: less is not kept; our choice */

/* ---- memory ---- */

vs_status vs_gather_init(vs_gather *gather, const vs_mesh *mesh, const vs_scattering *scattering,
                         size_t emitter_count) {
    const vs_gather blank = {
        .mesh = mesh, .scattering = scattering, .emitter_count = emitter_count};
    *gather = blank;
    gather->light = calloc(emitter_count + 1, sizeof *gather->light);
    return gather->light ? VS_OK : VS_ERR_MEMORY;
}

#define LISTS 12 /* and two of each emitter */

/* The lists that it is made of, one by one. */
static vs_any_list list_of(vs_gather *g, size_t n) {
    if (n >= LISTS) {
        vs_gather_light *light = &g->light[(n - LISTS) / 2];
        return (n - LISTS) % 2 ? VS_ANY_LIST(&light->before_m) : VS_ANY_LIST(&light->samples);
    }
    const vs_any_list list[LISTS] = {
        VS_ANY_LIST(&g->segment),      VS_ANY_LIST(&g->blocker),
        VS_ANY_LIST(&g->node),         VS_ANY_LIST(&g->view),
        VS_ANY_LIST(&g->eight),        VS_ANY_LIST(&g->air),
        VS_ANY_LIST(&g->opening),      VS_ANY_LIST(&g->behind),
        VS_ANY_LIST(&g->block),        VS_ANY_LIST(&g->pooled.samples),
        VS_ANY_LIST(&g->pooled.pools), VS_ANY_LIST(&g->pooled.left_out)};
    return list[n];
}

static size_t list_count(const vs_gather *g) {
    return LISTS + (g->light ? 2 * g->emitter_count : 0);
}

void vs_gather_free(vs_gather *g) {
    const vs_gather blank = {0};
    for (size_t n = 0; n < list_count(g); n++) {
        vs_list_free(list_of(g, n));
    }
    free(g->light);
    *g = blank;
}

void vs_gather_tighten(vs_gather *g) {
    g->tight = true;
    for (size_t n = 0; n < list_count(g); n++) {
        vs_list_tighten(list_of(g, n));
    }
}

size_t vs_gather_bytes(vs_gather *g) {
    size_t bytes = g->emitter_count * sizeof *g->light;
    for (size_t n = 0; n < list_count(g); n++) {
        vs_any_list list = list_of(g, n);
        bytes += *list.size * list.item_bytes;
    }
    return bytes;
}

static void forget_lights(vs_gather *g) {
    for (size_t e = 0; e < g->emitter_count; e++) {
        g->light[e].number = 0;
    }
}

static void forget(vs_gather *g) {
    g->segment.count = g->blocker.count = g->node.count = g->view.count = 0;
    g->eight.count = g->air.count = g->opening.count = g->behind.count = g->block.count = 0;
    forget_lights(g);
}

/* The place of an item in a list from `from` on, put at its end where it is not there.
 * Errors: VS_ERR_MEMORY. */
static vs_status place_in(vs_gather_places *list, size_t from, size_t item, size_t *place) {
    for (*place = from; *place < list->count; (*place)++) {
        if (list->item[*place] == item) {
            return VS_OK;
        }
    }
    size_t *more = VS_LIST_ADD(list);
    if (!more) {
        return VS_ERR_MEMORY;
    }
    *more = item;
    return VS_OK;
}

static vs_status add_blocker(vs_gather *g, const vs_gather_segment *segment,
                             const vs_blocker *stops, vs_extent extent) {
    vs_gather_blocker *added = VS_LIST_ADD(&g->blocker);
    if (!added) {
        return VS_ERR_MEMORY;
    }
    const vs_vec3 axis[3] = {stops->rect.u, stops->rect.v, stops->rect.normal};
    const vs_vec3 off = vs_vec3_sub(g->at_m, stops->rect.center_m);
    vs_gather_blocker blocker = {.low = {extent.low_u, extent.low_v, 0},
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
    *added = blocker;
    return VS_OK;
}

/* A segment, its room as its block, and what stands in that. */
static vs_status add_segment(vs_gather *g, vs_gather_segment segment) {
    const vs_mesh *mesh = g->mesh;
    size_t block;
    vs_gather_segment *to = VS_LIST_ADD(&g->segment);
    if (!to) {
        return VS_ERR_MEMORY;
    }
    *to = segment;
    to->blocker_first = g->blocker.count;
    vs_status status = place_in(&g->block, g->block.count, segment.room, &block);
    for (size_t i = 0; i < mesh->space->blocker_count && status == VS_OK; i++) {
        if (mesh->blocker_room[i] == segment.room) {
            status = add_blocker(g, to, &mesh->space->blocker[i], mesh->blocker[i]);
        }
    }
    to->blocker_end = g->blocker.count;
    return status;
}

/* ---- openings ---- */

/* Through openings: the rooms on the way, the place's own first. */
typedef struct {
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
    vs_room_view_make(v, g->mesh, k->room, k->at_m, k->opening, k->count);
    vs_room_view_worths(v, g->place ? NULL : g->scattering, g->toward);
}

/* Adds eight patches of the last room, behind its opening.
 *     worth  of all of the opening */
static vs_status add_eight(vs_gather *g, const opening_view *k, size_t n, vs_bands worth) {
    const vs_room_view *v = &k->view[k->count];
    const float *crossed = v->crossed[k->count - 1] + n, *away_m = v->away_m + n;
    vs_gather_eight *eight = VS_LIST_ADD(&g->eight);
    if (!eight) {
        return VS_ERR_MEMORY;
    }
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
    /* a patch about the place itself is seen in no direction more than in another */
    double length = vs_vec3_length(back);
    vs_sh(length > 0 ? vs_vec3_scale(back, 1 / length) : back, y);
    for (int n = 0; n < (length > 0 ? VS_SH_COUNT : 1); n++) {
        seen->harmonic[n] += (float)(by * y[n]);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        seen->worth[band] += (float)worth.v[band];
    }
}

/* Adds the cell of air behind an opening at a patch of it. */
static vs_status add_air(vs_gather *g, const opening_view *k, size_t patch, float worth,
                         const vs_gather_opening *seen) {
    const vs_patch *on = &g->mesh->patch[k->view[k->count].first + patch];
    size_t beyond = vs_opening_beyond(&g->mesh->space->opening[on->opening], on->room);
    uint32_t cell = (uint32_t)vs_mesh_cell(g->mesh, beyond, on->rect.center_m);
    for (size_t i = seen->air_first; i < g->air.count; i++) {
        if (g->air.item[i].cell == cell) {
            g->air.item[i].share += worth;
            return VS_OK;
        }
    }
    vs_gather_air *air = VS_LIST_ADD(&g->air);
    if (!air) {
        return VS_ERR_MEMORY;
    }
    air->cell = cell;
    air->share = worth;
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
    for (size_t i = seen->air_first; i < g->air.count; i++) {
        g->air.item[i].share *= per;
    }
}

/* Its cells are listed among those of others. */
static vs_status keep_opening(vs_gather *g, size_t beyond, vs_gather_opening *seen) {
    size_t block, behind;
    vs_gather_opening *to = VS_LIST_ADD(&g->opening);
    vs_status status = to ? place_in(&g->block, g->segment.count, beyond, &block) : VS_ERR_MEMORY;
    for (size_t i = seen->air_first; i < g->air.count && status == VS_OK; i++) {
        status = place_in(&g->behind, 0, g->air.item[i].cell, &behind);
        g->air.item[i].cell = (uint32_t)behind;
    }
    if (status != VS_OK) {
        return status;
    }
    seen->block = (uint32_t)block;
    seen->eight_end = g->eight.count;
    seen->air_end = g->air.count;
    *to = *seen;
    return VS_OK;
}

/* One opening of the last room, if it leads on to another: the air behind it, and what is seen
 * there. */
static vs_status add_opening(vs_gather *g, opening_view *k, size_t opening, vs_bands scale) {
    const vs_room_view *v = &k->view[k->count];
    const vs_opening *on = &g->mesh->space->opening[opening];
    size_t beyond = vs_opening_beyond(on, k->room[k->count]);
    vs_gather_opening seen = {.node = (uint32_t)(g->node.count - 1),
                              .room_count = (uint32_t)k->count + 1,
                              .eight_first = g->eight.count,
                              .air_first = g->air.count};
    vs_status status = VS_OK;
    for (size_t i = 0; i <= k->count; i++) {
        seen.room[i] = (uint32_t)k->room[i];
    }
    for (size_t n = 0; n < v->opening_count && status == VS_OK && beyond != VS_SPACE_OUTSIDE; n++) {
        const vs_patch *patch = &g->mesh->patch[v->opening[n]];
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
    for (size_t i = 0; i < g->mesh->space->opening_count && status == VS_OK; i++) {
        if (vs_opening_joins(&g->mesh->space->opening[i], k->room[k->count])) {
            status = add_opening(g, k, i, scale);
        }
    }
    return status;
}

/* ---- places ---- */

/* Keeps what is seen from a place. */
static vs_status add_node(vs_gather *g, opening_view *k, vs_gather_node node) {
    const vs_room_view *v = k->view;
    look(g, k);
    node.whole = whole_lanes(v->count);
    node.view = g->view.count;
    float *kept = vs_list_add_many(VS_ANY_LIST(&g->view), (VS_BAND_COUNT + 1) * node.whole);
    vs_gather_node *to = VS_LIST_ADD(&g->node);
    if (!kept || !to) {
        return VS_ERR_MEMORY;
    }
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        memcpy(kept + band * node.whole, v->worth[band], node.whole * sizeof *kept);
    }
    memcpy(kept + VS_BAND_COUNT * node.whole, v->away_m, node.whole * sizeof *kept);
    vs_mesh_cells_about(g->mesh, k->room[0], k->at_m, node.cell, node.share);
    *to = node;
    return add_openings(g, k, vs_bands_grey(1));
}

/* Those on a segment: of a place, itself. */
static vs_status add_nodes(vs_gather *g, opening_view *k, size_t p) {
    const vs_gather_segment *segment = &g->segment.item[p];
    double length_m = segment->to_m - segment->from_m;
    const vs_legendre_rule *rule = &vs_legendre_rules[g->place ? 1 : NODES];
    vs_status status = VS_OK;
    k->room[0] = segment->room;
    for (int i = 0; i < rule->count && status == VS_OK; i++) {
        double weight = rule->weight[i] / 2 * length_m * segment->open;
        vs_gather_node node = {.segment = p,
                               .off_m = (rule->node[i] + 1) / 2 * length_m,
                               .weight = g->place ? VS_PI : weight};
        k->at_m = vs_vec3_along(g->at_m, g->toward, segment->from_m + node.off_m);
        status = add_node(g, k, node);
    }
    return status;
}

static vs_status add_all_nodes(vs_gather *g, vs_room_view *view) {
    opening_view k = {.view = view};
    vs_status status = VS_OK;
    for (size_t p = 0; p < g->segment.count && status == VS_OK; p++) {
        status = add_nodes(g, &k, p);
    }
    return status;
}

/* Forgets what it held. What light of harmonics is worth to droplets, or to a surface: each degree's
 * share of the cosine lobe over pi, by degree (Ramamoorthi & Hanrahan 2001). */
static void begin(vs_gather *g, bool place, vs_vec3 at_m, vs_vec3 toward) {
    static const double lobe[VS_SH_ORDER + 1] = {1, 2.0 / 3, 1.0 / 4, 0};
    double y[VS_SH_COUNT];
    forget(g);
    g->place = place;
    g->on_surface = false;
    g->at_m = at_m;
    g->toward = toward;
    vs_sh(vs_vec3_scale(toward, -1), y);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const double *moment = place ? lobe : g->scattering->moment[band];
        for (int n = 0; n < VS_SH_COUNT; n++) {
            g->harmonic[band][n] = (float)(y[n] * moment[vs_sh_degree[n]]);
        }
    }
}

vs_status vs_gather_ray(vs_gather *g, vs_room_view *view, const vs_camera_ray *ray) {
    vs_status status = VS_OK;
    begin(g, false, ray->at_m, ray->direction);
    for (size_t p = 0; p < ray->segment_count && status == VS_OK; p++) {
        const vs_ray_segment *on = &ray->segment[p];
        vs_gather_segment segment = {on->room, on->from_m, on->to_m, on->open, 0, 0};
        status = on->room == VS_SPACE_OUTSIDE ? VS_OK : add_segment(g, segment);
    }
    return status == VS_OK ? add_all_nodes(g, view) : status;
}

vs_status vs_gather_place(vs_gather *g, vs_room_view *view, vs_vec3 p_m, vs_vec3 normal) {
    vs_vec3 at_m = vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M);
    vs_gather_segment segment = {vs_space_room_at(g->mesh->space, at_m), 0, 0, 1, 0, 0};
    begin(g, true, at_m, normal);
    if (segment.room == VS_SPACE_OUTSIDE) {
        return VS_OK;
    }
    g->on_surface = vs_mesh_about(g->mesh, segment.room, at_m, normal, g->about, g->about_share);
    vs_status status = add_segment(g, segment);
    return status == VS_OK ? add_all_nodes(g, view) : status;
}

/* ---- emitters ---- */

/* An emitter's beam, and what of its light is scattered forward. */
static vs_status see_light(const vs_gather *g, const vs_traced *traced, vs_gather_light *light) {
    light->samples.count = 0;
    vs_status status = vs_beams_seen(g, traced, light);
    light->beam_end = light->samples.count;
    return status == VS_OK && !g->place ? vs_straight_on_seen(g, traced, light) : status;
}

vs_status vs_gather_lights(vs_gather *g, const vs_traced *traced, const vs_bands *strength) {
    bool all_known = true;
    vs_status status = VS_OK;
    for (size_t e = 0; e < g->emitter_count && status == VS_OK; e++) {
        size_t *number = &g->light[e].number, was = *number;
        bool wanted = was > 0 ? traced[e].good : vs_bands_luminance(strength[e]) > 0;
        *number = wanted ? traced[e].number : 0;
        if (*number != was) {
            all_known = false;
            status = wanted ? see_light(g, &traced[e], &g->light[e]) : VS_OK;
        }
    }
    if (status == VS_OK && !all_known) {
        status = vs_pools_seen(g, traced);
    }
    if (status != VS_OK) {
        forget_lights(g);
    } else if (g->tight && !all_known) {
        vs_gather_tighten(g);
    }
    return status;
}
