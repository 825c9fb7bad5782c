/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A narrow beam is a few thin ones, each with nodes along it for each place that looks at it
 * (Novak, Nowrouzezahrai, Dachsbacher & Jarosz 2012, ACM Trans. Graph. 31, 60: beams as lines). */
#include "light/bounce/kernel_beams.h"

#include <math.h>
#include <stdlib.h>

#include "light/bounce/near_nodes.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

#define SOFT_SHARE   (1 / (5 * VS_PI)) /* [1] of a thin beam's cross-section */
#define LEAST_M2     1e-8              /* [m2] where a beam begins in a point; our choice */
#define NEAREST_M2   1e-4              /* [m2] of a line to an emitter; our choice */
#define FAR_RADII    2.5 /* [1] of a beam's radius: from there on a share of its thin beams do */
#define FAR_BEAMS    4   /* one of so many */
#define BEAM_REACH_M 100 /* [m] as far as a beam's axis is followed; our choice */
#define BEAM_NODES   8   /* along a thin beam, from each place on the line */
#define BINS         256 /* of lengths of ways, NEAR_ALIKE_M each; the last holds all longer */

/* ---- thin beams ---- */

/* A leg of a thin beam. */
typedef struct {
    vs_vec3 from_m, way;
    double length_m, out_m; /* out: from the emitter to its start */
    double here_m;          /* of that, in the room that it is in */
    double lumens;          /* at its start, in clear air */
    size_t room;
} beam_leg;

/* Square of the distance within which a thin beam is no line: a share of its radius. Light beside
 * it grows as the inverse of the distance, which is finite in the mean over the radius. */
static double soft_m2(const vs_tracing *walks, double out_m) {
    return SOFT_SHARE * (walks->beam_start_m2 + walks->beam_spread_sr * out_m * out_m) + LEAST_M2;
}

static beam_leg leg_of(const vs_tracing *walks, const vs_thin_beam *thin, size_t leg) {
    const vs_leg *first = &walks->leg[thin->leg_first], *at = first + leg;
    beam_leg found = {.from_m = vs_leg_from(at),
                      .way = vs_leg_way(at),
                      .length_m = (double)at->length_m,
                      .lumens = thin->lumens,
                      .room = at->room};
    for (size_t i = 0; i < leg; i++) {
        found.out_m += (double)first[i].length_m;
        found.here_m += first[i].room == at->room ? (double)first[i].length_m : 0;
        found.lumens *= (double)first[i].onward;
    }
    return found;
}

/* Where a camera ray passes a leg: distances along both, and the square of that between. */
typedef struct {
    double ray_m, leg_m, apart2;
} meeting;

static meeting nearest(const vs_gather *g, const vs_gather_piece *piece, const beam_leg *leg) {
    vs_vec3 d = g->toward, w = leg->way, off = vs_vec3_sub(leg->from_m, g->at_m);
    double b = vs_vec3_dot(d, w), down = fmax(1 - b * b, 1e-6);
    double t = (b * vs_vec3_dot(off, d) - vs_vec3_dot(off, w)) / down;
    t = fmin(fmax(t, 0), leg->length_m);
    vs_vec3 on_leg = vs_vec3_along(off, w, t);
    double s = fmin(fmax(vs_vec3_dot(on_leg, d), piece->from_m), piece->to_m);
    vs_vec3 between = vs_vec3_along(on_leg, d, -s);
    meeting m = {s, t, vs_vec3_dot(between, between)};
    return m;
}

/* Eight places beside a leg, on the ray or one on a surface: where on the leg the foot is, how far
 * off, softened; the component of the way from the foot along the ray or the normal. */
typedef struct {
    float foot_m[LANES], apart_m[LANES], across_m[LANES];
    float low[LANES], high[LANES]; /* q of the leg's ends */
    float along;                   /* the same component of the leg's way */
} beside;

