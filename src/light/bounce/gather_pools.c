/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pool is a rectangle of even light, seen in closed form from its own places; from afar a whole
 * pool stands for its parts, and its patch for the pool. Eight pools are looked at at a time. */
#include "light/bounce/gather_lights.h"

#include <math.h>

#include "light/bounce/near_nodes.h"
#include "light/bounce/past_blockers.h"
#include "veilstop/base/units.h"
#include "veilstop/light/form_factor.h"

/* A pool smaller than so much of its distance is seen as one; up to so much larger than that less
 * and less, its parts for it. */
#define ONE_SIZE 0.4
#define BLEND    0.06
/* Up to this share past the square of the distance within which it counts by itself it still does,
 * less and less. */
#define FADE        0.1f
#define LEAST_OFF_M 1e-6f /* [m] of a place off a pool's plane */
#define PLACES      4     /* on a segment, from which a pool is seen; measured: docs/accuracy.md */

/* Eight pools and a line: middles from where it starts, axes u, v and the normal. */
typedef struct {
    float x_m[LANES], y_m[LANES], z_m[LANES], axis[3][3][LANES];
    float half_u[LANES], half_v[LANES];
    float share[LANES]; /* of their light that counts */
} eight_pools;

/* A place before each of them, on its axes from its middle; what it looks like from there. */
typedef struct {
    float u[LANES], v[LANES], h[LANES];
    float solid_sr[LANES]; /* 0 from behind */
    float cosine[LANES];   /* of the angle between where it is in the mean and the line */
    float cap_sr[LANES];   /* of a cap that is as wide */
} rect_view;

/* The angle of (x, y), 0 to pi: y is not below 0. */
LANES_INLINE float lane_angle(float y, float x) {
    float angle = single_atan(y, (x < 0 ? -x : x) + SINGLE_TINY);
    return x < 0 ? SINGLE_PI - angle : angle;
}

/* The angle that an edge from `low` to `high` is seen under, over how far off its line is. */
LANES_INLINE float edge_per_m(float low, float high, float off2) {
    float off = sqrtf(off2);
    return lane_angle(off * (high - low), off2 + low * high) / off;
}

/* What of a rectangle's solid angle is on this side of an edge at `y`, from x0 to x1. */
LANES_INLINE float edge_sr(float x0, float x1, float y, float h) {
    float off2 = y * y + h * h, r0 = sqrtf(x0 * x0 + off2), r1 = sqrtf(x1 * x1 + off2);
    float up = y < 0 ? -y : y;
    float angle = lane_angle(h * up * (x1 * r0 - x0 * r1), h * h * r0 * r1 + y * y * x0 * x1);
    return y < 0 ? -angle : angle;
}

/* What pools look like: solid angles, and where they are by the sum over edges (docs/physics.md,
 * "Solid angles").
 *     along  the line's direction on each's axes */
LANES_INLINE void look_at_pools(const eight_pools *p, float along[3][LANES], rect_view *r) {
    EACH_LANE(l) {
        float x0 = -p->half_u[l] - r->u[l], x1 = p->half_u[l] - r->u[l];
        float y0 = -p->half_v[l] - r->v[l], y1 = p->half_v[l] - r->v[l];
        float h = single_max(r->h[l], LEAST_OFF_M), h2 = h * h;
        float a0 = edge_per_m(x0, x1, y0 * y0 + h2), a1 = edge_per_m(x0, x1, y1 * y1 + h2);
        float b0 = edge_per_m(y0, y1, x0 * x0 + h2), b1 = edge_per_m(y0, y1, x1 * x1 + h2);
        float u = -h * (b1 - b0), v = -h * (a1 - a0);
        float off = a1 * y1 - a0 * y0 + b1 * x1 - b0 * x0;
        float whole = sqrtf(u * u + v * v + off * off) + SINGLE_TINY;
        float solid = single_max(0, edge_sr(x0, x1, y1, h) - edge_sr(x0, x1, y0, h));
        r->solid_sr[l] = r->h[l] > 0 ? solid : 0;
        r->cosine[l] = (u * along[0][l] + v * along[1][l] - off * along[2][l]) / whole;
        r->cap_sr[l] = lane_cap_sr(0.5f * whole, r->solid_sr[l]);
    }
}

