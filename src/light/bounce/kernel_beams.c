/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A narrow beam is a few thin ones, each with nodes along it for each place that looks at it
 * (Novak, Nowrouzezahrai, Dachsbacher & Jarosz 2012, ACM Trans. Graph. 31, 60: beams as lines). */
#include "light/bounce/kernel_beams.h"

#include <stdlib.h>

#include "light/bounce/near_nodes.h"
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

/* Where a line of sight passes a leg: distances along both, and the square of that between. */
typedef struct {
    double sight_m, leg_m, apart2;
} meeting;

LANES_INLINE meeting nearest(const vs_gather *g, const vs_gather_piece *piece,
                             const beam_leg *leg) {
    vs_vec3 d = g->toward, w = leg->way, off = vs_vec3_sub(leg->from_m, g->at_m);
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
        b->low[l] = near_place_of(foot, apart, gather);
        b->high[l] = near_place_of(foot - leg->length_m, apart, gather);
    }
}

/* A node along the leg for each of eight places: where, and from there to the place. */
typedef struct {
    double at_m[LANES], x[LANES], y[LANES], z[LANES], way[LANES];
    double per_m2[LANES]; /* what the node stands for over the square of the way */
    double turned[LANES]; /* cosine of the angle by which light turns on the leg */
} leg_node;

/* place, weight  of the rule, one for each */
LANES_INLINE void place_leg_nodes(const beam_leg *leg, const beside *b, double gather,
                                  const double *place, const double *weight, leg_node *n) {
    vs_vec3 w = leg->way;
    EACH_LANE(l) {
        double half = 0.5 * (b->high[l] - b->low[l]);
        double slope, q = b->low[l] + half * (place[l] + 1);
        double at = b->foot_m[l] - near_offset_at(q, b->apart_m[l], gather, &slope);
        double step = half * weight[l] * slope;
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

/* ---- samples ---- */

/* Samples of a piece by the lengths of their ways. */
typedef struct {
    near_sum bin[BINS];
    double narrow, wide; /* what of the lengths counts */
} by_length;

static void add_by_length(by_length *all, const double worth[VS_BAND_COUNT], double by,
                          double plain_m, double narrow_m, double wide_m) {
    double length_m = plain_m + all->narrow * narrow_m + all->wide * wide_m;
    near_sum_add(&all->bin[(size_t)lane_min(length_m / NEAR_ALIKE_M, BINS - 1)], worth, by, plain_m,
                 narrow_m, wide_m);
}

/* What a thin beam's light is scattered into by an angle on the leg: vs_split_phase_per_sr in
 * lanes.
 */
LANES_INLINE void turned_per_sr(const vs_split_phase *split, const double *cosine,
                                double per_sr[VS_BAND_COUNT][LANES]) {
    double before[LANES], now[LANES];
    EACH_LANE(l) {
        before[l] = 1;
        now[l] = cosine[l];
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            per_sr[band][l] = split->rest[band][0] + split->rest[band][1] * now[l];
        }
    }
    for (int i = 1; i < split->order; i++) {
        double up = (2 * i + 1) / (i + 1.0), down = i / (i + 1.0);
        EACH_LANE(l) {
            double next = up * cosine[l] * now[l] - down * before[l];
            before[l] = now[l];
            now[l] = next;
        }
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                per_sr[band][l] += split->rest[band][i + 1] * now[l];
            }
        }
    }
}

/* Sums over nodes along a leg, of eight places: of worths, and of lengths by what they are worth.
 */
typedef struct {
    double worth[VS_BAND_COUNT][LANES], by[LANES], narrow[LANES], wide[LANES];
} leg_sums;

/* What a leg's light scattered by half of its nodes is worth to eight places of a line.
 *     toward  of the line */
LANES_INLINE void sum_leg(const vs_scattering *s, const beam_leg *leg, const beside *b,
                          vs_vec3 toward, int first, leg_sums *sums) {
    const leg_sums none = {{{0}}, {0}, {0}, {0}};
    const vs_legendre_rule *rule = &vs_legendre_rules[BEAM_NODES];
    *sums = none;
    for (int i = first; i < first + BEAM_NODES / 2; i++) {
        leg_node node;
        double place[LANES], weight[LANES], cosine[LANES];
        double once[VS_BAND_COUNT][LANES], twice[VS_BAND_COUNT][LANES];
        EACH_LANE(l) {
            place[l] = rule->node[i];
            weight[l] = rule->weight[i];
        }
        place_leg_nodes(leg, b, s->gather, place, weight, &node);
        EACH_LANE(l) {
            cosine[l] =
                -(node.x[l] * toward.x + node.y[l] * toward.y + node.z[l] * toward.z) / node.way[l];
        }
        turned_per_sr(&s->narrow, node.turned, once);
        near_phases(s->per_sr[0], cosine, twice);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                once[band][l] *= twice[band][l] * node.per_m2[l];
                sums->worth[band][l] += once[band][l];
            }
        }
        EACH_LANE(l) {
            double by = once[VS_BAND_GREEN][l];
            by = by < 0 ? -by : by;
            sums->by[l] += by;
            sums->narrow[l] += by * node.at_m[l];
            sums->wide[l] += by * node.way[l];
        }
    }
}

