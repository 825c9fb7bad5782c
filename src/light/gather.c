/* Patch by patch: its share of the view, near ones in quarters; openings are looked through. The
 * shares are brought to a whole, so that an even light everywhere stays even.
 * Source: van Oosterom & Strackee 1983, IEEE Trans. Biomed. Eng. 30, 125 (solid angles). */
#include "light/gather.h"

#include <math.h>

#include "light/kernel_legs.h"
#include "light/kernel_rules.h"
#include "light/views.h"
#include "veilstop/base/units.h"
#include "veilstop/light/radiosity.h"
#include "veilstop/light/view_factor.h"

#define NEAR_SIZES          1.5 /* [1] of its size: nearer than this a patch is taken in quarters */
#define QUARTERINGS         2
#define OPENING_SIZES       8.0 /* [1] the same for a piece of an opening: one looks on behind it */
#define OPENING_QUARTERINGS 3
#define HOT_SIZES           12.0 /* [1] the same for a patch that is lit unevenly: its parts are taken */
#define FAR_SIZES           3.0 /* [1] farther than this its solid angle is area x cosine / square */
#define NODES_LEAST         3   /* of a line of sight; one more for each two metres */

vs_bands vs_gather_dimming(const vs_medium *medium) {
    vs_bands share;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        share.v[band] = 1 - medium->haze->albedo.v[band] * medium->haze->phase[band].g;
    }
    return share;
}

vs_bands vs_gather_albedo(const vs_medium *medium) {
    vs_bands share;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double albedo = medium->haze->albedo.v[band], g = medium->haze->phase[band].g;
        share.v[band] = albedo * (1 - g) / (1 - albedo * g);
    }
    return share;
}

/* atan(x y / (z r)): the solid angle of a corner. */
static double corner_sr(double x, double y, double z) {
    return atan(x * y / (z * sqrt(x * x + y * y + z * z)));
}

/* z: how far the place is from its plane, over 0. */
static double solid_sr(const vs_rect *rect, vs_vec3 p, double z) {
    vs_vec3 d = vs_vec3_sub(rect->center_m, p);
    double x = vs_vec3_dot(d, rect->u), y = vs_vec3_dot(d, rect->v);
    double x0 = x - rect->half_u_m, x1 = x + rect->half_u_m;
    double y0 = y - rect->half_v_m, y1 = y + rect->half_v_m;
    return fabs(corner_sr(x1, y1, z) - corner_sr(x0, y1, z) - corner_sr(x1, y0, z) +
                corner_sr(x0, y0, z));
}

static void quarter_of(const vs_rect *rect, int i, vs_rect *quarter) {
    *quarter = *rect;
    quarter->half_u_m /= 2;
    quarter->half_v_m /= 2;
    quarter->center_m =
        vs_vec3_along(rect->center_m, rect->u, (i & 1 ? 1 : -1) * quarter->half_u_m);
    quarter->center_m =
        vs_vec3_along(quarter->center_m, rect->v, (i & 2 ? 1 : -1) * quarter->half_v_m);
}

/* A leg from a piece's middle. */
static void add_leg(const vs_gatherer *g, size_t patch, size_t sub, const vs_rect *rect,
                    vs_vec3 way, vs_legs *legs) {
    size_t i = legs->count;
    double facing_m = -vs_vec3_dot(way, rect->normal);
    if (facing_m <= 0 || i == VS_LEGS_MAX) {
        return;
    }
    double far_m = 2 * FAR_SIZES * fmax(rect->half_u_m, rect->half_v_m);
    legs->view[i] = legs->facing_m3[i] = legs->through_m[i] = 0;
    if (g->how == VS_GATHER_FACING) {
        legs->view[i] = vs_view_from_point(g->at_m, g->axis, rect);
    } else if (vs_vec3_dot(way, way) > far_m * far_m) {
        legs->facing_m3[i] = 4 * rect->half_u_m * rect->half_v_m * facing_m;
    } else {
        legs->view[i] = solid_sr(rect, g->at_m, facing_m);
    }
    legs->patch[i] = patch;
    legs->sub[i] = sub;
    legs->x_m[i] = way.x;
    legs->y_m[i] = way.y;
    legs->z_m[i] = way.z;
    legs->open[i] = g->mesh->patch[patch].presence;
    legs->count++;
}