/* ---- eight pools from a segment ---- */

/* Pools that wait until they are eight. */
typedef struct {
    const vs_pool *pool[LANES];
    float share[LANES];
    vs_gather_pools seen;
} waiting;

typedef struct {
    vs_gather *g;
    size_t segment;
    const vs_tracing *walks; /* of this emitter */
    uint32_t emitter;
    waiting waits;
} search;

static void place_pools(const vs_gather *g, const waiting *w, eight_pools *p) {
    for (size_t l = 0; l < LANES; l++) {
        bool used = l < w->seen.count;
        const vs_rect *rect = &w->pool[used ? l : 0]->rect;
        const vs_vec3 axis[3] = {rect->u, rect->v, rect->normal};
        p->x_m[l] = (float)(rect->center_m.x - g->at_m.x);
        p->y_m[l] = (float)(rect->center_m.y - g->at_m.y);
        p->z_m[l] = (float)(rect->center_m.z - g->at_m.z);
        p->half_u[l] = (float)rect->half_u_m;
        p->half_v[l] = (float)rect->half_v_m;
        p->share[l] = used ? w->share[l] : 0;
        for (int a = 0; a < 3; a++) {
            p->axis[a][0][l] = (float)axis[a].x;
            p->axis[a][1][l] = (float)axis[a].y;
            p->axis[a][2][l] = (float)axis[a].z;
        }
    }
}

/* What a blocker lets through from pools to their places on a line.
 *     line_m  of those from the line's start   open  of them, to be scaled */
LANES_INLINE void past_one(const vs_gather_blocker *b, const eight_pools *p,
                           float line_m[PLACES][LANES], float open[PLACES][LANES]) {
    float at[3][LANES];
    for (int a = 2; a >= 0; a--) {
        const float x = b->axis[a][0], y = b->axis[a][1], z = b->axis[a][2], start = b->start[a];
        float low = SINGLE_FAR, high = -SINGLE_FAR;
        EACH_LANE(l) {
            at[a][l] = start + x * p->x_m[l] + y * p->y_m[l] + z * p->z_m[l];
        }
        for (int l = 0; l < LANES; l++) {
            range_to(at[a][l], &low, &high);
        }
        if (all_beside(b, a, low, high)) {
            return;
        }
    }
    for (int n = 0; n < PLACES; n++) {
        past_blocker(b, at, line_m[n], open[n]);
    }
}

LANES_INLINE void past_blockers(const search *s, const eight_pools *p, float line_m[PLACES][LANES],
                                float open[PLACES][LANES]) {
    const vs_gather_segment *segment = &s->g->segment.item[s->segment];
    for (size_t i = segment->blocker_first; i < segment->blocker_end; i++) {
        past_one(&s->g->blocker.item[i], p, line_m, open);
    }
}

