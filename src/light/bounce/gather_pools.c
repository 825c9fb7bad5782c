/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pool is a rectangle of even light, seen in closed form from its own nodes; from afar a whole
 * pool stands for its parts, and its patch for the pool. */
#include "light/bounce/gather_pools.h"

#include <math.h>

#include "light/bounce/near_nodes.h"
#include "veilstop/base/units.h"
#include "veilstop/light/form_factor.h"

#define ONE_SIZE  0.4 /* [1] of the distance: a pool smaller is seen as one */
#define NEAR_SIZE 0.2 /* [1] of the distance: a larger one's solid angle is in closed form */

/* Eight places before a rectangle, on its own axes from its middle: what it looks like from there.
 */
typedef struct {
    float u[LANES], v[LANES], h[LANES];
    float solid_sr[LANES]; /* 0 from behind */
    float cosine[LANES];   /* of the angle between where it is in the mean and a direction */
    float cap_sr[LANES];   /* of a cap that is as wide */
} rect_view;

/* To the second order of its sides over the distance: means over the rectangle of h/r^3 and of that
 * times the unit vector towards it.
 *     du, dv, dh  the direction on its axes */
LANES_INLINE void look_at_rect(float half_u, float half_v, float du, float dv, float dh,
                               rect_view *r) {
    float area_m2 = 4 * half_u * half_v, uu = half_u * half_u / 6, vv = half_v * half_v / 6;
    EACH_LANE(l) {
        float u = r->u[l], v = r->v[l], h = single_max(0, r->h[l]);
        float per = 1 / (u * u + v * v + h * h + SINGLE_TINY), u2 = per * u * u, v2 = per * v * v;
        float su = per * uu, sv = per * vv, flat = area_m2 * h * per, root = sqrtf(per);
        float solid = 1 + 3 * (su * (5 * u2 - 1) + sv * (5 * v2 - 1));
        float to = 1 + su * (24 * u2 - 4) + sv * (24 * v2 - 4);
        float to_u = -root * u * (to - 8 * su), to_v = -root * v * (to - 8 * sv);
        float to_h = root * h * to, sum = sqrtf(to_u * to_u + to_v * to_v + to_h * to_h);
        r->solid_sr[l] = flat * root * solid;
        r->cosine[l] = (to_u * du + to_v * dv - to_h * dh) / (sum + SINGLE_TINY);
        r->cap_sr[l] = lane_cap_sr(flat * root * sum, r->solid_sr[l]);
    }
}

/* Sums over a rectangle's corners: its solid angle; unit vectors towards it summed over that. */
typedef struct {
    float solid_sr[LANES], to_u[LANES], to_v[LANES], to_h[LANES];
} corner_sums;

/* docs/physics.md, "Solid angles" */
LANES_INLINE void add_corner(const rect_view *r, float at_u, float at_v, float sign, bool vectors,
                             corner_sums *sum) {
    EACH_LANE(l) {
        float x = at_u - r->u[l], y = at_v - r->v[l], h = single_max(r->h[l], SINGLE_TINY);
        float s2 = y * y + h * h, away = sqrtf(s2 + x * x);
        sum->solid_sr[l] += sign * single_atan(x * y, h * away + SINGLE_TINY);
        if (vectors) {
            float per_s = 1 / (sqrtf(s2) + SINGLE_TINY);
            float per_t = 1 / (sqrtf(x * x + h * h) + SINGLE_TINY);
            float a = single_atan(x * per_s, 1), b = single_atan(y * per_t, 1);
            sum->to_u[l] -= sign * 0.5f * b * h * per_t;
            sum->to_v[l] -= sign * 0.5f * a * h * per_s;
            sum->to_h[l] += sign * 0.5f * (a * y * per_s + b * x * per_t);
        }
    }
}

/* What of it is not small: its solid angle in closed form, and where it is.
 *     vectors  that too */
