/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pool is a rectangle of even light, seen in closed form from its own places; from afar a whole
 * pool stands for its parts, and its patch for the pool. Eight pools are looked at at a time. */
#include "light/bounce/gather_pools.h"

#include <math.h>

#include "base/growable.h"
#include "light/bounce/near_nodes.h"
#include "veilstop/base/units.h"
#include "veilstop/light/form_factor.h"

#define ONE_SIZE 0.4f /* [1] of the distance: a pool smaller is seen as one */
#define FADE                                                                                       \
    0.2f /* [1] of the square of the distance to which a pool counts by itself: so far
                       * beyond it counts less and less */

enum { FAR_POOLS, NEAR_POOLS, POOL_KINDS };
#define PLACES_MOST 6 /* on a segment, from which a pool is seen; measured: docs/accuracy.md */
static const int places_of[POOL_KINDS] = {4, PLACES_MOST};

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

/* Sums over a rectangle's corners: its solid angle; unit vectors towards it summed over that. */
typedef struct {
    float solid_sr[LANES], to_u[LANES], to_v[LANES], to_h[LANES];
} corner_sums;

/* docs/physics.md, "Solid angles".  up, on: which corner, 1 or -1 along u and v */
LANES_INLINE void add_corner(const eight_pools *p, const rect_view *r, float up, float on,
                             bool vectors, corner_sums *sum) {
    const float sign = up * on;
    EACH_LANE(l) {
        float x = up * p->half_u[l] - r->u[l], y = on * p->half_v[l] - r->v[l];
        float h = single_max(r->h[l], SINGLE_TINY), s2 = y * y + h * h, away = sqrtf(s2 + x * x);
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

/* To the second order of its sides over the distance: the mean over the rectangle of h/r^3 times the
 * unit vector towards it. */
LANES_INLINE void far_vectors(const eight_pools *p, const rect_view *r, corner_sums *sum) {
    EACH_LANE(l) {
        float u = r->u[l], v = r->v[l], h = single_max(0, r->h[l]);
        float uu = p->half_u[l] * p->half_u[l] / 6, vv = p->half_v[l] * p->half_v[l] / 6;
        float per = 1 / (u * u + v * v + h * h + SINGLE_TINY), u2 = per * u * u, v2 = per * v * v;
        float su = per * uu, sv = per * vv, to = 1 + su * (24 * u2 - 4) + sv * (24 * v2 - 4);
        float flat = 4 * p->half_u[l] * p->half_v[l] * h * per * per;
        sum->to_u[l] = -flat * u * (to - 8 * su);
        sum->to_v[l] = -flat * v * (to - 8 * sv);
        sum->to_h[l] = flat * h * to;
    }
}

/* What pools look like: solid angles in closed form; where they are, too, of those that are not
 * small for how far they are.
 *     along  the line's direction on each's axes */
LANES_INLINE void look_at_pools(const eight_pools *p, float along[3][LANES], bool near,
                                rect_view *r) {
    corner_sums sum = {{0}, {0}, {0}, {0}};
    add_corner(p, r, 1, 1, near, &sum);
    add_corner(p, r, -1, 1, near, &sum);
    add_corner(p, r, 1, -1, near, &sum);
    add_corner(p, r, -1, -1, near, &sum);
    if (!near) {
        far_vectors(p, r, &sum);
    }
    EACH_LANE(l) {
        float u = sum.to_u[l], v = sum.to_v[l], h = sum.to_h[l];
        float whole = sqrtf(u * u + v * v + h * h) + SINGLE_TINY;
        r->solid_sr[l] = r->h[l] > 0 ? single_max(0, sum.solid_sr[l]) : 0;
        r->cosine[l] = (u * along[0][l] + v * along[1][l] - h * along[2][l]) / whole;
        r->cap_sr[l] = lane_cap_sr(whole, r->solid_sr[l]);
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
    const vs_mesh *mesh;
    const vs_scattering *scattering;
    size_t segment;
    const vs_tracing *walks; /* of this emitter */
    uint32_t emitter;
    waiting kind[POOL_KINDS];
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

/* What blockers of a room let through from pools to their places on a line.
 *     at_m  of those down the line  open  of them, to be scaled */
LANES_INLINE void past_blockers(const vs_mesh *mesh, size_t room, const vs_gather *g,
                                const eight_pools *p, int places, float at_m[PLACES_MOST][LANES],
                                float open[PLACES_MOST][LANES]) {
    const float skin = (float)VS_SPACE_SKIN_M;
    for (size_t b = 0; b < mesh->space->blocker_count; b++) {
        if (mesh->blocker_room[b] != room) {
            continue;
        }
        const vs_rect *r = &mesh->space->blocker[b].rect;
        const vs_extent *to = &mesh->blocker[b];
        const float stopped = (float)(1 - mesh->space->blocker[b].transmittance);
        const vs_vec3 axis[3] = {r->u, r->v, r->normal}, from = vs_vec3_sub(g->at_m, r->center_m);
        float line[3], start[3], pool[3][LANES];
        for (int a = 0; a < 3; a++) {
            const float x = (float)axis[a].x, y = (float)axis[a].y, z = (float)axis[a].z;
            start[a] = (float)vs_vec3_dot(from, axis[a]);
            line[a] = (float)vs_vec3_dot(g->toward, axis[a]);
            EACH_LANE(l) {
                pool[a][l] = start[a] + x * p->x_m[l] + y * p->y_m[l] + z * p->z_m[l];
            }
        }
        for (int i = 0; i < places; i++) {
            EACH_LANE(l) {
                float side = pool[2][l] < 0 ? -1 : 1, off = side * pool[2][l];
                float past = -side * (start[2] + at_m[i][l] * line[2]);
                float t = off / single_max(off + past, off + skin);
                float u = pool[0][l] + t * (start[0] + at_m[i][l] * line[0] - pool[0][l]);
                float v = pool[1][l] + t * (start[1] + at_m[i][l] * line[1] - pool[1][l]);
                float in = lane_within(past, skin, skin, SINGLE_FAR) *
                           lane_within(u, skin, to->low_u, to->high_u) *
                           lane_within(v, skin, to->low_v, to->high_v);
                open[i][l] *= off > skin ? 1 - stopped * in : 1;
            }
        }
    }
}

/* What haze about places scatters into the lens of pools' light. */
LANES_CLONES static void see_pools(const search *s, const eight_pools *p, int kind,
                                   vs_gather_samples *seen) {
    const int places = places_of[kind];
    const vs_gather *g = s->g;
    const vs_gather_segment *segment = &g->segment[s->segment];
    const vs_legendre_rule *rule = &vs_legendre_rules[places];
    const float dx = (float)g->toward.x, dy = (float)g->toward.y, dz = (float)g->toward.z;
    const float first = (float)segment->from_m, last = (float)segment->to_m;
    const float by = (float)s->scattering->gather, counts = (float)segment->open;
    float along[3][LANES], middle[3][LANES], at_m[PLACES_MOST][LANES];
    float open[PLACES_MOST][LANES];
    for (int a = 0; a < 3; a++) {
        EACH_LANE(l) {
            const float(*axis)[LANES] = p->axis[a];
            along[a][l] = dx * axis[0][l] + dy * axis[1][l] + dz * axis[2][l];
            middle[a][l] = p->x_m[l] * axis[0][l] + p->y_m[l] * axis[1][l] + p->z_m[l] * axis[2][l];
        }
    }
    EACH_LANE(l) {
        float x = p->x_m[l], y = p->y_m[l], z = p->z_m[l], foot = x * dx + y * dy + z * dz;
        float area = 4 * p->half_u[l] * p->half_v[l], half, from;
        x -= foot * dx;
        y -= foot * dy;
        z -= foot * dz;
        float apart = sqrtf(x * x + y * y + z * z + area / SINGLE_PI);
        from = near_place_of(foot - first, apart, by);
        half = 0.5f * (near_place_of(foot - last, apart, by) - from);
        for (int i = 0; i < places; i++) {
            near_place n = near_place_at(from + half * (1 + (float)rule->node[i]), by);
            float per = apart / n.up_down;
            at_m[i][l] = foot - 0.5f * per * n.less;
            open[i][l] = (half < 0 ? -half : half) * (float)rule->weight[i] * by * per * n.whole /
                         n.up_down * counts * p->share[l] / area;
        }
    }
    past_blockers(s->mesh, segment->room, g, p, places, at_m, open);
    for (int i = 0; i < places; i++) {
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
        look_at_pools(p, along, kind == NEAR_POOLS, &r);
        lanes_scattering(s->scattering, r.cosine, r.cap_sr, seen[i].worth);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                seen[i].worth[band][l] *= r.solid_sr[l] * open[i][l];
            }
        }
    }
}

/* What pools' light is worth on a surface. */
static void see_on_surface(const search *s, const waiting *w, vs_gather_samples *seen) {
    const vs_gather *g = s->g;
    for (uint32_t l = 0; l < w->seen.count; l++) {
        const vs_rect *rect = &w->pool[l]->rect;
        double view = VS_PI * vs_form_factor_from_point(g->at_m, g->toward, rect);
        double open =
            view > 0 ? vs_space_past_blockers(s->mesh->space, rect->center_m, g->at_m) : 0;
        double per_m2 = (double)w->share[l] / (4 * rect->half_u_m * rect->half_v_m);
        seen->wide_m[l] = (float)vs_vec3_length(vs_vec3_sub(g->at_m, rect->center_m));
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            seen->worth[band][l] = (float)(per_m2 * view * open);
        }
    }
}

/* Looks at the pools that wait. */
static vs_status see_waiting(search *s, int kind) {
    vs_gather_pooled *to = &s->g->pooled;
    waiting *w = &s->kind[kind];
    if (w->seen.count == 0) {
        return VS_OK;
    }
    w->seen.first = (uint32_t)to->samples.count;
    w->seen.places = s->g->place ? 1 : (uint32_t)places_of[kind];
    vs_gather_samples *seen = vs_gather_add_samples(&to->samples, s->segment, w->seen.places);
    vs_gather_pools *list = vs_growable_reserve(to->pools[kind], to->pool_count[kind],
                                                &to->pool_size[kind], sizeof *list);
    to->pools[kind] = list ? list : to->pools[kind];
    if (!seen || !list) {
        return VS_ERR_MEMORY;
    }
    to->pools[kind][to->pool_count[kind]++] = w->seen;
    if (s->g->place) {
        see_on_surface(s, w, seen);
    } else {
        eight_pools p;
        place_pools(s->g, w, &p);
        see_pools(s, &p, kind, seen);
    }
    w->seen.count = 0;
    return VS_OK;
}

static vs_status add_pool(search *s, size_t pool, int kind, float share) {
    waiting *w = &s->kind[kind];
    uint32_t l = w->seen.count++;
    w->pool[l] = &s->walks->pool[pool];
    w->share[l] = share;
    w->seen.pool[l] = (uint32_t)pool;
    w->seen.emitter[l] = s->emitter;
    return w->seen.count == LANES ? see_waiting(s, kind) : VS_OK;
}

/* ---- which pools ---- */

/* Square of how far a place is from a segment of a ray, or from a place. */
static float away_m2(const vs_gather *g, const vs_gather_segment *segment, vs_vec3 p_m) {
    vs_vec3 to_m = vs_vec3_sub(p_m, g->at_m);
    double foot = g->place ? 0 : vs_vec3_dot(to_m, g->toward);
    vs_vec3 off = vs_vec3_along(to_m, g->toward, -fmin(fmax(foot, segment->from_m), segment->to_m));
    return (float)vs_vec3_dot(off, off);
}

/* The parts of a whole that are seen as one each: those that are small for how far they are. */
static vs_status see_parts(search *s, size_t first, float share) {
    const vs_tracing *walks = s->walks;
    vs_status status = VS_OK;
    size_t end = walks->pool[first].end;
    for (size_t i = first; i < end && status == VS_OK;) {
        const vs_pool *pool = &walks->pool[i];
        float away = away_m2(s->g, &s->g->segment[s->segment], pool->rect.center_m);
        float size = (float)pool->size_m / ONE_SIZE;
        bool small = size * size < away;
        if (pool->end > i + 1 && !small) {
            i++;
            continue;
        }
        status = add_pool(s, i, small ? FAR_POOLS : NEAR_POOLS, share);
        i = pool->end;
    }
    return status;
}

/* How much eight wholes count by themselves on a segment of a ray, or at a place: where they are
 * near. */
LANES_CLONES static void find_near(const vs_gather *g, const vs_gather_segment *segment,
                                   const vs_pool_wholes *wholes, float *share) {
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
        float away = (x * x + y * y + z * z) / (wholes->near_m2[l] + SINGLE_TINY);
        float in = single_max(0, single_min(1, (1 + FADE - away) / FADE));
        share[l] = in * in * (3 - 2 * in);
    }
}