/* at_m  of the places, from `from` on along the ray; 0 on a surface */
LANES_INLINE void look_at_leg(const beam_leg *leg, vs_vec3 from, vs_vec3 toward, const float *at_m,
                              double soft2, double gather, beside *b) {
    vs_vec3 w = leg->way, off = vs_vec3_sub(from, leg->from_m);
    double foot0 = vs_vec3_dot(off, w), along = vs_vec3_dot(toward, w);
    vs_vec3 side = vs_vec3_along(off, w, -foot0), turn = vs_vec3_along(toward, w, -along);
    const float sx = (float)side.x, sy = (float)side.y, sz = (float)side.z;
    const float tx = (float)turn.x, ty = (float)turn.y, tz = (float)turn.z;
    const float dx = (float)toward.x, dy = (float)toward.y, dz = (float)toward.z;
    const float foot = (float)foot0, length = (float)leg->length_m, soft = (float)soft2;
    float by = (float)gather;
    b->along = (float)along;
    EACH_LANE(l) {
        float x = sx + at_m[l] * tx, y = sy + at_m[l] * ty, z = sz + at_m[l] * tz;
        float apart = sqrtf(x * x + y * y + z * z + soft);
        b->foot_m[l] = foot + at_m[l] * b->along;
        b->apart_m[l] = apart;
        b->across_m[l] = x * dx + y * dy + z * dz;
        b->low[l] = near_place_of(b->foot_m[l], apart, by);
        b->high[l] = near_place_of(b->foot_m[l] - length, apart, by);
    }
}

/* A node along the leg for each of eight places. */
typedef struct {
    float at_m[LANES], way_m[LANES];
    float per_m2[LANES]; /* what the node stands for over the square of the way */
    float turned[LANES]; /* cosine of the angle by which light turns on the leg */
    float
        cosine[LANES]; /* of that between the way on to the place and the ray or normal, reversed */
} leg_node;

/* place, weight  of the rule, one for each */
LANES_INLINE void place_leg_nodes(const beside *b, double gather, const float *place,
                                  const float *weight, leg_node *n) {
    float by = (float)gather;
    EACH_LANE(l) {
        float half = 0.5f * (b->high[l] - b->low[l]), apart = b->apart_m[l];
        float slope, q = b->low[l] + half * (place[l] + 1);
        float off = near_offset_at(q, apart, by, &slope);
        float square = off * off + apart * apart, per = 1 / sqrtf(square);
        n->at_m[l] = b->foot_m[l] - off;
        n->way_m[l] = square * per; /* a thin beam's light is as far off its axis as it is soft */
        n->per_m2[l] = half * weight[l] * slope * per * per;
        n->turned[l] = off * per;
        n->cosine[l] = -(b->across_m[l] + off * b->along) * per;
    }
}

/* What blockers let through from the leg's nearest place to each of eight. */
LANES_INLINE void past_leg_blockers(const vs_space *space, const beam_leg *leg, vs_vec3 from,
                                    vs_vec3 toward, const float *at_m, const beside *b,
                                    float *open) {
    const float length = (float)leg->length_m, skin = (float)VS_SPACE_SKIN_M;
    for (size_t i = 0; i < space->blocker_count; i++) {
        const vs_rect *r = &space->blocker[i].rect;
        const vs_vec3 axis[3] = {r->normal, r->u, r->v};
        float leg0[3], leg_way[3], ray0[3], ray_way[3];
        for (int k = 0; k < 3; k++) {
            leg0[k] = (float)vs_vec3_dot(vs_vec3_sub(leg->from_m, r->center_m), axis[k]);
            ray0[k] = (float)vs_vec3_dot(vs_vec3_sub(from, r->center_m), axis[k]);
            leg_way[k] = (float)vs_vec3_dot(leg->way, axis[k]);
            ray_way[k] = (float)vs_vec3_dot(toward, axis[k]);
        }
        float half_u = (float)r->half_u_m, half_v = (float)r->half_v_m;
        float passed = (float)space->blocker[i].transmittance;
        EACH_LANE(l) {
            float t = single_min(single_max(b->foot_m[l], 0), length), s = at_m[l];
            float here = leg0[0] + t * leg_way[0], there = ray0[0] + s * ray_way[0];
            float share = here / (here == there ? SINGLE_TINY : here - there);
            float u = leg0[1] + t * leg_way[1], v = leg0[2] + t * leg_way[2];
            u += share * (ray0[1] + s * ray_way[1] - u);
            v += share * (ray0[2] + s * ray_way[2] - v);
            here = here < 0 ? -here : here; /* off its skin, on either side of it */
            float in = here > skin ? share : 0;
            in = (1 - share) * here > share * skin ? in : 0;
            in = (u < 0 ? -u : u) <= half_u ? in : 0;
            in = (v < 0 ? -v : v) <= half_v ? in : 0;
            open[l] *= in > 0 ? passed : 1;
        }
    }
}

