/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A narrow beam is split into a few thin ones, each with nodes along it for each place that sees it
 * (Novak, Nowrouzezahrai, Dachsbacher & Jarosz 2012, ACM Trans. Graph. 31, 60: beams as lines). */
#include "light/bounce/gather_beams.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/bounce/near_nodes.h"
#include "light/geometry/ray_casting.h"
#include "light/lamps/light_sampling.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

#define SOFT_SHARE  (1 / (5 * VS_PI)) /* [1] of a thin beam's cross-section */
#define LEAST_M2    1e-8              /* [m2] where a beam begins in a point; our choice */
#define NEAREST_M2  1e-4              /* [m2] of a line to an emitter; our choice */
#define NEAR        0.15 /* [1] of a segment's length: a thin beam as near to it is seen from */
#define NEAR_PLACES 8    /* so many places of the segment, */
#define FAR_PLACES  4    /* another from so many; measured: docs/accuracy.md */
#define BETWEEN     0.3  /* [1] of that length: so much farther off by both */
#define NEAR_NODES  8    /* along a thin beam, from each place on the line that is near it, */
#define FAR_NODES   6    /* and from another */

/* Beams from a lamp about a surface that its scattered light falls on; measured. */
#define RINGS 4
#define RING  8         /* beams a ring */
#define TURN  0.0381966 /* [1] of a full turn from ring to ring: they do not line up */

/* ---- thin beams ---- */

/* A segment of a thin beam, and what light comes to it. */
typedef struct {
    vs_vec3 from_m, direction;
    double length_m, out_m; /* out: from the emitter to its start */
    double here_m;          /* of that, in the room that it is in */
    double lumens;          /* at its start, in clear air */
    size_t room;
} beam_segment;

/* Square of the distance within which a thin beam is no line: a share of its radius. Light beside
 * it grows as the inverse of the distance, which is finite in the mean over the radius. */
static double soft_m2(const vs_tracing *walks, double out_m) {
    return SOFT_SHARE * (walks->beam_start_m2 + walks->beam_spread_sr * out_m * out_m) + LEAST_M2;
}

static beam_segment beam_segment_of(const vs_tracing *walks, const vs_thin_beam *thin, size_t n) {
    const vs_beam_segment *first = &walks->segment[thin->segment_first], *at = first + n;
    beam_segment found = {.from_m = vs_beam_segment_from(at),
                          .direction = vs_beam_segment_direction(at),
                          .length_m = (double)at->length_m,
                          .lumens = thin->lumens,
                          .room = at->room};
    for (size_t i = 0; i < n; i++) {
        found.out_m += (double)first[i].length_m;
        found.here_m += first[i].room == at->room ? (double)first[i].length_m : 0;
        found.lumens *= (double)first[i].onward;
    }
    return found;
}

/* Where a camera ray passes a beam: distances along both, and the square of that between; what
 * softens that, and the two together. */
typedef struct {
    double ray_m, beam_m, apart2, soft2, apart_m;
} meeting;

static meeting nearest(const vs_gather *g, const vs_gather_segment *segment,
                       const beam_segment *beam) {
    vs_vec3 d = g->toward, w = beam->direction, off = vs_vec3_sub(beam->from_m, g->at_m);
    double b = vs_vec3_dot(d, w), down = fmax(1 - b * b, 1e-6);
    double t = (b * vs_vec3_dot(off, d) - vs_vec3_dot(off, w)) / down;
    t = fmin(fmax(t, 0), beam->length_m);
    vs_vec3 on_beam = vs_vec3_along(off, w, t);
    double s = fmin(fmax(vs_vec3_dot(on_beam, d), segment->from_m), segment->to_m);
    t = fmin(fmax(b * s - vs_vec3_dot(off, w), 0), beam->length_m); /* of the segment's end */
    vs_vec3 between = vs_vec3_along(vs_vec3_along(off, w, t), d, -s);
    meeting m = {s, t, vs_vec3_dot(between, between), 0, 0};
    return m;
}

/* Eight places beside a beam, on the ray or one on a surface: where on the beam the foot is, how far
 * off, softened; the component of the line from the foot along the ray or the normal. */
typedef struct {
    float foot_m[LANES], apart_m[LANES], across_m[LANES];
    float low[LANES], high[LANES]; /* q of the beam's ends */
    float along;                   /* the same component of the beam's direction */
} beside;

