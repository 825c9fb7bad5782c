/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes are even in a function of the angle seen from the pool or beam, which takes the growth with
 * nearness away (Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519). */
#include "light/bounce/kernel_near.h"

#include "base/legendre_rules.h"
#include "light/bounce/kernel_view.h"
#include "veilstop/light/form_factor.h"
#include "veilstop/light/shaft.h"

#define SOFT_SHARE (1 / (5 * VS_PI)) /* [1] of a thin beam's cross-section */
#define LEAST_M2   1e-8              /* [m2] where a beam begins in a point; our choice */
#define ONE_SIZE   0.4               /* [1] of the distance: a pool smaller is seen as one */
/* A pool counts by itself where it is nearer than so many of its sizes, and of how far it is off
 * its patch's middle; measured: docs/accuracy.md. */
#define NEAR_SIZES   1.5
#define NEAR_OFFS    5.0
#define WHOLE_SIZE   0.1  /* [1] of the distance: the shape of a larger one counts */
#define NEAREST_M2   1e-4 /* [m2] of a line to an emitter; our choice */
#define FAR_RADII    2.5  /* [1] of a beam's radius: from there on a share of its thin beams do */
#define FAR_BEAMS    4    /* one of so many */
#define BEAM_REACH_M 100  /* [m] as far as a beam's axis is followed; our choice */
#define BEAM_NODES   8    /* along a thin beam, from each place on the line */

/* Nodes along a straight line from `from` to `to`, gathered about `foot`, `apart` from the source.
 */
typedef struct {
    double at_m[LANES], step_m[LANES]; /* places and what each stands for */
} near_nodes;

/* Places are spread evenly in q: tan(angle/2) = gather (1 + q)/(1 - q), the angle between the way
 * from the source and the direction in which distance grows less: small far down the line, where
 * phase functions are steepest (docs/physics.md, "The veil at speed"). q of an offset from the foot
 * and back: with w = tan(angle/2), offset = apart (1 - w^2)/(2 w). */
LANES_INLINE double place_of(double off_m, double apart_m, double gather) {
    double away = sqrt(off_m * off_m + apart_m * apart_m);
    double w = off_m > 0 ? apart_m / (away + off_m) : (away - off_m) / apart_m;
    return (w - gather) / (w + gather);
}

/* The offset at q, and what it grows by: |d offset/d q|. */
LANES_INLINE double offset_at(double q, double apart_m, double gather, double *slope) {
    double up = gather * (1 + q), down = 1 - q, w = up / down;
    double per_q = 2 * gather / (down * down);
    *slope = apart_m * (1 + w * w) / (2 * w * w) * per_q;
    return apart_m * (1 - w * w) / (2 * w);
}

/* sign  1: the phase functions are steepest far down the line; -1: near its start */
LANES_INLINE void place_nodes(double from_m, double to_m, double foot_m, double apart_m,
                              double gather, double sign, near_nodes *n) {
    const vs_legendre_rule *rule = &vs_legendre_rules[LANES];
    double a = place_of(sign * (from_m - foot_m), apart_m, gather);
    double b = place_of(sign * (to_m - foot_m), apart_m, gather);
    double middle = 0.5 * (a + b), half = 0.5 * (b - a), size = half < 0 ? -half : half;
    EACH_LANE(l) {
        double slope;
        n->at_m[l] =
            foot_m + sign * offset_at(middle + half * rule->node[l], apart_m, gather, &slope);
        n->step_m[l] = size * rule->weight[l] * slope;
    }
}

/* Phase functions of single directions in all bands. */
LANES_INLINE void lanes_phases(const float table[VS_CAP_ANGLES][4], const double *cosine,
                               double per_sr[VS_BAND_COUNT][LANES]) {
    double angle[LANES];
    lanes_scattering_angles(cosine, angle);
    for (int l = 0; l < LANES; l++) {
        int k = (int)lane_min(angle[l], VS_CAP_ANGLES - 2);
        float along = (float)(angle[l] - k);
        const float *a = table[k], *b = table[k + 1];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            per_sr[band][l] = (double)(a[band] + along * (b[band] - a[band]));
        }
    }
}