/* ---- samples ---- */

/* Samples of a piece by the lengths of their ways. */
typedef struct {
    near_sum bin[BINS];
    float narrow, wide; /* what of the lengths counts */
} by_length;

static void add_by_length(by_length *all, const float worth[VS_BAND_COUNT], float by, float plain_m,
                          float narrow_m, float wide_m) {
    float length_m = plain_m + all->narrow * narrow_m + all->wide * wide_m;
    near_sum_add(&all->bin[(size_t)single_min(length_m / NEAR_ALIKE_M, BINS - 1)], worth, by,
                 plain_m, narrow_m, wide_m);
}

/* What a thin beam's light is scattered into by an angle on the leg: vs_split_phase_per_sr in
 * lanes.
 */
LANES_INLINE void turned_per_sr(const vs_split_phase *split, const float *cosine,
                                float per_sr[VS_BAND_COUNT][LANES]) {
    float before[LANES], now[LANES];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float even = (float)split->rest[band][0], first = (float)split->rest[band][1];
        EACH_LANE(l) {
            per_sr[band][l] = even + first * cosine[l];
        }
    }
    EACH_LANE(l) {
        before[l] = 1;
        now[l] = cosine[l];
    }
    for (int i = 1; i < split->order; i++) {
        float up = (float)((2 * i + 1) / (i + 1.0)), down = (float)(i / (i + 1.0));
        EACH_LANE(l) {
            float next = up * cosine[l] * now[l] - down * before[l];
            before[l] = now[l];
            now[l] = next;
        }
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            float rest = (float)split->rest[band][i + 1];
            EACH_LANE(l) {
                per_sr[band][l] += rest * now[l];
            }
        }
    }
}

/* Sums over nodes along a leg, of eight places: of worths, and of lengths by the worths' size. */
typedef struct {
    float worth[VS_BAND_COUNT][LANES], by[LANES], narrow[LANES], wide[LANES];
} leg_sums;

/* What a leg's light scattered by half of its nodes is worth to eight places of a ray. */
LANES_INLINE void sum_leg(const vs_scattering *s, const beside *b, int first, leg_sums *sums) {
    const leg_sums none = {{{0}}, {0}, {0}, {0}};
    const vs_legendre_rule *rule = &vs_legendre_rules[BEAM_NODES];
    *sums = none;
    for (int i = first; i < first + BEAM_NODES / 2; i++) {
        leg_node node;
        float place[LANES], weight[LANES];
        float once[VS_BAND_COUNT][LANES], twice[VS_BAND_COUNT][LANES];
        EACH_LANE(l) {
            place[l] = (float)rule->node[i];
            weight[l] = (float)rule->weight[i];
        }
        place_leg_nodes(b, s->gather, place, weight, &node);
        turned_per_sr(&s->narrow, node.turned, once);
        lanes_phases(s->per_sr[0], node.cosine, twice);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                once[band][l] *= twice[band][l] * node.per_m2[l];
                sums->worth[band][l] += once[band][l];
            }
        }
        EACH_LANE(l) {
            float by = once[VS_BAND_GREEN][l];
            by = by < 0 ? -by : by;
            sums->by[l] += by;
            sums->narrow[l] += by * node.at_m[l];
            sums->wide[l] += by * node.way_m[l];
        }
    }
}

LANES_CLONES static void see_leg(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                                 const vs_tracing *walks, const vs_gather_piece *piece,
                                 const beam_leg *leg, double scale, by_length *all) {
    meeting m = nearest(g, piece, leg);
    double soft2 = soft_m2(walks, leg->out_m + m.leg_m);
    vs_vec3 from = vs_vec3_along(g->at_m, g->toward, piece->from_m);
    float open[LANES], here = (float)leg->here_m;
    near_nodes n;
    beside b;
    near_place_nodes(piece, m.ray_m, sqrt(m.apart2 + soft2), s->gather, &n);
    EACH_LANE(l) {
        open[l] = n.step_m[l] * (float)(scale * piece->open);
    }
    look_at_leg(leg, from, g->toward, n.at_m, soft2, s->gather, &b);
    past_leg_blockers(space, leg, from, g->toward, n.at_m, &b, open);
    for (int half = 0; half < 2; half++) {
        leg_sums sums;
        sum_leg(s, &b, half * BEAM_NODES / 2, &sums);
        for (int l = 0; l < LANES; l++) {
            float worth[VS_BAND_COUNT], per = 1 / (sums.by[l] + SINGLE_TINY);
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                worth[band] = open[l] * sums.worth[band][l];
            }
            add_by_length(all, worth, open[l] * sums.by[l], n.at_m[l], here + per * sums.narrow[l],
                          per * sums.wide[l]);
        }
    }
}