/* at_m  of the places, from `from` on along the ray; 0 on a surface */
LANES_INLINE void look_at_beam(const beam_segment *beam, vs_vec3 from, vs_vec3 toward,
                               const float *at_m, double soft2, double gather, beside *b) {
    vs_vec3 w = beam->direction, off = vs_vec3_sub(from, beam->from_m);
    double foot0 = vs_vec3_dot(off, w), along = vs_vec3_dot(toward, w);
    vs_vec3 side = vs_vec3_along(off, w, -foot0), turn = vs_vec3_along(toward, w, -along);
    const float sx = (float)side.x, sy = (float)side.y, sz = (float)side.z;
    const float tx = (float)turn.x, ty = (float)turn.y, tz = (float)turn.z;
    const float dx = (float)toward.x, dy = (float)toward.y, dz = (float)toward.z;
    const float foot = (float)foot0, length = (float)beam->length_m, soft = (float)soft2;
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

/* A node along the beam for each of eight places. */
typedef struct {
    float at_m[LANES], path_m[LANES];
    float per_m2[LANES]; /* what the node stands for over the square of the path */
    float turned[LANES]; /* cosine of the angle by which light turns on the beam */
    float cosine
        [LANES]; /* of that between the direction on to the place and the ray or normal, reversed */
} beam_node;

/* Nodes on a beam, eight at a time; lanes are places, in turn, each with its own nodes.
 *     places  8, 4 or 1   nodes  along the beam from each   counts  of each place */
LANES_INLINE void place_nodes(const beside *b, double gather, int places, int nodes,
                              const float *counts, beam_node *node) {
    const vs_legendre_rule *rule = &vs_legendre_rules[nodes];
    const float by = (float)gather;
    float place[LANES], weight[LANES];
    for (int first = 0; first < nodes; first += LANES / places) {
        beam_node *n = node++;
        for (int l = 0; l < LANES; l++) {
            place[l] = (float)rule->node[first + l / places];
            weight[l] = (float)rule->weight[first + l / places];
        }
        EACH_LANE(l) {
            float half = 0.5f * (b->high[l] - b->low[l]), apart = b->apart_m[l];
            near_place p = near_place_at(b->low[l] + half * (place[l] + 1), by);
            float scale = 0.5f * apart / p.up_down, per = 1 / (apart * p.whole);
            n->at_m[l] = b->foot_m[l] - scale * p.less;
            n->path_m[l] = scale * p.whole; /* a thin beam's light is as far off as it is soft */
            n->per_m2[l] = 4 * by * half * weight[l] * counts[l] * per;
            n->turned[l] = p.less * apart * per;
            n->cosine[l] = -(2 * b->across_m[l] * p.up_down * per + n->turned[l] * b->along);
        }
    }
}

/* A line on a blocker's axes: normal, u, v. */
typedef struct {
    float from[3], direction[3];
} line_before;

static line_before line_before_of(const vs_rect *r, vs_vec3 from_m, vs_vec3 direction) {
    const vs_vec3 axis[3] = {r->normal, r->u, r->v}, off = vs_vec3_sub(from_m, r->center_m);
    line_before line;
    for (int k = 0; k < 3; k++) {
        line.from[k] = (float)vs_vec3_dot(off, axis[k]);
        line.direction[k] = (float)vs_vec3_dot(direction, axis[k]);
    }
    return line;
}

/* Whether two lines are on one side of a rectangle's plane: it hides nothing of one from the other. */
static bool on_one_side(const vs_rect *r, vs_vec3 a_m, vs_vec3 a_to_m, vs_vec3 b_m,
                        vs_vec3 b_to_m) {
    double plane = vs_vec3_dot(r->center_m, r->normal), a = vs_vec3_dot(a_m, r->normal) - plane;
    double side = a < 0 ? -1 : 1;
    return side * (vs_vec3_dot(a_to_m, r->normal) - plane) >= 0 &&
           side * (vs_vec3_dot(b_m, r->normal) - plane) >= 0 &&
           side * (vs_vec3_dot(b_to_m, r->normal) - plane) >= 0;
}

static float farthest(const float *at_m) {
    float far = 0;
    EACH_LANE(l) {
        far = single_max(far, at_m[l]);
    }
    return far;
}

/* What blockers let through from nodes to their places. */
LANES_INLINE void past_beam_blockers(const vs_space *space, const beam_segment *beam, vs_vec3 from,
                                     vs_vec3 toward, const float *at_m, beam_node *node,
                                     int count) {
    const float skin = (float)VS_SPACE_SKIN_M;
    const vs_vec3 beam_to = vs_vec3_along(beam->from_m, beam->direction, beam->length_m);
    const vs_vec3 ray_to = vs_vec3_along(from, toward, (double)farthest(at_m));
    for (size_t i = 0; i < space->blocker_count; i++) {
        const vs_rect *r = &space->blocker[i].rect;
        if (on_one_side(r, beam->from_m, beam_to, from, ray_to)) {
            continue;
        }
        const line_before on = line_before_of(r, beam->from_m, beam->direction);
        const line_before to = line_before_of(r, from, toward);
        const float half_u = (float)r->half_u_m, half_v = (float)r->half_v_m;
        const float passed = (float)space->blocker[i].transmittance;
        for (beam_node *n = node; n < node + count; n++) {
            EACH_LANE(l) {
                float t = n->at_m[l], s = at_m[l], here = on.from[0] + t * on.direction[0];
                float there = to.from[0] + s * to.direction[0];
                float share = here / (here == there ? SINGLE_TINY : here - there);
                float u = on.from[1] + t * on.direction[1], v = on.from[2] + t * on.direction[2];
                u += share * (to.from[1] + s * to.direction[1] - u);
                v += share * (to.from[2] + s * to.direction[2] - v);
                here = here < 0 ? -here : here; /* off its skin, on either side of it */
                float in = here > skin ? share : 0;
                in = (1 - share) * here > share * skin ? in : 0;
                in = (u < 0 ? -u : u) <= half_u ? in : 0;
                in = (v < 0 ? -v : v) <= half_v ? in : 0;
                n->per_m2[l] *= in > 0 ? passed : 1;
            }
        }
    }
}

/* ---- samples ---- */

/* Eight samples being summed over thin beams: of worths, and of lengths by the worths' size. The
 * thin beams of one beam are so alike that their mean lengths will do, of the nearer half of the
 * nodes and of the others. Worths may be negative, as a phase function cut off at an order may be.
 */
typedef struct {
    float worth[VS_BAND_COUNT][LANES], by[LANES];
    float plain[LANES], narrow[LANES], wide[LANES];
} eight_sums;

/* Of thin beams near a line, of others; the first of each of halves of their nodes. */
typedef struct {
    eight_sums near[2], far[2];
} beam_sums;

/* Keeps the sums, if they are worth anything. */
static vs_status keep_sums(const eight_sums *sums, size_t segment, vs_gather_light *light) {
    float by = single_sum(sums->by);
    vs_gather_samples *eight = by > 0 ? vs_gather_add_samples(&light->samples, segment, 1) : NULL;
    if (!eight) {
        return by > 0 ? VS_ERR_MEMORY : VS_OK;
    }
    for (int l = 0; l < LANES; l++) {
        float per = 1 / (sums->by[l] + SINGLE_TINY);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            eight->worth[band][l] = sums->worth[band][l];
        }
        eight->plain_m[l] = per * sums->plain[l];
        eight->narrow_m[l] = per * sums->narrow[l];
        eight->wide_m[l] = per * sums->wide[l];
    }
    return VS_OK;
}