/* What haze about places scatters into the lens of pools' light. */
LANES_CLONES static void see_pools(const search *s, const eight_pools *p, vs_gather_samples *seen) {
    const vs_gather *g = s->g;
    const vs_gather_segment *segment = &g->segment.item[s->segment];
    const vs_legendre_rule *rule = &vs_legendre_rules[PLACES];
    const float dx = (float)g->toward.x, dy = (float)g->toward.y, dz = (float)g->toward.z;
    const float first = (float)segment->from_m, last = (float)segment->to_m;
    const float by = (float)s->g->scattering->gather, counts = (float)segment->open;
    float along[3][LANES], middle[3][LANES], at_m[PLACES][LANES];
    float open[PLACES][LANES], foot[LANES], area[LANES], apart[LANES], from[LANES];
    float half[LANES], each[LANES];
    for (int a = 0; a < 3; a++) {
        EACH_LANE(l) {
            const float(*axis)[LANES] = p->axis[a];
            along[a][l] = dx * axis[0][l] + dy * axis[1][l] + dz * axis[2][l];
            middle[a][l] = p->x_m[l] * axis[0][l] + p->y_m[l] * axis[1][l] + p->z_m[l] * axis[2][l];
        }
    }
    EACH_LANE(l) {
        float x = p->x_m[l], y = p->y_m[l], z = p->z_m[l];
        foot[l] = x * dx + y * dy + z * dz;
        x -= foot[l] * dx;
        y -= foot[l] * dy;
        z -= foot[l] * dz;
        area[l] = 4 * p->half_u[l] * p->half_v[l];
        apart[l] = sqrtf(x * x + y * y + z * z + area[l] / SINGLE_PI);
        from[l] = near_place_of(foot[l] - first, apart[l], by);
        half[l] = 0.5f * (near_place_of(foot[l] - last, apart[l], by) - from[l]);
        each[l] =
            (half[l] < 0 ? -half[l] : half[l]) * by * apart[l] * counts * p->share[l] / area[l];
    }
    for (int i = 0; i < PLACES; i++) {
        const float node = (float)rule->node[i], weight = (float)rule->weight[i];
        EACH_LANE(l) {
            near_place n = near_place_at(from[l] + half[l] * (1 + node), by);
            float per = 1 / n.up_down;
            at_m[i][l] = foot[l] - 0.5f * apart[l] * per * n.less;
            open[i][l] = each[l] * weight * per * per * n.whole;
        }
    }
    past_blockers(s, p, at_m, open);
    for (int i = 0; i < PLACES; i++) {
        rect_view r;
        EACH_LANE(l) {
            float x = at_m[i][l] * dx - p->x_m[l], y = at_m[i][l] * dy - p->y_m[l];
            float z = at_m[i][l] * dz - p->z_m[l];
            r.u[l] = at_m[i][l] * along[0][l] - middle[0][l];
            r.v[l] = at_m[i][l] * along[1][l] - middle[1][l];
            r.h[l] = at_m[i][l] * along[2][l] - middle[2][l];
            seen[i].plain_m[l] = at_m[i][l] - first;
            seen[i].wide_m[l] = sqrtf(x * x + y * y + z * z);
        }
        look_at_pools(p, along, &r);
        lanes_scattering(s->g->scattering, r.cosine, r.cap_sr, seen[i].worth);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                seen[i].worth[band][l] *= r.solid_sr[l] * open[i][l];
            }
        }
    }
}

/* What pools' light is worth on a surface. */
static void see_on_surface(const search *s, vs_gather_samples *seen) {
    const vs_gather *g = s->g;
    const waiting *w = &s->waits;
    for (uint32_t l = 0; l < w->seen.count; l++) {
        const vs_rect *rect = &w->pool[l]->rect;
        double view = VS_PI * vs_form_factor_from_point(g->at_m, g->toward, rect);
        double open =
            view > 0 ? vs_space_past_blockers(s->g->mesh->space, rect->center_m, g->at_m) : 0;
        double per_m2 = (double)w->share[l] / (4 * rect->half_u_m * rect->half_v_m);
        seen->wide_m[l] = (float)vs_vec3_length(vs_vec3_sub(g->at_m, rect->center_m));
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            seen->worth[band][l] = (float)(per_m2 * view * open);
        }
    }
}

/* Looks at the pools that wait. */
static vs_status see_waiting(search *s) {
    vs_gather_pooled *to = &s->g->pooled;
    waiting *w = &s->waits;
    if (w->seen.count == 0) {
        return VS_OK;
    }
    w->seen.first = (uint32_t)to->samples.count;
    w->seen.places = s->g->place ? 1 : PLACES;
    vs_gather_samples *seen = vs_gather_add_samples(&to->samples, s->segment, w->seen.places);
    vs_gather_pools *pools = VS_LIST_ADD(&to->pools);
    if (!seen || !pools) {
        return VS_ERR_MEMORY;
    }
    *pools = w->seen;
    if (s->g->place) {
        see_on_surface(s, seen);
    } else {
        eight_pools p;
        place_pools(s->g, w, &p);
        see_pools(s, &p, seen);
    }
    w->seen.count = 0;
    return VS_OK;
}

static vs_status add_pool(search *s, size_t pool, float share) {
    waiting *w = &s->waits;
    uint32_t l = w->seen.count++;
    w->pool[l] = &s->walks->pool[pool];
    w->share[l] = share;
    w->seen.pool[l] = (uint32_t)pool;
    w->seen.emitter[l] = s->emitter;
    return w->seen.count == LANES ? see_waiting(s) : VS_OK;
}

/* ---- which pools ---- */