static void take_piece(const vs_gatherer *g, size_t patch, const vs_rect *rect, int quarterings,
                       vs_legs *legs) {
    const vs_patch *whole = &g->mesh->patch[patch];
    vs_vec3 way = vs_vec3_sub(rect->center_m, g->at_m);
    double square_m2 = vs_vec3_dot(way, way), size_m = 2 * fmax(rect->half_u_m, rect->half_v_m);
    bool opening = whole->portal != VS_MESH_NONE;
    size_t hot = g->hot ? g->hot[patch] : SIZE_MAX;
    double near_m = (opening ? OPENING_SIZES : NEAR_SIZES) * size_m, hot_m = HOT_SIZES * size_m;
    /* parts are the quarters' quarters, all of them or none */
    bool parts = hot != SIZE_MAX && (quarterings > 0 || square_m2 < hot_m * hot_m);
    if (parts ? quarterings < 2
              : quarterings < (opening ? OPENING_QUARTERINGS : QUARTERINGS) &&
                    square_m2 < near_m * near_m) {
        for (int i = 0; i < 4; i++) {
            vs_rect quarter;
            quarter_of(rect, i, &quarter);
            take_piece(g, patch, &quarter, quarterings + 1, legs);
        }
        return;
    }
    size_t sub = parts ? hot * VS_MESH_SUBS + vs_mesh_sub(whole, rect->center_m) : SIZE_MAX;
    add_leg(g, patch, sub, rect, way, legs);
}

vs_vec3 vs_legs_end_m(const vs_legs *legs, size_t i) {
    const vs_vec3 way = {legs->x_m[i], legs->y_m[i], legs->z_m[i]};
    double through = legs->through_m[i] > 0 ? legs->through_m[i] / legs->way_m[i] : 1;
    return vs_vec3_along(legs->g->at_m, way, through);
}

/* A piece of an opening stands for what lies straight behind it. */
static void look_through(const vs_gatherer *g, size_t i, vs_legs *legs) {
    const vs_vec3 way = {legs->x_m[i], legs->y_m[i], legs->z_m[i]};
    vs_vec3 unit = vs_vec3_scale(way, 1 / legs->way_m[i]);
    vs_mesh_hit hit = vs_mesh_look(g->mesh, g->room, g->at_m, unit);
    double open = hit.patch == VS_MESH_NONE ? 0 : hit.open;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        legs->share[band][i] *= open;
        legs->spread[band][i] *= open;
    }
    if (open > 0) {
        legs->patch[i] = hit.patch;
        legs->through_m[i] = hit.length_m;
    }
}

static vs_bands over(vs_bands scale, vs_bands whole) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        scale.v[band] = whole.v[band] > 0 ? scale.v[band] / whole.v[band] : 0;
    }
    return scale;
}

void vs_gather_legs(const vs_gatherer *g, vs_legs *legs) {
    const vs_mesh *mesh = g->mesh;
    legs->g = g;
    legs->count = 0;
    for (size_t i = mesh->room_first[g->room]; i < mesh->room_first[g->room + 1]; i++) {
        const vs_rect *rect = &mesh->patch[i].rect;
        if (vs_vec3_dot(vs_vec3_sub(rect->center_m, g->at_m), rect->normal) < 0) {
            take_piece(g, i, rect, 0, legs);
        }
    }
    vs_legs_close(legs);
    vs_legs_past_screens(legs, mesh->space, g->at_m);
    vs_legs_worth(legs, g);
    for (size_t i = 0; i < legs->count; i++) {
        if (mesh->patch[legs->patch[i]].portal != VS_MESH_NONE && legs->view[i] > 0) {
            look_through(g, i, legs);
        }
    }
}

static void set_depths(const vs_gatherer *g, vs_legs *legs) {
    const double *k = g->medium->room_extinction_per_m;
    vs_legs_depths(legs, k[g->room]);
    for (size_t i = 0; i < legs->count; i++) {
        if (legs->through_m[i] > 0) {
            legs->depth[i] =
                vs_space_optical_depth(g->medium->space, k, g->at_m, vs_legs_end_m(legs, i));
        }
    }
}

void vs_gather_add(const vs_gatherer *g, vs_bands scale, vs_weights *sum) {
    vs_legs legs;
    vs_gather_legs(g, &legs);
    set_depths(g, &legs);
    vs_legs_dim(&legs, g, over(scale, legs.whole), over(scale, legs.whole_spread));
    for (size_t i = 0; i < legs.count; i++) {
        vs_bands *to =
            legs.sub[i] == SIZE_MAX ? &sum->patch[legs.patch[i]] : &sum->sub[legs.sub[i]];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            to->v[band] += legs.share[band][i];
            sum->cell[legs.cell[i]].v[band] += legs.spread[band][i];
        }
    }
}

/* ---- answers ---- */