/* What a thin beam's light is scattered into by an angle on the beam, vs_split_phase_per_sr in
 * lanes: its series in powers of the cosine, to VS_SPLIT_ORDER_MAX. */
LANES_INLINE void turned_per_sr(const vs_split_phase *split, const float *cosine,
                                float per_sr[VS_BAND_COUNT][LANES]) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        const float *p = split->power[band];
        EACH_LANE(l) {
            float c = cosine[l], high = ((p[7] * c + p[6]) * c + p[5]) * c + p[4];
            per_sr[band][l] = (((high * c + p[3]) * c + p[2]) * c + p[1]) * c + p[0];
        }
    }
}

/* Adds what a beam's light scattered at nodes on it is worth to places of a ray, or one on a
 * surface.
 *     here_m  the beam's way to its start in the room */
LANES_INLINE void add_nodes(const vs_scattering *s, const beam_node *node, bool place,
                            const float *at_m, float here_m, eight_sums *to) {
    float once[VS_BAND_COUNT][LANES], twice[VS_BAND_COUNT][LANES];
    turned_per_sr(&s->narrow, node->turned, once);
    if (place) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            EACH_LANE(l) {
                twice[band][l] = single_max(0, node->cosine[l]);
            }
        }
    } else {
        lanes_phases(s->per_sr[0], node->cosine, twice);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            once[band][l] *= twice[band][l] * node->per_m2[l];
            to->worth[band][l] += once[band][l];
        }
    }
    EACH_LANE(l) {
        float by = once[VS_BAND_GREEN][l];
        by = by < 0 ? -by : by;
        to->by[l] += by;
        to->plain[l] += by * at_m[l];
        to->narrow[l] += by * (here_m + node->at_m[l]);
        to->wide[l] += by * node->path_m[l];
    }
}

