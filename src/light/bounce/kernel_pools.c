/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pool is a rectangle of even light, seen in closed form from nodes of its own; from afar a whole
 * one stands for its parts, and its patch for it. */
#include "light/bounce/kernel_pools.h"

#include "light/bounce/near_nodes.h"
#include "veilstop/light/form_factor.h"

#define ONE_SIZE 0.4 /* [1] of the distance: a pool smaller is seen as one */
/* A pool counts by itself where it is nearer than so many of its sizes, and of how far it is off
 * its patch's middle; measured: docs/accuracy.md. */
#define NEAR_SIZES 1.5
#define NEAR_OFFS  5.0
#define WHOLE_SIZE 0.1 /* [1] of the distance: the shape of a larger one counts */

/* Eight places before a rectangle, on its own axes from its middle: what it looks like from there.
 */
typedef struct {
    double u[LANES], v[LANES], h[LANES];
    double solid_sr[LANES];                       /* 0 from behind */
    double to_u[LANES], to_v[LANES], to_h[LANES]; /* unit vectors towards it, summed over that;
                                                   * h: towards its plane */
} rect_view;

/* Adds what one corner counts in the sums (docs/physics.md, "Solid angles"). */
LANES_INLINE void add_corner(rect_view *r, double side_u, double side_v, double sign, bool whole) {
    EACH_LANE(l) {
        double x = side_u - r->u[l], y = side_v - r->v[l], h = lane_max(r->h[l], LANES_TINY);
        double s2 = y * y + h * h, t2 = x * x + h * h;
        double up = h * sqrt(s2 + x * x) + LANES_TINY;
        r->solid_sr[l] += sign * lane_signed_atan_short(x * y, up);
        if (whole) {
            double s = sqrt(s2), t = sqrt(t2);
            double a = lane_signed_atan_short(x, s + LANES_TINY);
            double b = lane_signed_atan_short(y, t + LANES_TINY);
            r->to_u[l] -= sign * 0.5 * b * h / (t + LANES_TINY);
            r->to_v[l] -= sign * 0.5 * a * h / (s + LANES_TINY);
            r->to_h[l] += sign * 0.5 * (a * y / (s + LANES_TINY) + b * x / (t + LANES_TINY));
        }
    }
}

/* whole: the vectors too; else they lead to its middle, from afar */
LANES_INLINE void look_at_rect(const vs_rect *rect, bool whole, rect_view *r) {
    EACH_LANE(l) {
        r->solid_sr[l] = 0;
        r->to_u[l] = whole ? 0 : -r->u[l];
        r->to_v[l] = whole ? 0 : -r->v[l];
        r->to_h[l] = whole ? 0 : r->h[l];
    }
    add_corner(r, rect->half_u_m, rect->half_v_m, 1, whole);
    add_corner(r, -rect->half_u_m, rect->half_v_m, -1, whole);
    add_corner(r, rect->half_u_m, -rect->half_v_m, -1, whole);
    add_corner(r, -rect->half_u_m, -rect->half_v_m, 1, whole);
    EACH_LANE(l) {
        r->solid_sr[l] = r->h[l] > 0 ? lane_max(0, r->solid_sr[l]) : 0;
    }
}

/* Phase functions over a rectangle seen so, for light scattered into -d: over a cap of the same
 * solid angle or, where the vectors tell it, of the same spread. */
LANES_INLINE void rect_phases(const vs_scattering *s, const vs_rect *rect, const rect_view *r,
                              vs_vec3 d, bool whole, double per_sr[VS_BAND_COUNT][LANES]) {
    double du = vs_vec3_dot(d, rect->u), dv = vs_vec3_dot(d, rect->v);
    double dh = -vs_vec3_dot(d, rect->normal), cosine[LANES], cap[LANES];
    EACH_LANE(l) {
        double u = r->to_u[l], v = r->to_v[l], h = r->to_h[l];
        double sum = sqrt(u * u + v * v + h * h) + LANES_TINY;
        double spread = 1 - sum / (r->solid_sr[l] + LANES_TINY);
        cosine[l] = (u * du + v * dv + h * dh) / sum;
        cap[l] = whole ? 4 * VS_PI * lane_max(0, spread) : r->solid_sr[l];
    }
    lanes_scattering(s, cosine, cap, per_sr);
}