/* What a piece of a line of sight scatters into the lens, of light at a node: per metre. */
LANES_INLINE void seen_per_m(const vs_medium *medium, const vs_ray_segment *piece,
                             const near_nodes *n, int band, double *share) {
    double k = piece->extinction_per_m, ratio = medium->ratio.v[band];
    double scattering = k * ratio * medium->haze->albedo.v[band] * piece->open;
    EACH_LANE(l) {
        double depth = piece->depth + k * (n->at_m[l] - piece->from_m);
        share[l] = n->step_m[l] * scattering * lane_exp(-ratio * depth);
    }
}

/* ---- pools ---- */

/* Eight places before a rectangle, on its own axes from its middle: what it looks like from there.
 */
typedef struct {
    double u[LANES], v[LANES], h[LANES];
    double solid_sr[LANES];                       /* 0 from behind */
    double to_u[LANES], to_v[LANES], to_h[LANES]; /* unit vectors towards it, summed over that;
                                                     h: towards its plane */
} rect_view;

/* Adds what one corner counts in the sums (docs/physics.md, "Solid angles"). */
LANES_INLINE void add_corner(rect_view *r, double side_u, double side_v, double sign, bool whole) {
    EACH_LANE(l) {
        double x = side_u - r->u[l], y = side_v - r->v[l], h = lane_max(r->h[l], LANES_TINY);
        double s2 = y * y + h * h, t2 = x * x + h * h;
        double up = h * sqrt(s2 + x * x) + LANES_TINY;
        r->solid_sr[l] += sign * lane_signed_atan(x * y, up);
        if (whole) {
            double s = sqrt(s2), t = sqrt(t2);
            double a = lane_signed_atan(x, s + LANES_TINY);
            double b = lane_signed_atan(y, t + LANES_TINY);
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

LANES_INLINE vs_bands pool_veil(const vs_scattering *s, const vs_medium *medium,
                                const vs_camera_ray *sight, const vs_ray_segment *piece,
                                const vs_pool *pool, bool whole, const double *candela) {
    const vs_rect *rect = &pool->rect;
    vs_vec3 to_pool = vs_vec3_sub(rect->center_m, sight->at_m), d = sight->direction;
    double area_m2 = 4 * rect->half_u_m * rect->half_v_m, foot_m = vs_vec3_dot(to_pool, d);
    double across2 = lane_max(0, vs_vec3_dot(to_pool, to_pool) - foot_m * foot_m);
    double x[LANES], y[LANES], z[LANES], way[LANES], open[LANES], share[LANES];
    double per_sr[VS_BAND_COUNT][LANES];
    near_nodes n;
    rect_view r;
    vs_bands sum;
    place_nodes(piece->from_m, piece->to_m, foot_m, sqrt(across2 + area_m2 / VS_PI), s->gather, -1,
                &n);
    EACH_LANE(l) { /* from the pool to the node */
        x[l] = n.at_m[l] * d.x - to_pool.x;
        y[l] = n.at_m[l] * d.y - to_pool.y;
        z[l] = n.at_m[l] * d.z - to_pool.z;
        way[l] = sqrt(x[l] * x[l] + y[l] * y[l] + z[l] * z[l]) + LANES_TINY;
        r.u[l] = x[l] * rect->u.x + y[l] * rect->u.y + z[l] * rect->u.z;
        r.v[l] = x[l] * rect->v.x + y[l] * rect->v.y + z[l] * rect->v.z;
        r.h[l] = x[l] * rect->normal.x + y[l] * rect->normal.y + z[l] * rect->normal.z;
        open[l] = 1;
    }
    look_at_rect(rect, whole, &r);
    if (medium->space->blocker_count > 0) {
        vs_past_screens(medium->space, rect->center_m, x, y, z, open);
    }
    rect_phases(s, rect, &r, d, whole, per_sr);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double k = piece->extinction_per_m * medium->ratio.v[band] * s->wide.dimming.v[band];
        seen_per_m(medium, piece, &n, band, share);
        EACH_LANE(l) {
            share[l] *= r.solid_sr[l] * per_sr[band][l] * open[l] * lane_exp(-k * way[l]);
        }
        sum.v[band] = lanes_sum(share) * candela[band] / area_m2;
    }
    return sum;
}

/* How far a pool's middle is from a piece of a line of sight. */
LANES_INLINE double away_from_m(const vs_camera_ray *sight, const vs_ray_segment *piece,
                                const vs_pool *pool) {
    vs_vec3 way = vs_vec3_sub(pool->rect.center_m, sight->at_m);
    double foot = vs_vec3_dot(way, sight->direction);
    foot = lane_min(lane_max(foot, piece->from_m), piece->to_m);
    vs_vec3 off = vs_vec3_along(way, sight->direction, -foot);
    return sqrt(vs_vec3_dot(off, off));
}

/* Whether a pool is seen as one, from so far; else its parts are. */
LANES_INLINE bool is_one(const vs_tracing *walks, size_t pool, double away_m) {
    return walks->pool[pool].end == pool + 1 || walks->pool[pool].size_m < ONE_SIZE * away_m;
}

/* ---- narrow beams ---- */

/* A leg of a thin beam as it stands in a haze. */
typedef struct {
    vs_vec3 from_m, way;
    double length_m, out_m;       /* out: from the emitter to its start */
    double lumens[VS_BAND_COUNT]; /* at its start */
    size_t room;
} beam_leg;

/* Square of the distance within which a thin beam is no line: a share of its radius. Light beside
 * it grows as the inverse of the distance, which is finite in the mean over the radius. */
static double soft_m2(const vs_tracing *walks, double out_m) {
    return SOFT_SHARE * (walks->beam_start_m2 + walks->beam_spread_sr * out_m * out_m) + LEAST_M2;
}

/* Calls for each leg of each thin beam: fills `leg`; false after the last. */
typedef struct {
    size_t thin, leg;
    double out_m, lumens[VS_BAND_COUNT];
} beam_walk;

static bool next_leg(const vs_scattering *s, const vs_tracing *walks, const vs_medium *medium,
                     beam_walk *at, beam_leg *leg) {
    while (at->thin < walks->thin_count && at->leg == walks->thin[at->thin].leg_count) {
        at->thin++;
        at->leg = 0;
    }
    if (at->thin == walks->thin_count) {
        return false;
    }
    const vs_thin_beam *thin = &walks->thin[at->thin];
    const vs_leg *next = &walks->leg[thin->leg_first + at->leg];
    for (int band = 0; band < VS_BAND_COUNT && at->leg == 0; band++) {
        at->lumens[band] = thin->lumens;
        at->out_m = 0;
    }
    vs_vec3 from_m = vs_leg_from(next), way = vs_leg_way(next);
    double length_m = (double)next->length_m;
    beam_leg found = {from_m, way, length_m, at->out_m, {0}, next->room};
    double k = medium->room_extinction_per_m[next->room];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        found.lumens[band] = at->lumens[band];
        at->lumens[band] *= (double)next->onward *
                            exp(-k * medium->ratio.v[band] * s->narrow.dimming.v[band] * length_m);
    }
    at->out_m += length_m;
    at->leg++;
    *leg = found;
    return true;
}

/* Where a line of sight passes a leg: distances along both, and the square of that between. */
typedef struct {
    double sight_m, leg_m, apart2;
} meeting;

LANES_INLINE meeting nearest(const vs_camera_ray *sight, const vs_ray_segment *piece,
                             const beam_leg *leg) {
    vs_vec3 d = sight->direction, w = leg->way, off = vs_vec3_sub(leg->from_m, sight->at_m);
    double b = vs_vec3_dot(d, w), down = lane_max(1 - b * b, 1e-6);
    double t = (b * vs_vec3_dot(off, d) - vs_vec3_dot(off, w)) / down;
    t = lane_min(lane_max(t, 0), leg->length_m);
    vs_vec3 on_leg = vs_vec3_along(off, w, t);
    double s = lane_min(lane_max(vs_vec3_dot(on_leg, d), piece->from_m), piece->to_m);
    vs_vec3 between = vs_vec3_along(on_leg, d, -s);
    meeting m = {s, t, vs_vec3_dot(between, between)};
    return m;
}

/* Eight places: from a leg's start to each; where on the leg the foot is, how far off. */
typedef struct {
    double x[LANES], y[LANES], z[LANES];
    double foot_m[LANES], apart_m[LANES];
    double low[LANES], high[LANES]; /* q of the leg's ends */
    double soft2;                   /* square of the thin beam's radius */
} beside;

LANES_INLINE void look_at_leg(const beam_leg *leg, double soft2, double gather, beside *b) {
    vs_vec3 w = leg->way;
    b->soft2 = soft2;
    EACH_LANE(l) {
        double foot = b->x[l] * w.x + b->y[l] * w.y + b->z[l] * w.z;
        double square = b->x[l] * b->x[l] + b->y[l] * b->y[l] + b->z[l] * b->z[l];
        double apart = sqrt(lane_max(0, square - foot * foot) + soft2);
        b->foot_m[l] = foot;
        b->apart_m[l] = apart;
        b->low[l] = place_of(foot, apart, gather);
        b->high[l] = place_of(foot - leg->length_m, apart, gather);
    }
}

/* One node along the leg for each of eight places: where, and from there to the place. */
typedef struct {
    double at_m[LANES], x[LANES], y[LANES], z[LANES], way[LANES];
    double per_m2[LANES]; /* what the node stands for over the square of the way */
    double turned[LANES]; /* cosine of the angle by which light turns on the leg */
} leg_node;

LANES_INLINE void place_leg_node(const beam_leg *leg, const beside *b, double gather, int i,
                                 leg_node *n) {
    const vs_legendre_rule *rule = &vs_legendre_rules[BEAM_NODES];
    vs_vec3 w = leg->way;
    EACH_LANE(l) {
        double half = 0.5 * (b->high[l] - b->low[l]);
        double slope, q = b->low[l] + half * (rule->node[i] + 1);
        double at = b->foot_m[l] - offset_at(q, b->apart_m[l], gather, &slope);
        double step = half * rule->weight[i] * slope;
        n->at_m[l] = at;
        n->x[l] = b->x[l] - at * w.x;
        n->y[l] = b->y[l] - at * w.y;
        n->z[l] = b->z[l] - at * w.z;
        double square = n->x[l] * n->x[l] + n->y[l] * n->y[l] + n->z[l] * n->z[l];
        n->way[l] = sqrt(square + b->soft2); /* a thin beam's light is that far off its axis */
        n->per_m2[l] = step / (square + b->soft2);
        n->turned[l] = (n->x[l] * w.x + n->y[l] * w.y + n->z[l] * w.z) / n->way[l];
    }
}

/* What screens let through from the leg's nearest place to each of eight. */
static void past_leg_screens(const vs_space *space, const beam_leg *leg, const beside *b,
                             double *open) {
    for (int l = 0; l < LANES; l++) {
        vs_vec3 off = {b->x[l], b->y[l], b->z[l]};
        double at = lane_min(lane_max(b->foot_m[l], 0), leg->length_m);
        open[l] = vs_space_past_blockers(space, vs_vec3_along(leg->from_m, leg->way, at),
                                         vs_vec3_add(leg->from_m, off));
    }
}

LANES_INLINE vs_bands leg_veil(const vs_scattering *s, const vs_tracing *walks,
                               const vs_medium *medium, const vs_camera_ray *sight,
                               const vs_ray_segment *piece, const beam_leg *leg) {
    meeting m = nearest(sight, piece, leg);
    double soft2 = soft_m2(walks, leg->out_m + m.leg_m);
    vs_vec3 d = sight->direction, from = vs_vec3_sub(sight->at_m, leg->from_m);
    double open[LANES], share[VS_BAND_COUNT][LANES], sum[VS_BAND_COUNT][LANES] = {{0}};
    near_nodes n;
    beside b;
    place_nodes(piece->from_m, piece->to_m, m.sight_m, sqrt(m.apart2 + soft2), s->gather, -1, &n);
    EACH_LANE(l) {
        b.x[l] = from.x + n.at_m[l] * d.x;
        b.y[l] = from.y + n.at_m[l] * d.y;
        b.z[l] = from.z + n.at_m[l] * d.z;
        open[l] = 1;
    }
    look_at_leg(leg, soft2, s->gather, &b);
    if (medium->space->blocker_count > 0) {
        past_leg_screens(medium->space, leg, &b, open);
    }
    for (int i = 0; i < BEAM_NODES; i++) {
        leg_node node;
        double cosine[LANES], first[VS_BAND_COUNT][LANES], second[VS_BAND_COUNT][LANES];
        place_leg_node(leg, &b, s->gather, i, &node);
        EACH_LANE(l) {
            cosine[l] = -(node.x[l] * d.x + node.y[l] * d.y + node.z[l] * d.z) / node.way[l];
        }
        lanes_phases(s->narrow_rest, node.turned, first);
        lanes_phases(s->per_sr[0], cosine, second);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double k = piece->extinction_per_m * medium->ratio.v[band];
            double out = s->narrow.dimming.v[band], off = s->wide.dimming.v[band];
            EACH_LANE(l) {
                sum[band][l] += first[band][l] * second[band][l] * node.per_m2[l] *
                                lane_exp(-k * (out * node.at_m[l] + off * node.way[l]));
            }
        }
    }
    vs_bands nits;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double k = piece->extinction_per_m * medium->ratio.v[band];
        seen_per_m(medium, piece, &n, band, share[band]);
        EACH_LANE(l) {
            share[band][l] *= sum[band][l] * open[l];
        }
        nits.v[band] =
            lanes_sum(share[band]) * leg->lumens[band] * k * medium->haze->albedo.v[band];
    }
    return nits;
}