/* From places down a line, or one on a surface.
 *     counts  of each   sums  of the nearer half of the nodes, of the others */
LANES_INLINE void see_from_places(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                                  const beam_segment *beam, vs_vec3 from, double soft2, int places,
                                  int nodes, const float *at_m, const float *counts,
                                  eight_sums sums[2]) {
    const int count = nodes * places / LANES;
    beam_node node[NEAR_NODES];
    beside b;
    memset(node, 0, (size_t)count * sizeof *node);
    look_at_beam(beam, from, g->toward, at_m, soft2, s->gather, &b);
    place_nodes(&b, s->gather, places, nodes, counts, node);
    past_beam_blockers(space, beam, from, g->toward, at_m, node, count);
    for (int i = 0; i < count; i++) {
        add_nodes(s, &node[i], g->place, at_m, (float)beam->here_m, &sums[2 * i >= count]);
    }
}

/* A share of a beam, from places of a ray beside it. */
LANES_INLINE void see_from_ray(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                               const vs_gather_segment *segment, const beam_segment *beam,
                               const meeting *m, int places, int nodes, double share,
                               eight_sums sums[2]) {
    float counts[LANES];
    near_nodes n;
    near_place_nodes(segment, m->ray_m, m->apart_m, s->gather, places, &n);
    EACH_LANE(l) {
        counts[l] = n.step_m[l] * (float)(share * beam->lumens * segment->open);
    }
    see_from_places(g, space, s, beam, vs_vec3_along(g->at_m, g->toward, segment->from_m), m->soft2,
                    places, nodes, n.at_m, counts, sums);
}

LANES_CLONES static void see_beam(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                                  const vs_tracing *walks, const vs_gather_segment *segment,
                                  const beam_segment *beam, beam_sums *sums) {
    meeting m = nearest(g, segment, beam);
    m.soft2 = soft_m2(walks, beam->out_m + m.beam_m);
    m.apart_m = sqrt(m.apart2 + m.soft2);
    if (g->place) {
        const float at_m[LANES] = {0};
        float counts[LANES];
        EACH_LANE(l) {
            counts[l] = (float)beam->lumens;
        }
        see_from_places(g, space, s, beam, g->at_m, m.soft2, 1, LANES, at_m, counts, sums->near);
        return;
    }
    double past = m.apart_m / (NEAR * (segment->to_m - segment->from_m)) - 1;
    double far = (double)smooth_share((float)(past / BETWEEN));
    if (far < 1) {
        see_from_ray(g, space, s, segment, beam, &m, NEAR_PLACES, NEAR_NODES, 1 - far, sums->near);
    }
    if (far > 0) {
        see_from_ray(g, space, s, segment, beam, &m, FAR_PLACES, FAR_NODES, far, sums->far);
    }
}

/* ---- an emitter's beams ---- */

