/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pool is a rectangle of even light, seen in closed form from its own nodes; from afar a whole
 * pool stands for its parts, and its patch for the pool. */
#include "light/bounce/gather_pools.h"

#include <math.h>

#include "light/bounce/near_nodes.h"
#include "veilstop/base/units.h"
#include "veilstop/light/form_factor.h"

#define ONE_SIZE   0.4 /* [1] of the distance: a pool smaller is seen as one */
#define WHOLE_SIZE 0.1 /* [1] of the distance: the shape of a larger one counts */

/* Eight places before a rectangle, on its own axes from its middle: what it looks like from there.
 */
typedef struct {
    float u[LANES], v[LANES], h[LANES];
    float solid_sr[LANES];                       /* 0 from behind */
    float to_u[LANES], to_v[LANES], to_h[LANES]; /* unit vectors towards it, summed over that;
                                                    * h: towards its plane */
} rect_view;

/* Adds what one corner contributes to the sums (docs/physics.md, "Solid angles"). */
LANES_INLINE void add_corner(rect_view *r, float side_u, float side_v, float sign, bool whole) {
    EACH_LANE(l) {
        float x = side_u - r->u[l], y = side_v - r->v[l], h = single_max(r->h[l], SINGLE_TINY);
        float s2 = y * y + h * h, t2 = x * x + h * h;
        r->solid_sr[l] += sign * single_atan(x * y, h * sqrtf(s2 + x * x) + SINGLE_TINY);
        if (whole) {
            float s = sqrtf(s2) + SINGLE_TINY, t = sqrtf(t2) + SINGLE_TINY;
            float a = single_atan(x, s), b = single_atan(y, t);
            r->to_u[l] -= sign * 0.5f * b * h / t;
            r->to_v[l] -= sign * 0.5f * a * h / s;
            r->to_h[l] += sign * 0.5f * (a * y / s + b * x / t);
        }
    }
}

/* whole: the vectors too; else they lead to its middle, from afar */
LANES_INLINE void look_at_rect(float half_u, float half_v, bool whole, rect_view *r) {
    EACH_LANE(l) {
        r->solid_sr[l] = 0;
        r->to_u[l] = whole ? 0 : -r->u[l];
        r->to_v[l] = whole ? 0 : -r->v[l];
        r->to_h[l] = whole ? 0 : r->h[l];
    }
    add_corner(r, half_u, half_v, 1, whole);
    add_corner(r, -half_u, half_v, -1, whole);
    add_corner(r, half_u, -half_v, -1, whole);
    add_corner(r, -half_u, -half_v, 1, whole);
    EACH_LANE(l) {
        r->solid_sr[l] = r->h[l] > 0 ? single_max(0, r->solid_sr[l]) : 0;
    }
}

/* Phase functions over a rectangle seen so, for light scattered into -d: over a cap of the same
 * solid angle or, where the vectors tell it, of the same spread. */
LANES_INLINE void rect_phases(const vs_scattering *s, const vs_rect *rect, const rect_view *r,
                              vs_vec3 d, bool whole, float per_sr[VS_BAND_COUNT][LANES]) {
    float du = (float)vs_vec3_dot(d, rect->u), dv = (float)vs_vec3_dot(d, rect->v);
    float dh = -(float)vs_vec3_dot(d, rect->normal), cosine[LANES], cap[LANES];
    EACH_LANE(l) {
        float u = r->to_u[l], v = r->to_v[l], h = r->to_h[l];
        float sum = sqrtf(u * u + v * v + h * h) + SINGLE_TINY;
        cosine[l] = (u * du + v * dv + h * dh) / sum;
        cap[l] = whole ? lane_cap_sr(sum, r->solid_sr[l]) : r->solid_sr[l];
    }
    lanes_scattering(s, cosine, cap, per_sr);
}

/* What haze about eight nodes scatters into the lens of a pool's light. */
typedef struct {
    float worth[VS_BAND_COUNT][LANES];
    float plain_m[LANES], wide_m[LANES];
} pool_seen;