/* Whether a camera ray passes a whole beam at such a distance that a few of its thin beams do: each
 * as good as the others, for they are in a sequence that is even from its start. */
static bool is_far_from_beam(const vs_tracing *walks, const vs_gather *g,
                             const vs_gather_piece *piece) {
    const beam_leg axis = {
        .from_m = walks->axis_from_m, .way = walks->axis, .length_m = BEAM_REACH_M};
    meeting m = nearest(g, piece, &axis);
    double whole = (double)walks->thin_count / VS_PI;
    double radius2 = whole * (walks->beam_start_m2 + walks->beam_spread_sr * m.leg_m * m.leg_m);
    return m.apart2 > FAR_RADII * FAR_RADII * radius2;
}

/* What a leg's light scattered once is worth on a surface; lanes are nodes along the leg. */
LANES_CLONES static void see_leg_on_surface(const vs_gather *g, const vs_space *space,
                                            const vs_scattering *s, const vs_tracing *walks,
                                            const beam_leg *leg, by_length *all) {
    const vs_legendre_rule *rule = &vs_legendre_rules[LANES];
    double foot_m = vs_vec3_dot(vs_vec3_sub(g->at_m, leg->from_m), leg->way);
    double soft2 = soft_m2(walks, leg->out_m + fmin(fmax(foot_m, 0), leg->length_m));
    float at_m[LANES] = {0}, open[LANES], place[LANES], weight[LANES];
    float once[VS_BAND_COUNT][LANES];
    beside b;
    leg_node node;
    EACH_LANE(l) {
        place[l] = (float)rule->node[l];
        weight[l] = (float)rule->weight[l];
        open[l] = (float)leg->lumens;
    }
    look_at_leg(leg, g->at_m, g->toward, at_m, soft2, s->gather, &b);
    past_leg_blockers(space, leg, g->at_m, g->toward, at_m, &b, open);
    place_leg_nodes(&b, s->gather, place, weight, &node);
    turned_per_sr(&s->narrow, node.turned, once);
    for (int l = 0; l < LANES; l++) {
        float worth[VS_BAND_COUNT];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            worth[band] = once[band][l] * single_max(0, node.cosine[l]) * node.per_m2[l] * open[l];
        }
        float by = worth[VS_BAND_GREEN];
        add_by_length(all, worth, by < 0 ? -by : by, 0, (float)leg->here_m + node.at_m[l],
                      node.way_m[l]);
    }
}

/* ---- an emitter's beams ---- */

/* The mean way of an emitter's beams in other rooms before they come to that of a piece. */
static void find_way_before(const vs_tracing *walks, size_t room, size_t rooms, float *before_m) {
    double whole = 0;
    for (size_t i = 0; i < walks->thin_count; i++) {
        const vs_thin_beam *thin = &walks->thin[i];
        const vs_leg *leg = &walks->leg[thin->leg_first];
        for (size_t n = 0; n < thin->leg_count; n++) {
            double lumens = leg[n].room == room ? leg_of(walks, thin, n).lumens : 0;
            for (size_t k = 0; k < n && lumens > 0; k++) {
                before_m[leg[k].room] +=
                    leg[k].room == room ? 0 : (float)(lumens * (double)leg[k].length_m);
            }
            whole += lumens;
        }
    }
    for (size_t r = 0; r < rooms && whole > 0; r++) {
        before_m[r] /= (float)whole;
    }
}

static void see_beams_on_piece(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                               const vs_tracing *walks, const vs_gather_piece *piece,
                               by_length *all) {
    size_t taken = !g->place && is_far_from_beam(walks, g, piece) ? FAR_BEAMS : 1;
    for (size_t i = 0; i < walks->thin_count; i += taken) {
        const vs_thin_beam *thin = &walks->thin[i];
        for (size_t n = 0; n < thin->leg_count; n++) {
            if (walks->leg[thin->leg_first + n].room != piece->room) {
                continue;
            }
            beam_leg leg = leg_of(walks, thin, n);
            if (g->place) {
                see_leg_on_surface(g, space, s, walks, &leg, all);
            } else {
                see_leg(g, space, s, walks, piece, &leg, (double)taken * leg.lumens, all);
            }
        }
    }
}