/* What haze about eight nodes scatters into the lens of a pool's light. */
typedef struct {
    double worth[VS_BAND_COUNT][LANES];
    double plain_m[LANES], wide_m[LANES];
} pool_seen;

LANES_INLINE void see_pool(const vs_scattering *s, const vs_space *space, const vs_gather *g,
                           const vs_gather_piece *piece, const vs_pool *pool, bool whole,
                           pool_seen *seen) {
    const vs_rect *rect = &pool->rect;
    vs_vec3 to_pool = vs_vec3_sub(rect->center_m, g->at_m), d = g->toward;
    double area_m2 = 4 * rect->half_u_m * rect->half_v_m, foot_m = vs_vec3_dot(to_pool, d);
    double across2 = lane_max(0, vs_vec3_dot(to_pool, to_pool) - foot_m * foot_m);
    double x[LANES], y[LANES], z[LANES], open[LANES];
    near_nodes n;
    rect_view r;
    near_place_nodes(piece, foot_m, sqrt(across2 + area_m2 / VS_PI), s->gather, &n);
    EACH_LANE(l) { /* from the pool to the node */
        x[l] = n.at_m[l] * d.x - to_pool.x;
        y[l] = n.at_m[l] * d.y - to_pool.y;
        z[l] = n.at_m[l] * d.z - to_pool.z;
        seen->plain_m[l] = n.at_m[l] - piece->from_m;
        seen->wide_m[l] = sqrt(x[l] * x[l] + y[l] * y[l] + z[l] * z[l]) + LANES_TINY;
        r.u[l] = x[l] * rect->u.x + y[l] * rect->u.y + z[l] * rect->u.z;
        r.v[l] = x[l] * rect->v.x + y[l] * rect->v.y + z[l] * rect->v.z;
        r.h[l] = x[l] * rect->normal.x + y[l] * rect->normal.y + z[l] * rect->normal.z;
        open[l] = 1;
    }
    look_at_rect(rect, whole, &r);
    if (space->blocker_count > 0) {
        vs_past_screens(space, rect->center_m, x, y, z, open);
    }
    rect_phases(s, rect, &r, d, whole, seen->worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            seen->worth[band][l] *= r.solid_sr[l] * open[l] * n.step_m[l] * piece->open / area_m2;
        }
    }
}

/* Keeps eight nodes, those next to one another as one where their ways are about as long. */
static vs_status keep_seen(const vs_scattering *s, const pool_seen *seen, size_t source,
                           size_t piece, vs_gather_light *light) {
    near_sum sum = {{0}, 0, 0, 0, 0};
    double begun_m = 0, dimming = s->wide.dimming.v[VS_BAND_GREEN];
    vs_status status = VS_OK;
    for (int l = 0; l < LANES && status == VS_OK; l++) {
        double worth[VS_BAND_COUNT] = {seen->worth[0][l], seen->worth[1][l], seen->worth[2][l]};
        double length_m = seen->plain_m[l] + dimming * seen->wide_m[l];
        double apart_m = length_m > begun_m ? length_m - begun_m : begun_m - length_m;
        if (sum.by > 0 && apart_m > NEAR_ALIKE_M) {
            const near_sum none = {{0}, 0, 0, 0, 0};
            status = near_sum_keep(&sum, source, piece, light);
            sum = none;
        }
        begun_m = sum.by > 0 ? begun_m : length_m;
        near_sum_add(&sum, worth, worth[VS_BAND_GREEN], seen->plain_m[l], 0, seen->wide_m[l]);
    }
    return status == VS_OK ? near_sum_keep(&sum, source, piece, light) : status;
}