LANES_INLINE void see_pool(const vs_scattering *s, const vs_mesh *mesh, const vs_gather *g,
                           const vs_gather_segment *segment, const vs_pool *pool, bool whole,
                           pool_seen *seen) {
    const vs_rect *rect = &pool->rect;
    vs_vec3 to_pool = vs_vec3_sub(rect->center_m, g->at_m), d = g->toward;
    double area_m2 = 4 * rect->half_u_m * rect->half_v_m, foot_m = vs_vec3_dot(to_pool, d);
    double across2 = fmax(0, vs_vec3_dot(to_pool, to_pool) - foot_m * foot_m);
    vs_vec3 from = vs_vec3_along(vs_vec3_scale(to_pool, -1), d, segment->from_m);
    float x[LANES], y[LANES], z[LANES], open[LANES];
    near_nodes n;
    rect_view r;
    near_place_nodes(segment, foot_m, sqrt(across2 + area_m2 / VS_PI), s->gather, &n);
    float fx = (float)from.x, fy = (float)from.y, fz = (float)from.z;
    float fu = (float)vs_vec3_dot(from, rect->u), du = (float)vs_vec3_dot(d, rect->u);
    float fv = (float)vs_vec3_dot(from, rect->v), dv = (float)vs_vec3_dot(d, rect->v);
    float fh = (float)vs_vec3_dot(from, rect->normal), dh = (float)vs_vec3_dot(d, rect->normal);
    float dx = (float)d.x, dy = (float)d.y, dz = (float)d.z;
    EACH_LANE(l) { /* from the pool to the node */
        x[l] = fx + n.at_m[l] * dx;
        y[l] = fy + n.at_m[l] * dy;
        z[l] = fz + n.at_m[l] * dz;
        seen->plain_m[l] = n.at_m[l];
        seen->wide_m[l] = sqrtf(x[l] * x[l] + y[l] * y[l] + z[l] * z[l]) + SINGLE_TINY;
        r.u[l] = fu + n.at_m[l] * du;
        r.v[l] = fv + n.at_m[l] * dv;
        r.h[l] = fh + n.at_m[l] * dh;
        open[l] = (float)(segment->open / area_m2);
    }
    look_at_rect((float)rect->half_u_m, (float)rect->half_v_m, whole, &r);
    vs_past_blockers(mesh, segment->room, rect->center_m, x, y, z, open);
    rect_phases(s, rect, &r, d, whole, seen->worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            seen->worth[band][l] *= r.solid_sr[l] * open[l] * n.step_m[l];
        }
    }
}

/* Keeps eight nodes, joining neighbours whose paths are about as long. */
static vs_status keep_seen(const vs_scattering *s, const pool_seen *seen, size_t source,
                           size_t segment, vs_gather_light *light) {
    near_sum sum = {{0}, 0, 0, 0, 0};
    float begun_m = 0, dimming = (float)s->wide.dimming.v[VS_BAND_GREEN];
    vs_status status = VS_OK;
    for (int l = 0; l < LANES && status == VS_OK; l++) {
        float worth[VS_BAND_COUNT] = {seen->worth[0][l], seen->worth[1][l], seen->worth[2][l]};
        float length_m = seen->plain_m[l] + dimming * seen->wide_m[l];
        float apart_m = length_m > begun_m ? length_m - begun_m : begun_m - length_m;
        if (sum.by > 0 && apart_m > NEAR_ALIKE_M) {
            const near_sum none = {{0}, 0, 0, 0, 0};
            status = near_sum_keep(&sum, source, segment, light);
            sum = none;
        }
        begun_m = sum.by > 0 ? begun_m : length_m;
        near_sum_add(&sum, worth, worth[VS_BAND_GREEN], seen->plain_m[l], 0, seen->wide_m[l]);
    }
    return status == VS_OK ? near_sum_keep(&sum, source, segment, light) : status;
}