LANES_INLINE void measure_rect(float half_u, float half_v, float du, float dv, float dh,
                               bool vectors, rect_view *r) {
    corner_sums sum = {{0}, {0}, {0}, {0}};
    add_corner(r, half_u, half_v, 1, vectors, &sum);
    add_corner(r, -half_u, half_v, -1, vectors, &sum);
    add_corner(r, half_u, -half_v, -1, vectors, &sum);
    add_corner(r, -half_u, -half_v, 1, vectors, &sum);
    EACH_LANE(l) {
        float u = sum.to_u[l], v = sum.to_v[l], h = sum.to_h[l];
        float whole = sqrtf(u * u + v * v + h * h) + SINGLE_TINY;
        r->solid_sr[l] = r->h[l] > 0 ? single_max(0, sum.solid_sr[l]) : 0;
        if (vectors) {
            r->cosine[l] = (u * du + v * dv - h * dh) / whole;
            r->cap_sr[l] = lane_cap_sr(whole, r->solid_sr[l]);
        }
    }
}

/* What haze about eight nodes scatters into the lens of a pool's light. */
LANES_INLINE void see_pool(const vs_scattering *s, const vs_mesh *mesh, const vs_gather *g,
                           const vs_gather_segment *segment, const vs_pool *pool, double near,
                           vs_gather_samples *seen) {
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
    look_at_rect((float)rect->half_u_m, (float)rect->half_v_m, du, dv, dh, &r);
    if (near > ONE_SIZE) {
        measure_rect((float)rect->half_u_m, (float)rect->half_v_m, du, dv, dh, true, &r);
    } else if (near > NEAR_SIZE) {
        measure_rect((float)rect->half_u_m, (float)rect->half_v_m, du, dv, dh, false, &r);
    }
    vs_past_blockers(mesh, segment->room, rect->center_m, x, y, z, open);
    lanes_scattering(s, r.cosine, r.cap_sr, seen->worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            seen->worth[band][l] *= r.solid_sr[l] * open[l] * n.step_m[l];
        }
    }
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
    vs_gather_samples *seen = vs_gather_add_eight(light, segment, source);
    if (!seen) {
        return VS_ERR_MEMORY;
    }
    see_pool(s, mesh, g, &g->segment[segment], pool, pool->size_m / away_m, seen);
    return VS_OK;
}

/* The parts of a whole that are seen as one each: those that are small for how far they are. */
static vs_status see_parts(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                           const vs_tracing *walks, size_t first, size_t segment,
                           vs_gather_light *light) {
    vs_status status = VS_OK;
    size_t end = walks->pool[first].end;
    for (size_t i = first; i < end && status == VS_OK;) {
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

/* Over zero where one of eight wholes is near a segment of a ray, or a place. */
LANES_CLONES static void find_near(const vs_gather *g, const vs_gather_segment *segment,
                                   const vs_pool_wholes *wholes, float *near) {
    const float px = (float)g->at_m.x, py = (float)g->at_m.y, pz = (float)g->at_m.z;
    const float dx = (float)g->toward.x, dy = (float)g->toward.y, dz = (float)g->toward.z;
    const float from = g->place ? 0 : (float)segment->from_m,
                to = g->place ? 0 : (float)segment->to_m;
    EACH_LANE(l) {
        float x = wholes->x_m[l] - px, y = wholes->y_m[l] - py, z = wholes->z_m[l] - pz;
        float foot = single_max(from, single_min(to, x * dx + y * dy + z * dz));
        x -= foot * dx;
        y -= foot * dy;
        z -= foot * dz;
        near[l] = wholes->near_m2[l] - (x * x + y * y + z * z);
    }
}

static vs_status see_from_segment(const vs_gather *g, const vs_mesh *mesh, const vs_scattering *s,
                                  const vs_tracing *walks, size_t segment, vs_gather_light *light) {
    vs_status status = VS_OK;
    float near[LANES] = {0};
    for (size_t i = 0; i < walks->whole_count && status == VS_OK; i++) {
        const vs_pool_wholes *eight = &walks->wholes[i / LANES];
        size_t l = i % LANES, first = eight->first[l];
        if (l == 0) {
            find_near(g, &g->segment[segment], eight, near);
        }
        if (eight->room[l] != g->segment[segment].room || !(near[l] > 0)) {
            continue;
        }
        const vs_gather_left_out left = {walks->pool[first].patch, (uint32_t)segment};
        status = vs_gather_leave_out(light, left);
        if (status == VS_OK) {
            status = see_parts(g, mesh, s, walks, first, segment, light);
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