/* The mean path of an emitter's beams in other rooms before they come to that of a segment. */
static void find_path_before(const vs_tracing *walks, size_t room, size_t rooms, float *before_m) {
    double whole = 0;
    for (size_t i = 0; i < walks->thin_count; i++) {
        const vs_thin_beam *thin = &walks->thin[i];
        const vs_beam_segment *first = &walks->segment[thin->segment_first];
        for (size_t n = 0; n < thin->segment_count; n++) {
            double lumens = first[n].room == room ? beam_segment_of(walks, thin, n).lumens : 0;
            for (size_t k = 0; k < n && lumens > 0; k++) {
                before_m[first[k].room] +=
                    first[k].room == room ? 0 : (float)(lumens * (double)first[k].length_m);
            }
            whole += lumens;
        }
    }
    for (size_t r = 0; r < rooms && whole > 0; r++) {
        before_m[r] /= (float)whole;
    }
}

/* The n-th segments of an emitter's thin beams, where they are in the room of a segment. */
static vs_status see_beams_on_segment(const vs_gather *g, const vs_space *space,
                                      const vs_scattering *s, const vs_tracing *walks, size_t p,
                                      size_t n, vs_gather_light *light) {
    const vs_gather_segment *segment = &g->segment[p];
    beam_sums sums;
    memset(&sums, 0, sizeof sums);
    for (size_t i = 0; i < walks->thin_count; i++) {
        const vs_thin_beam *thin = &walks->thin[i];
        if (n >= thin->segment_count ||
            walks->segment[thin->segment_first + n].room != segment->room) {
            continue;
        }
        beam_segment beam = beam_segment_of(walks, thin, n);
        see_beam(g, space, s, walks, segment, &beam, &sums);
    }
    vs_status status = VS_OK;
    for (int half = 0; half < 2 && status == VS_OK; half++) {
        status = keep_sums(&sums.near[half], p, light);
        status = status == VS_OK ? keep_sums(&sums.far[half], p, light) : status;
    }
    return status;
}

/* ---- light scattered once, onto a surface ---- */

/* A beam from an emitter as far as it goes in its room: behind a net a share of it. */
static void see_ray_on_surface(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                               const vs_tracing *walks, beam_segment beam, beam_sums *sums) {
    for (double open = 1; beam.lumens > 0; beam.lumens *= open) {
        vs_ray_event end = vs_ray_next_event(space, beam.from_m, beam.direction, beam.room);
        beam.length_m = end.length_m;
        see_beam(g, space, s, walks, &g->segment[0], &beam, sums);
        bool net = end.end == VS_RAY_MEETS_BLOCKER;
        open = net ? space->blocker[end.index].transmittance : 0;
        beam.from_m = vs_vec3_along(beam.from_m, beam.direction, end.length_m);
        beam.here_m += end.length_m;
    }
}

/* One of the beams about the straight line from a lamp to a surface: rings at angles whose
 * tan(angle/2) = gather (1 + x)/(1 - x), closest where light is scattered forward. */
static beam_segment beam_about(const vs_gather *g, const vs_emitter *e, double gather, size_t n) {
    const vs_legendre_rule *rule = &vs_legendre_rules[RINGS];
    size_t ring = n / RING;
    double x = rule->node[ring], tangent = gather * (1 + x) / (1 - x), square = tangent * tangent;
    double per_x =
        16 * VS_PI * gather * tangent / ((1 - x) * (1 - x) * (1 + square) * (1 + square));
    double turn = (double)(n % RING) / RING + TURN * (double)ring;
    vs_vec3 axis = vs_vec3_unit(vs_vec3_sub(g->at_m, e->at_m));
    vs_vec3 direction = vs_vec3_tilted(axis, (1 - square) / (1 + square), 2 * VS_PI * turn);
    beam_segment beam = {.from_m = e->at_m,
                         .direction = direction,
                         .lumens = vs_emitter_relative_candela(e, direction) * rule->weight[ring] *
                                   per_x / RING,
                         .room = e->room};
    return beam;
}

/* What a lamp's light scattered once in its room is worth on a surface there. */
static vs_status see_once_on_surface(const vs_gather *g, const vs_space *space,
                                     const vs_scattering *s, const vs_traced *traced,
                                     vs_gather_light *light) {
    beam_sums sums;
    memset(&sums, 0, sizeof sums);
    for (size_t n = 0; n < (size_t)RINGS * RING; n++) {
        beam_segment beam = beam_about(g, &traced->emitter, s->gather, n);
        see_ray_on_surface(g, space, s, &traced->walks, beam, &sums);
    }
    return keep_sums(&sums.near[0], 0, light);
}