/* ---- straight on ---- */

/* The way from an emitter to eight nodes, and the cosine of the angle by which its light turns into
 * the lens. */
LANES_INLINE void way_to_nodes(const vs_space *space, const vs_emitter *emitter,
                               const vs_camera_ray *sight, const near_nodes *n, double *way,
                               double *cosine) {
    vs_vec3 middle_m = vs_emitter_middle(emitter);
    for (int l = 0; l < LANES; l++) {
        vs_vec3 at_m = vs_vec3_along(sight->at_m, sight->direction, n->at_m[l]);
        vs_vec3 from_m = emitter->kind == VS_EMITTER_PARALLEL
                             ? vs_shaft_parallel_origin(space, emitter, at_m)
                             : middle_m;
        vs_vec3 w = vs_vec3_sub(at_m, from_m);
        way[l] = sqrt(vs_vec3_dot(w, w) + NEAREST_M2);
        cosine[l] = -vs_vec3_dot(w, sight->direction) / way[l];
    }
}

/* Sums what eight nodes scatter into the lens, of light dimmed as it is and as the split says. */
LANES_INLINE void add_straight_on(const vs_scattering *s, const vs_traced *traced,
                                  const vs_medium *medium, const vs_camera_ray *sight,
                                  const vs_ray_segment *piece, vs_bands *plain, vs_bands *split) {
    const vs_split_phase *by = vs_split_of(s, traced->walks.narrow);
    bool parallel = traced->emitter.kind == VS_EMITTER_PARALLEL;
    vs_vec3 to_lamp = vs_vec3_sub(vs_emitter_middle(&traced->emitter), sight->at_m);
    double foot_m =
        parallel ? (piece->from_m + piece->to_m) / 2 : vs_vec3_dot(to_lamp, sight->direction);
    double across2 = parallel ? (piece->to_m - piece->from_m) * (piece->to_m - piece->from_m)
                              : lane_max(0, vs_vec3_dot(to_lamp, to_lamp) - foot_m * foot_m);
    double cosine[LANES], way[LANES], share[LANES], per_sr[VS_BAND_COUNT][LANES], passed[LANES];
    near_nodes n;
    place_nodes(piece->from_m, piece->to_m, foot_m, sqrt(across2 + NEAREST_M2), s->gather, -1, &n);
    way_to_nodes(medium->space, &traced->emitter, sight, &n, way, cosine);
    lanes_phases(s->per_sr[0], cosine, per_sr);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double k = piece->extinction_per_m * medium->ratio.v[band];
        seen_per_m(medium, piece, &n, band, share);
        EACH_LANE(l) {
            share[l] *= per_sr[band][l] / (parallel ? 1 : way[l] * way[l]);
            passed[l] = share[l] * lane_exp(-k * by->dimming.v[band] * way[l]);
            share[l] *= lane_exp(-k * way[l]);
        }
        plain->v[band] += lanes_sum(share);
        split->v[band] += lanes_sum(passed);
    }
}