static void add_products(const vs_bands *weight, const double *nits, size_t count, size_t lanes,
                         vs_bands *sum) {
    for (size_t i = 0; i < count; i++) {
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            sum->v[band] += weight[i].v[band] * nits[i * lanes + band];
        }
    }
}

static vs_bands dot(const vs_bounce *bounce, const vs_mesh *mesh, const vs_weights *sum,
                    size_t emitter) {
    vs_bands nits = vs_bands_grey(0);
    size_t lanes = bounce->shining_count * VS_BAND_COUNT;
    size_t lane = bounce->shining[emitter] * VS_BAND_COUNT;
    if (bounce->shining[emitter] == SIZE_MAX) {
        return nits;
    }
    add_products(sum->patch, bounce->patch_nits + lane, mesh->patch_count, lanes, &nits);
    add_products(sum->cell, bounce->cell_nits + lane, mesh->cell_count, lanes, &nits);
    add_products(sum->sub, bounce->sub_nits + lane, bounce->hot_count * VS_MESH_SUBS, lanes, &nits);
    return nits;
}

static void clear(vs_bounce *bounce, const vs_mesh *mesh, vs_weights *sum) {
    size_t parts = bounce->hot_count * VS_MESH_SUBS;
    sum->patch = bounce->weights;
    sum->cell = sum->patch + mesh->patch_count;
    sum->sub = sum->cell + mesh->cell_count;
    for (size_t i = 0; i < mesh->patch_count + mesh->cell_count + parts; i++) {
        bounce->weights[i] = vs_bands_grey(0);
    }
}

/* Nodes along one piece of the line of sight. They crowd towards its end, by the square: there the
 * line comes close to a surface, whose light near the end goes straight on into it. */
static void gather_piece(vs_gatherer *g, const vs_sight *sight, const vs_sight_piece *piece,
                         vs_weights *sum) {
    double length_m = piece->to_m - piece->from_m, k = piece->extinction_per_m;
    const vs_kernel_rule *rule =
        &vs_kernel_rules[(int)fmin(VS_KERNEL_ORDER_MAX, NODES_LEAST + floor(length_m / 2))];
    for (int n = 0; n < rule->count; n++) {
        double x = (1 + rule->node[n]) / 2, per_m = length_m * x * rule->weight[n];
        double at_m = piece->to_m - length_m * x * x;
        double depth = piece->depth + k * (at_m - piece->from_m);
        vs_bands scale;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double ratio = g->medium->ratio.v[band];
            scale.v[band] = g->medium->haze->albedo.v[band] * ratio * k * piece->open * per_m *
                            exp(-ratio * depth);
        }
        g->at_m = vs_sight_point(sight, at_m);
        vs_gather_add(g, scale, sum);
    }
}

void vs_bounce_veil(vs_bounce *bounce, const vs_medium *medium, const vs_sight *sight,
                    vs_bands *nits) {
    const vs_views *views = bounce->radiosity->rows;
    vs_weights sum;
    clear(bounce, &views->mesh, &sum);
    vs_gatherer g = {.mesh = &views->mesh,
                     .medium = medium,
                     .dimming = vs_gather_dimming(medium),
                     .hot = bounce->hot,
                     .how = VS_GATHER_SCATTERED,
                     .axis = vs_vec3_scale(sight->direction, -1)};
    for (size_t p = 0; p < sight->piece_count; p++) {
        if (sight->piece[p].extinction_per_m > 0) {
            g.room = sight->piece[p].room;
            gather_piece(&g, sight, &sight->piece[p], &sum);
        }
    }
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        nits[e] = dot(bounce, &views->mesh, &sum, e);
    }
}

void vs_bounce_lux(vs_bounce *bounce, const vs_medium *medium, vs_vec3 p_m, vs_vec3 normal,
                   vs_bands *lux) {
    const vs_views *views = bounce->radiosity->rows;
    vs_weights sum;
    clear(bounce, &views->mesh, &sum);
    vs_gatherer g = {.mesh = &views->mesh,
                     .medium = medium,
                     .dimming = vs_gather_dimming(medium),
                     .hot = bounce->hot,
                     .at_m = vs_vec3_along(p_m, normal, 2 * VS_SPACE_SKIN_M),
                     .how = VS_GATHER_FACING,
                     .axis = normal};
    g.room = vs_space_room_at(medium->space, g.at_m);
    if (g.room != VS_SPACE_OUTSIDE) {
        vs_gather_add(&g, vs_bands_grey(VS_PI), &sum);
    }
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        lux[e] = dot(bounce, &views->mesh, &sum, e);
    }
}