static vs_status leave_out(search *s, size_t whole, float share) {
    vs_gather_pooled *to = &s->g->pooled;
    vs_gather_left_out *list =
        vs_growable_reserve(to->left_out, to->left_out_count, &to->left_out_size, sizeof *list);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    const vs_gather_left_out out = {s->walks->pool[whole].patch, (uint32_t)s->segment, s->emitter,
                                    share};
    to->left_out = list;
    to->left_out[to->left_out_count++] = out;
    return VS_OK;
}

static vs_status see_wholes(search *s) {
    const vs_gather_segment *segment = &s->g->segment[s->segment];
    vs_status status = VS_OK;
    float share[LANES] = {0};
    for (size_t i = 0; i < s->walks->whole_count && status == VS_OK; i++) {
        const vs_pool_wholes *eight = &s->walks->wholes[i / LANES];
        size_t l = i % LANES;
        if (l == 0) {
            find_near(s->g, segment, eight, share);
        }
        if (share[l] > 0 && eight->room[l] == segment->room) {
            status = leave_out(s, eight->first[l], share[l]);
            status = status == VS_OK ? see_parts(s, eight->first[l], share[l]) : status;
        }
    }
    return status;
}

vs_status vs_pools_seen(vs_gather *g, const vs_mesh *mesh, const vs_scattering *scattering,
                        const vs_traced *traced) {
    search s = {.g = g, .mesh = mesh, .scattering = scattering};
    vs_status status = VS_OK;
    g->pooled.samples.count = g->pooled.left_out_count = 0;
    g->pooled.pool_count[FAR_POOLS] = g->pooled.pool_count[NEAR_POOLS] = 0;
    for (s.segment = 0; s.segment < g->segment_count && status == VS_OK; s.segment++) {
        for (size_t e = 0; e < g->emitter_count && status == VS_OK; e++) {
            s.walks = &traced[e].walks;
            s.emitter = (uint32_t)e;
            status = g->light[e].number > 0 ? see_wholes(&s) : VS_OK;
        }
        status = status == VS_OK ? see_waiting(&s, FAR_POOLS) : status;
        status = status == VS_OK ? see_waiting(&s, NEAR_POOLS) : status;
    }
    return status;
}