LANES_CLONES vs_bands vs_near_straight_on(const vs_scattering *s, const vs_traced *traced,
                                          const vs_medium *medium, const vs_camera_ray *sight) {
    vs_bands plain = vs_bands_grey(0), split = plain, more = plain;
    for (size_t p = 0; p < sight->segment_count; p++) {
        const vs_ray_segment *piece = &sight->segment[p];
        if (piece->extinction_per_m > 0 && traced->walks.lit_room[piece->room]) {
            add_straight_on(s, traced, medium, sight, piece, &plain, &split);
        }
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        more.v[band] = plain.v[band] > 0 ? split.v[band] / plain.v[band] - 1 : 0;
    }
    return more;
}

/* Whether a line of sight passes a whole beam at such a distance that a few of its thin beams do:
 * each as good as the others, for they are in a sequence that is even from its start. */
static bool is_far_from_beam(const vs_tracing *walks, const vs_camera_ray *sight,
                             const vs_ray_segment *piece) {
    if (walks->thin_count == 0) {
        return false;
    }
    beam_leg axis = {walks->axis_from_m, walks->axis, BEAM_REACH_M, 0, {0}, 0};
    meeting m = nearest(sight, piece, &axis);
    double whole = (double)walks->thin_count / VS_PI;
    double radius2 = whole * (walks->beam_start_m2 + walks->beam_spread_sr * m.leg_m * m.leg_m);
    return m.apart2 > FAR_RADII * FAR_RADII * radius2;
}