LANES_CLONES static void see_leg(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                                 const vs_tracing *walks, const vs_gather_piece *piece,
                                 const beam_leg *leg, double scale, by_length *all) {
    meeting m = nearest(g, piece, leg);
    double soft2 = soft_m2(walks, leg->out_m + m.leg_m), open[LANES];
    vs_vec3 d = g->toward, from = vs_vec3_sub(g->at_m, leg->from_m);
    near_nodes n;
    beside b;
    near_place_nodes(piece, m.sight_m, sqrt(m.apart2 + soft2), s->gather, &n);
    EACH_LANE(l) {
        b.x[l] = from.x + n.at_m[l] * d.x;
        b.y[l] = from.y + n.at_m[l] * d.y;
        b.z[l] = from.z + n.at_m[l] * d.z;
        open[l] = 1;
    }
    look_at_leg(leg, soft2, s->gather, &b);
    if (space->blocker_count > 0) {
        past_leg_screens(space, leg, &b, open);
    }
    for (int half = 0; half < 2; half++) {
        leg_sums sums;
        sum_leg(s, leg, &b, d, half * BEAM_NODES / 2, &sums);
        for (int l = 0; l < LANES; l++) {
            double by = n.step_m[l] * open[l] * scale * piece->open, worth[VS_BAND_COUNT];
            double per = 1 / (sums.by[l] + LANES_TINY);
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                worth[band] = by * sums.worth[band][l];
            }
            add_by_length(all, worth, by * sums.by[l], n.at_m[l] - piece->from_m,
                          leg->here_m + per * sums.narrow[l], per * sums.wide[l]);
        }
    }
}

/* Whether a line of sight passes a whole beam at such a distance that a few of its thin beams do:
 * each as good as the others, for they are in a sequence that is even from its start. */
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
    vs_vec3 off = vs_vec3_sub(g->at_m, leg->from_m);
    double foot = lane_min(lane_max(vs_vec3_dot(off, leg->way), 0), leg->length_m);
    double open =
        vs_space_past_blockers(space, vs_vec3_along(leg->from_m, leg->way, foot), g->at_m);
    const vs_legendre_rule *rule = &vs_legendre_rules[LANES];
    double once[VS_BAND_COUNT][LANES], facing[LANES];
    beside b;
    leg_node node;
    EACH_LANE(l) {
        b.x[l] = off.x;
        b.y[l] = off.y;
        b.z[l] = off.z;
    }
    look_at_leg(leg, soft_m2(walks, leg->out_m + foot), s->gather, &b);
    place_leg_nodes(leg, &b, s->gather, rule->node, rule->weight, &node);
    EACH_LANE(l) {
        double down =
            -(node.x[l] * g->toward.x + node.y[l] * g->toward.y + node.z[l] * g->toward.z);
        facing[l] = lane_max(0, down / node.way[l]) * node.per_m2[l] * open * leg->lumens;
    }
    turned_per_sr(&s->narrow, node.turned, once);
    for (int l = 0; l < LANES; l++) {
        double worth[VS_BAND_COUNT];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            worth[band] = once[band][l] * facing[l];
        }
        double by = worth[VS_BAND_GREEN];
        add_by_length(all, worth, by < 0 ? -by : by, 0, leg->here_m + node.at_m[l], node.way[l]);
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
        const by_length none = {.narrow = s->narrow.dimming.v[VS_BAND_GREEN],
                                .wide = s->wide.dimming.v[VS_BAND_GREEN]};
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
                                      double worth[VS_BAND_COUNT][LANES], double *plain_m,
                                      double *way) {
    bool parallel = traced->emitter.kind == VS_EMITTER_PARALLEL;
    vs_vec3 middle_m = vs_emitter_middle(&traced->emitter);
    vs_vec3 to_lamp = vs_vec3_sub(middle_m, g->at_m);
    double foot_m = parallel ? (piece->from_m + piece->to_m) / 2 : vs_vec3_dot(to_lamp, g->toward);
    double across2 = parallel ? (piece->to_m - piece->from_m) * (piece->to_m - piece->from_m)
                              : lane_max(0, vs_vec3_dot(to_lamp, to_lamp) - foot_m * foot_m);
    double cosine[LANES];
    near_nodes n;
    near_place_nodes(piece, foot_m, sqrt(across2 + NEAREST_M2), s->gather, &n);
    for (int l = 0; l < LANES; l++) {
        vs_vec3 at_m = vs_vec3_along(g->at_m, g->toward, n.at_m[l]);
        vs_vec3 from_m =
            parallel ? vs_shaft_parallel_origin(space, &traced->emitter, at_m) : middle_m;
        vs_vec3 w = vs_vec3_sub(at_m, from_m);
        way[l] = sqrt(vs_vec3_dot(w, w) + NEAREST_M2);
        cosine[l] = -vs_vec3_dot(w, g->toward) / way[l];
        plain_m[l] = n.at_m[l] - piece->from_m;
    }
    near_phases(s->per_sr[0], cosine, worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            worth[band][l] *= n.step_m[l] * piece->open / (parallel ? 1 : way[l] * way[l]);
        }
    }
}

vs_status vs_straight_on_seen(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                              const vs_traced *traced, vs_gather_light *light) {
    vs_status status = VS_OK;
    for (size_t p = 0; p < g->piece_count && status == VS_OK; p++) {
        double worth[VS_BAND_COUNT][LANES], plain_m[LANES], way[LANES];
        if (!traced->walks.lit_room[g->piece[p].room]) {
            continue;
        }
        see_straight(g, space, s, traced, &g->piece[p], worth, plain_m, way);
        for (int l = 0; l < LANES && status == VS_OK; l++) {
            const vs_gather_sample sample = {{worth[0][l], worth[1][l], worth[2][l]},
                                             plain_m[l],
                                             traced->walks.narrow ? way[l] : 0,
                                             traced->walks.narrow ? 0 : way[l]};
            status = vs_gather_add_sample(light, p, 0, &sample);
        }
    }
    return status;
}