static size_t most_segments(const vs_tracing *walks) {
    size_t most = 0;
    for (size_t i = 0; i < walks->thin_count; i++) {
        most = walks->thin[i].segment_count > most ? walks->thin[i].segment_count : most;
    }
    return most;
}

vs_status vs_beams_seen(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                        const vs_traced *traced, vs_gather_light *light) {
    const vs_tracing *walks = &traced->walks;
    bool here = g->on_surface && traced->emitter.kind == VS_EMITTER_POINT &&
                traced->emitter.room == g->segment[0].room;
    light->once = walks->narrow || here;
    if (walks->thin_count == 0 && !here) {
        return VS_OK;
    }
    size_t rooms = space->room_count, size = g->segment_count * rooms + 1;
    size_t most = most_segments(walks);
    if (size > light->before_size) {
        float *before_m = realloc(light->before_m, size * sizeof *before_m);
        if (!before_m) {
            return VS_ERR_MEMORY;
        }
        light->before_m = before_m;
        light->before_size = size;
    }
    memset(light->before_m, 0, size * sizeof *light->before_m);
    vs_status status =
        walks->thin_count == 0 ? see_once_on_surface(g, space, s, traced, light) : VS_OK;
    for (size_t p = 0; p < g->segment_count && status == VS_OK; p++) {
        find_path_before(walks, g->segment[p].room, rooms, light->before_m + p * rooms);
        for (size_t n = 0; n < most && status == VS_OK; n++) {
            status = see_beams_on_segment(g, space, s, walks, p, n, light);
        }
    }
    return status;
}

/* ---- forward scattering ---- */

/* How much light comes from an emitter to eight places on a segment, scattered once there, and how
 * far. */
LANES_CLONES static void see_straight(const vs_gather *g, const vs_space *space,
                                      const vs_scattering *s, const vs_traced *traced,
                                      const vs_gather_segment *segment, vs_gather_samples *eight) {
    bool parallel = traced->emitter.kind == VS_EMITTER_PARALLEL;
    vs_vec3 middle_m = vs_emitter_middle(&traced->emitter);
    vs_vec3 to_lamp = vs_vec3_sub(middle_m, g->at_m);
    double length_m = segment->to_m - segment->from_m;
    double foot_m = parallel ? segment->from_m + length_m / 2 : vs_vec3_dot(to_lamp, g->toward);
    double across2 =
        parallel ? length_m * length_m : fmax(0, vs_vec3_dot(to_lamp, to_lamp) - foot_m * foot_m);
    float cosine[LANES], *path_m = traced->walks.narrow ? eight->narrow_m : eight->wide_m;
    near_nodes n;
    near_place_nodes(segment, foot_m, sqrt(across2 + NEAREST_M2), s->gather, LANES, &n);
    for (int l = 0; l < LANES; l++) {
        vs_vec3 p_m = vs_vec3_along(g->at_m, g->toward, segment->from_m + (double)n.at_m[l]);
        vs_vec3 from_m =
            parallel ? vs_shaft_parallel_origin(space, &traced->emitter, p_m) : middle_m;
        vs_vec3 w = vs_vec3_sub(p_m, from_m);
        double from_lamp_m = sqrt(vs_vec3_dot(w, w) + NEAREST_M2);
        cosine[l] = (float)(-vs_vec3_dot(w, g->toward) / from_lamp_m);
        path_m[l] = (float)from_lamp_m;
        eight->plain_m[l] = n.at_m[l];
    }
    lanes_phases(s->per_sr[0], cosine, eight->worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            eight->worth[band][l] *=
                n.step_m[l] * (float)segment->open / (parallel ? 1 : path_m[l] * path_m[l]);
        }
    }
}

vs_status vs_straight_on_seen(const vs_gather *g, const vs_space *space, const vs_scattering *s,
                              const vs_traced *traced, vs_gather_light *light) {
    for (size_t p = 0; p < g->segment_count; p++) {
        if (!traced->walks.lit_room[g->segment[p].room]) {
            continue;
        }
        vs_gather_samples *eight = vs_gather_add_samples(&light->samples, p, 1);
        if (!eight) {
            return VS_ERR_MEMORY;
        }
        see_straight(g, space, s, traced, &g->segment[p], eight);
    }
    return VS_OK;
}