/* ---- all of an emitter ---- */

/* Whether a pool, whole, is so near that its place and shape within its patch count. */
LANES_INLINE bool is_near(const vs_mesh *mesh, const vs_pool *pool, double away_m) {
    vs_vec3 off = vs_vec3_sub(pool->rect.center_m, mesh->patch[pool->patch].rect.center_m);
    return away_m < NEAR_SIZES * pool->size_m + NEAR_OFFS * vs_vec3_length(off);
}

/* Takes a whole pool's light as its patch gives it back out of a sum. */
LANES_INLINE void leave_out_even(const vs_mesh *mesh, const vs_field *field, const vs_pool *pool,
                                 const double *worth, vs_bands *sum) {
    for (size_t band = 0; band < VS_BAND_COUNT; band++) {
        size_t at = band * mesh->patch_count + pool->patch;
        sum->v[band] -= worth[at] * field->pooled_nits[at];
    }
}

LANES_INLINE void add_pools(const vs_scattering *scattering, const vs_mesh *mesh,
                            const vs_tracing *walks, const vs_field *field, const double *worth,
                            const vs_medium *medium, const vs_camera_ray *sight,
                            const vs_ray_segment *piece, vs_bands *sum) {
    for (size_t i = 0; i < walks->pool_count;) {
        const vs_pool *pool = &walks->pool[i];
        bool whole = pool->parent == VS_LEG_NONE;
        if (whole && mesh->patch[pool->patch].room != piece->room) {
            i = pool->end;
            continue;
        }
        double away_m = away_from_m(sight, piece, pool);
        if (whole && !is_near(mesh, pool, away_m)) {
            i = pool->end;
            continue;
        }
        if (whole) {
            leave_out_even(mesh, field, pool, worth, sum);
        }
        if (!is_one(walks, i, away_m)) {
            i++;
            continue;
        }
        bool shaped = pool->size_m > WHOLE_SIZE * away_m;
        *sum = vs_bands_add(*sum, pool_veil(scattering, medium, sight, piece, pool, shaped,
                                            field->pool_cd + i * VS_BAND_COUNT));
        i = pool->end;
    }
}