/* Square of how far a place is from a segment. */
static double away_m2(const vs_gather *g, const vs_gather_segment *segment, vs_vec3 p_m) {
    vs_vec3 to_m = vs_vec3_sub(p_m, g->at_m);
    double foot = vs_vec3_dot(to_m, g->toward);
    vs_vec3 off = vs_vec3_along(to_m, g->toward, -fmin(fmax(foot, segment->from_m), segment->to_m));
    return vs_vec3_dot(off, off);
}

/* A pool as one, and its parts: from afar it alone counts, nearby they do. */
static vs_status see_parts(search *s, size_t i, float share) {
    const vs_pool *pool = &s->walks->pool[i];
    bool parts = pool->end > i + 1;
    double away_m = sqrt(away_m2(s->g, &s->g->segment.item[s->segment], pool->rect.center_m));
    float near = (float)(pool->size_m / (ONE_SIZE * away_m) - 1) / (float)BLEND;
    float apart = parts ? smooth_share(near) : 0;
    vs_status status = apart < 1 ? add_pool(s, i, share * (1 - apart)) : VS_OK;
    for (size_t part = i + 1; apart > 0 && part < pool->end && status == VS_OK;) {
        status = see_parts(s, part, share * apart);
        part = s->walks->pool[part].end;
    }
    return status;
}

/* How much eight wholes count by themselves on a segment: where they are near.  False: none does. */
LANES_CLONES static bool find_near(const vs_gather *g, const vs_gather_segment *segment,
                                   const vs_pool_wholes *wholes, float *share) {
    const float px = (float)g->at_m.x, py = (float)g->at_m.y, pz = (float)g->at_m.z;
    const float dx = (float)g->toward.x, dy = (float)g->toward.y, dz = (float)g->toward.z;
    const float from = (float)segment->from_m, to = (float)segment->to_m;
    EACH_LANE(l) {
        float x = wholes->x_m[l] - px, y = wholes->y_m[l] - py, z = wholes->z_m[l] - pz;
        float foot = single_max(from, single_min(to, x * dx + y * dy + z * dz));
        x -= foot * dx;
        y -= foot * dy;
        z -= foot * dz;
        float away = (x * x + y * y + z * z) / (wholes->near_m2[l] + SINGLE_TINY);
        share[l] = smooth_share((1 + FADE - away) / FADE);
    }
    return single_sum(share) > 0;
}

static vs_status leave_out(search *s, size_t whole, float share) {
    vs_gather_left_out *out = VS_LIST_ADD(&s->g->pooled.left_out);
    if (!out) {
        return VS_ERR_MEMORY;
    }
    out->patch = s->walks->pool[whole].patch;
    out->segment = (uint32_t)s->segment;
    out->emitter = s->emitter;
    out->share = share;
    return VS_OK;
}

static vs_status see_wholes(search *s) {
    const vs_gather_segment *segment = &s->g->segment.item[s->segment];
    vs_status status = VS_OK;
    float share[LANES] = {0};
    for (size_t i = 0; i < s->walks->whole_count && status == VS_OK; i++) {
        const vs_pool_wholes *eight = &s->walks->wholes[i / LANES];
        size_t l = i % LANES;
        if (l == 0 && !find_near(s->g, segment, eight, share)) {
            i += LANES - 1;
            continue;
        }
        if (share[l] > 0 && eight->room[l] == segment->room) {
            status = leave_out(s, eight->first[l], share[l]);
            status = status == VS_OK ? see_parts(s, eight->first[l], share[l]) : status;
        }
    }
    return status;
}

vs_status vs_pools_seen(vs_gather *g, const vs_traced *traced) {
    search s = {.g = g};
    vs_status status = VS_OK;
    g->pooled.samples.count = g->pooled.left_out.count = g->pooled.pools.count = 0;
    for (s.segment = 0; s.segment < g->segment.count && status == VS_OK; s.segment++) {
        for (size_t e = 0; e < g->emitter_count && status == VS_OK; e++) {
            s.walks = &traced[e].walks;
            s.emitter = (uint32_t)e;
            status = g->light[e].number > 0 ? see_wholes(&s) : VS_OK;
        }
        status = status == VS_OK ? see_waiting(&s) : status;
    }
    return status;
}