vs_status vs_beams_seen(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                        const vs_tracing *walks, vs_gather_light *light) {
    if (walks->thin_count == 0) {
        return VS_OK;
    }
    size_t rooms = space->room_count;
    float *before_m = realloc(light->before_m, (g->piece_count * rooms + 1) * sizeof *before_m);
    by_length *all = malloc(sizeof *all);
    vs_status status = before_m && all ? VS_OK : VS_ERR_MEMORY;
    light->before_m = before_m ? before_m : light->before_m;
    for (size_t p = 0; p < g->piece_count && status == VS_OK; p++) {
        const by_length none = {.narrow = (float)s->narrow.dimming.v[VS_BAND_GREEN],
                                .wide = (float)s->wide.dimming.v[VS_BAND_GREEN]};
        *all = none;
        for (size_t r = 0; r < rooms; r++) {
            before_m[p * rooms + r] = 0;
        }
        find_way_before(walks, g->piece[p].room, rooms, before_m + p * rooms);
        see_beams_on_piece(g, space, s, walks, &g->piece[p], all);
        for (size_t i = 0; i < BINS && status == VS_OK; i++) {
            status = near_sum_keep(&all->bin[i], 0, p, light);
        }
    }
    free(all);
    return status;
}

/* ---- straight on ---- */

/* What of light that is scattered once comes to eight places on a piece from an emitter, and how
 * far. */
LANES_CLONES static void see_straight(const vs_gather *g, const vs_space *space,
                                      const vs_scattering *s, const vs_traced *traced,
                                      const vs_gather_piece *piece,
                                      float worth[VS_BAND_COUNT][LANES], float *at_m, float *way) {
    bool parallel = traced->emitter.kind == VS_EMITTER_PARALLEL;
    vs_vec3 middle_m = vs_emitter_middle(&traced->emitter);
    vs_vec3 to_lamp = vs_vec3_sub(middle_m, g->at_m);
    double length_m = piece->to_m - piece->from_m;
    double foot_m = parallel ? piece->from_m + length_m / 2 : vs_vec3_dot(to_lamp, g->toward);
    double across2 =
        parallel ? length_m * length_m : fmax(0, vs_vec3_dot(to_lamp, to_lamp) - foot_m * foot_m);
    float cosine[LANES];
    near_nodes n;
    near_place_nodes(piece, foot_m, sqrt(across2 + NEAREST_M2), s->gather, &n);
    for (int l = 0; l < LANES; l++) {
        vs_vec3 p_m = vs_vec3_along(g->at_m, g->toward, piece->from_m + (double)n.at_m[l]);
        vs_vec3 from_m =
            parallel ? vs_shaft_parallel_origin(space, &traced->emitter, p_m) : middle_m;
        vs_vec3 w = vs_vec3_sub(p_m, from_m);
        double way_m = sqrt(vs_vec3_dot(w, w) + NEAREST_M2);
        cosine[l] = (float)(-vs_vec3_dot(w, g->toward) / way_m);
        way[l] = (float)way_m;
        at_m[l] = n.at_m[l];
    }
    lanes_phases(s->per_sr[0], cosine, worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            worth[band][l] *= n.step_m[l] * (float)piece->open / (parallel ? 1 : way[l] * way[l]);
        }
    }
}

vs_status vs_straight_on_seen(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                              const vs_traced *traced, vs_gather_light *light) {
    bool narrow = traced->walks.narrow;
    vs_status status = VS_OK;
    for (size_t p = 0; p < g->piece_count && status == VS_OK; p++) {
        float worth[VS_BAND_COUNT][LANES], at_m[LANES], way[LANES];
        if (!traced->walks.lit_room[g->piece[p].room]) {
            continue;
        }
        see_straight(g, space, s, traced, &g->piece[p], worth, at_m, way);
        for (int l = 0; l < LANES && status == VS_OK; l++) {
            const vs_gather_sample sample = {{worth[0][l], worth[1][l], worth[2][l]},
                                             at_m[l],
                                             narrow ? way[l] : 0,
                                             narrow ? 0 : way[l]};
            status = vs_gather_add_sample(light, p, 0, &sample);
        }
    }
    return status;
}