/* Square of how far a place is from a segment of a ray, or from a place. */
LANES_INLINE float away_m2(const vs_gather *g, const vs_gather_segment *segment, vs_vec3 p_m) {
    vs_vec3 to_m = vs_vec3_sub(p_m, g->at_m);
    double foot = g->place ? 0 : vs_vec3_dot(to_m, g->toward);
    vs_vec3 off = vs_vec3_along(to_m, g->toward, -fmin(fmax(foot, segment->from_m), segment->to_m));
    return (float)vs_vec3_dot(off, off);
}

/* What a pool's light is worth on a surface. */
static vs_status see_on_surface(const vs_gather *g, const vs_space *space, const vs_pool *pool,
                                size_t source, vs_gather_light *light) {
    double view = VS_PI * vs_form_factor_from_point(g->at_m, g->toward, &pool->rect);
    double open = view > 0 ? vs_space_past_blockers(space, pool->rect.center_m, g->at_m) : 0;
    double per_m2 = 0.25 / (pool->rect.half_u_m * pool->rect.half_v_m);
    double away_m = vs_vec3_length(vs_vec3_sub(g->at_m, pool->rect.center_m));
    float worth = (float)(per_m2 * view * open);
    const vs_gather_sample sample = {{worth, worth, worth}, 0, 0, (float)away_m};
    return worth > 0 ? vs_gather_add_sample(light, 0, source, &sample) : VS_OK;
}

LANES_CLONES static vs_status see_on_ray(const vs_gather *g, const vs_mesh *mesh,
                                         const vs_scattering *s, size_t segment,
                                         const vs_pool *pool, size_t source, double away_m,
                                         vs_gather_light *light) {
    pool_seen seen;
    see_pool(s, mesh, g, &g->segment[segment], pool, pool->size_m > WHOLE_SIZE * away_m, &seen);
    return keep_seen(s, &seen, source, segment, light);
}

/* The parts of a whole that are seen as one each: those that are small for how far they are. */
static vs_status see_parts(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                           const vs_tracing *walks, const vs_pool_whole *whole, size_t segment,
                           vs_gather_light *light) {
    vs_status status = VS_OK;
    for (size_t i = whole->first; i < whole->end && status == VS_OK;) {
        const vs_pool *pool = &walks->pool[i];
        double away_m = sqrt((double)away_m2(g, &g->segment[segment], pool->rect.center_m));
        if (pool->end > i + 1 && pool->size_m >= ONE_SIZE * away_m) {
            i++;
            continue;
        }
        status = g->place ? see_on_surface(g, mesh->space, pool, i, light)
                          : see_on_ray(g, mesh, s, segment, pool, i, away_m, light);
        i = pool->end;
    }
    return status;
}

static vs_status see_from_segment(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                                  const vs_tracing *walks, size_t segment, vs_gather_light *light) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < walks->whole_count && status == VS_OK; i++) {
        const vs_pool_whole *whole = &walks->whole[i];
        const float *m = whole->middle_m;
        vs_vec3 middle_m = {(double)m[0], (double)m[1], (double)m[2]};
        if (whole->room != g->segment[segment].room ||
            away_m2(g, &g->segment[segment], middle_m) >= whole->near_m * whole->near_m) {
            continue;
        }
        const vs_gather_left_out left = {walks->pool[whole->first].patch, (uint32_t)segment};
        status = vs_gather_leave_out(light, left);
        if (status == VS_OK) {
            status = see_parts(g, mesh, s, walks, whole, segment, light);
        }
    }
    return status;
}

vs_status vs_pools_seen(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                        const vs_tracing *walks, vs_gather_light *light) {
    vs_status status = VS_OK;
    for (size_t segment = 0; segment < g->segment_count && status == VS_OK; segment++) {
        status = see_from_segment(g, mesh, s, walks, segment, light);
    }
    return status;
}