LANES_INLINE void add_beams(const vs_scattering *scattering, const vs_tracing *walks,
                            const vs_medium *medium, const vs_camera_ray *sight,
                            const vs_ray_segment *piece, vs_bands *sum) {
    beam_walk at = {0};
    beam_leg leg;
    size_t taken = is_far_from_beam(walks, sight, piece) ? FAR_BEAMS : 1;
    while (next_leg(scattering, walks, medium, &at, &leg)) {
        if (leg.room == piece->room && at.thin % taken == 0) {
            vs_bands one = leg_veil(scattering, walks, medium, sight, piece, &leg);
            *sum = vs_bands_add(*sum, vs_bands_scale(one, (double)taken));
        }
    }
}

LANES_CLONES vs_bands vs_near_veil(const vs_scattering *scattering, const vs_mesh *mesh,
                                   const vs_tracing *walks, const vs_field *field,
                                   const double *worth, const vs_medium *medium,
                                   const vs_camera_ray *sight) {
    vs_bands sum = vs_bands_grey(0);
    for (size_t p = 0; p < sight->segment_count; p++) {
        const vs_ray_segment *piece = &sight->segment[p];
        if (piece->extinction_per_m > 0) {
            add_pools(scattering, mesh, walks, field, worth, medium, sight, piece, &sum);
            add_beams(scattering, walks, medium, sight, piece, &sum);
        }
    }
    return sum;
}