/* How far a pool's middle is from a piece of a line of sight, or from a place. */
LANES_INLINE double away_from_m(const vs_gather *g, const vs_gather_piece *piece,
                                const vs_pool *pool) {
    vs_vec3 way = vs_vec3_sub(pool->rect.center_m, g->at_m);
    double foot = g->place ? 0 : vs_vec3_dot(way, g->toward);
    foot = lane_min(lane_max(foot, piece->from_m), piece->to_m);
    vs_vec3 off = vs_vec3_along(way, g->toward, -foot);
    return sqrt(vs_vec3_dot(off, off));
}

/* Whether a pool is seen as one, from so far; else its parts are. */
LANES_INLINE bool is_one(const vs_tracing *walks, size_t pool, double away_m) {
    return walks->pool[pool].end == pool + 1 || walks->pool[pool].size_m < ONE_SIZE * away_m;
}

/* Whether a pool, whole, is so near that its place and shape within its patch count. */
LANES_INLINE bool is_near(const vs_mesh *mesh, const vs_pool *pool, double away_m) {
    vs_vec3 off = vs_vec3_sub(pool->rect.center_m, mesh->patch[pool->patch].rect.center_m);
    return away_m < NEAR_SIZES * pool->size_m + NEAR_OFFS * vs_vec3_length(off);
}

/* What a pool's light is worth on a surface. */
static vs_status see_on_surface(const vs_gather *g, const vs_space *space, const vs_pool *pool,
                                size_t source, vs_gather_light *light) {
    double view = VS_PI * vs_form_factor_from_point(g->at_m, g->toward, &pool->rect);
    double open = view > 0 ? vs_space_past_blockers(space, pool->rect.center_m, g->at_m) : 0;
    double per_m2 = 0.25 / (pool->rect.half_u_m * pool->rect.half_v_m);
    double away_m = vs_vec3_length(vs_vec3_sub(g->at_m, pool->rect.center_m));
    double worth = per_m2 * view * open;
    const vs_gather_sample sample = {{worth, worth, worth}, 0, 0, away_m};
    return worth > 0 ? vs_gather_add_sample(light, 0, source, &sample) : VS_OK;
}

LANES_CLONES static vs_status see_on_line(const vs_gather *g, const vs_space *space,
                                          const vs_scattering *s, size_t piece, const vs_pool *pool,
                                          size_t source, double away_m, vs_gather_light *light) {
    pool_seen seen;
    see_pool(s, space, g, &g->piece[piece], pool, pool->size_m > WHOLE_SIZE * away_m, &seen);
    return keep_seen(s, &seen, source, piece, light);
}

static vs_status see_from_piece(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                                const vs_tracing *walks, size_t piece, vs_gather_light *light) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < walks->pool_count && status == VS_OK;) {
        const vs_pool *pool = &walks->pool[i];
        bool whole = pool->parent == VS_LEG_NONE;
        if (whole && mesh->patch[pool->patch].room != g->piece[piece].room) {
            i = pool->end;
            continue;
        }
        double away_m = away_from_m(g, &g->piece[piece], pool);
        if (whole && !is_near(mesh, pool, away_m)) {
            i = pool->end;
            continue;
        }
        if (whole) {
            const vs_gather_left_out left = {pool->patch, (uint32_t)piece};
            status = vs_gather_leave_out(light, left);
        }
        if (!is_one(walks, i, away_m)) {
            i++;
            continue;
        }
        if (status == VS_OK) {
            status = g->place ? see_on_surface(g, mesh->space, pool, i, light)
                              : see_on_line(g, mesh->space, s, piece, pool, i, away_m, light);
        }
        i = pool->end;
    }
    return status;
}

vs_status vs_pools_seen(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                        const vs_tracing *walks, vs_gather_light *light) {
    vs_status status = VS_OK;
    for (size_t piece = 0; piece < g->piece_count && status == VS_OK; piece++) {
        status = see_from_piece(g, mesh, s, walks, piece, light);
    }
    return status;
}