/* ---- surfaces ---- */

static vs_bands pool_lux(const vs_scattering *s, const vs_medium *medium, double k,
                         const vs_pool *pool, const double *candela, vs_vec3 p_m, vs_vec3 normal) {
    vs_bands lux = vs_bands_grey(0);
    double view = VS_PI * vs_form_factor_from_point(p_m, normal, &pool->rect);
    double open = view > 0 ? vs_space_past_blockers(medium->space, pool->rect.center_m, p_m) : 0;
    double per_m2 = 0.25 / (pool->rect.half_u_m * pool->rect.half_v_m);
    double away_m = vs_vec3_length(vs_vec3_sub(p_m, pool->rect.center_m));
    for (int band = 0; band < VS_BAND_COUNT && open > 0; band++) {
        lux.v[band] = candela[band] * per_m2 * view * open *
                      exp(-k * medium->ratio.v[band] * s->wide.dimming.v[band] * away_m);
    }
    return lux;
}

LANES_INLINE vs_bands leg_lux(const vs_scattering *s, const vs_tracing *walks,
                              const vs_medium *medium, double k549, const beam_leg *leg,
                              vs_vec3 p_m, vs_vec3 normal) {
    vs_vec3 off = vs_vec3_sub(p_m, leg->from_m);
    double foot = lane_min(lane_max(vs_vec3_dot(off, leg->way), 0), leg->length_m), open[LANES];
    beside b;
    vs_bands lux = vs_bands_grey(0);
    EACH_LANE(l) {
        b.x[l] = off.x;
        b.y[l] = off.y;
        b.z[l] = off.z;
        open[l] = 1;
    }
    look_at_leg(leg, soft_m2(walks, leg->out_m + foot), s->gather, &b);
    if (medium->space->blocker_count > 0) {
        past_leg_screens(medium->space, leg, &b, open);
    }
    for (int i = 0; i < BEAM_NODES; i++) {
        leg_node node;
        double turned[VS_BAND_COUNT][LANES];
        place_leg_node(leg, &b, s->gather, i, &node);
        lanes_phases(s->narrow_rest, node.turned, turned);
        double facing =
            -(node.x[0] * normal.x + node.y[0] * normal.y + node.z[0] * normal.z) / node.way[0];
        for (int band = 0; band < VS_BAND_COUNT && facing > 0; band++) {
            double k = k549 * medium->ratio.v[band];
            lux.v[band] += turned[band][0] * node.per_m2[0] * facing * open[0] * k *
                           medium->haze->albedo.v[band] * leg->lumens[band] *
                           lane_exp(-k * (s->narrow.dimming.v[band] * node.at_m[0] +
                                          s->wide.dimming.v[band] * node.way[0]));
        }
    }
    return lux;
}

LANES_CLONES vs_bands vs_near_lux(const vs_scattering *scattering, const vs_mesh *mesh,
                                  const vs_tracing *walks, const vs_field *field,
                                  const double *worth, const vs_medium *medium, size_t room,
                                  vs_vec3 p_m, vs_vec3 normal) {
    double k = vs_medium_extinction_per_m(medium, room);
    vs_bands sum = vs_bands_grey(0);
    beam_walk at = {0};
    beam_leg leg;
    for (size_t i = 0; i < walks->pool_count;) {
        const vs_pool *pool = &walks->pool[i];
        bool whole = pool->parent == VS_LEG_NONE;
        double away_m = vs_vec3_length(vs_vec3_sub(p_m, pool->rect.center_m));
        if (whole && (mesh->patch[pool->patch].room != room || !is_near(mesh, pool, away_m))) {
            i = pool->end;
            continue;
        }
        if (whole) {
            leave_out_even(mesh, field, pool, worth, &sum);
        }
        if (!is_one(walks, i, away_m)) {
            i++;
            continue;
        }
        sum = vs_bands_add(sum, pool_lux(scattering, medium, k, pool,
                                         field->pool_cd + i * VS_BAND_COUNT, p_m, normal));
        i = pool->end;
    }
    while (k > 0 && next_leg(scattering, walks, medium, &at, &leg)) {
        if (leg.room == room) {
            sum = vs_bands_add(sum, leg_lux(scattering, walks, medium, k, &leg, p_m, normal));
        }
    }
    return sum;
}
