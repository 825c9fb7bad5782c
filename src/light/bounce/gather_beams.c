/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A narrow beam is split into a few thin ones, each with nodes along it for each place that sees it
 * (Novak, Nowrouzezahrai, Dachsbacher & Jarosz 2012, ACM Trans. Graph. 31, 60: beams as lines). */
#include "light/bounce/gather_lights.h"

#include <math.h>
#include <string.h>

#include "light/bounce/near_nodes.h"
#include "light/bounce/past_blockers.h"
#include "light/geometry/ray_casting.h"
#include "light/lamps/light_sampling.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

#define SOFT_SHARE (1 / (5 * VS_PI)) /* [1] of a thin beam's cross-section */
#define LEAST_M2   1e-8              /* [m2] where a beam begins in a point; our choice */
#define NEAREST_M2 1e-4              /* [m2] of a line to an emitter; our choice */
/* A lattice of pairs of places, on a line and on a thin beam, eight for each of an emitter's beams
 * (Korobov's form of good lattice points: Sloan & Joe 1994, Lattice Methods for Multiple
 * Integration); 99/160 is the golden section; measured: docs/accuracy.md. */
#define LATTICE   160
#define GENERATOR 99

/* Beams from a lamp about a surface that its scattered light falls on; measured. */
#define RINGS 4
#define RING  8         /* beams a ring */
#define TURN  0.0381966 /* [1] of a full turn from ring to ring: they do not line up */

/* ---- thin beams ---- */

/* A straight part of a thin beam, and what light comes to it. */
typedef struct {
    vs_vec3 from_m, direction;
    double length_m, out_m; /* out: from the emitter to its start */
    double here_m;          /* of that, in the room that it is in */
    double lumens;          /* at its start, in clear air */
} beam_segment;

/* Who looks at beams in a room. */
typedef struct {
    const vs_gather *g;
    const vs_gather_segment *segment;
    const vs_tracing *walks; /* whose beams */
} looker;

/* Square of the distance within which a thin beam is no line: a share of its radius. Light beside
 * it grows as the inverse of the distance, which is finite in the mean over the radius. */
static double soft_m2(const vs_tracing *walks, double out_m) {
    return SOFT_SHARE * (walks->beam_start_m2 + walks->beam_spread_sr * out_m * out_m) + LEAST_M2;
}

/* Where a camera ray passes a beam: how far down the ray, how far apart, and what the square of that
 * is softened by. */
typedef struct {
    double ray_m, soft2, apart_m;
} meeting;

static meeting nearest(const looker *k, const beam_segment *beam) {
    const vs_gather_segment *segment = k->segment;
    vs_vec3 d = k->g->toward, w = beam->direction, off = vs_vec3_sub(beam->from_m, k->g->at_m);
    double b = vs_vec3_dot(d, w), down = fmax(1 - b * b, 1e-6);
    double t = (b * vs_vec3_dot(off, d) - vs_vec3_dot(off, w)) / down;
    t = fmin(fmax(t, 0), beam->length_m);
    vs_vec3 on_beam = vs_vec3_along(off, w, t);
    double s = fmin(fmax(vs_vec3_dot(on_beam, d), segment->from_m), segment->to_m);
    t = fmin(fmax(b * s - vs_vec3_dot(off, w), 0), beam->length_m); /* of the segment's end */
    vs_vec3 between = vs_vec3_along(vs_vec3_along(off, w, t), d, -s);
    double soft2 = soft_m2(k->walks, beam->out_m + t);
    meeting m = {s, soft2, sqrt(vs_vec3_dot(between, between) + soft2)};
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

/* A node along the beam for each of eight places, and the path from it to the place. */
typedef struct {
    float at_m[LANES], path_m[LANES];
    float per_m2[LANES]; /* what the node stands for over the square of the path */
    float turned[LANES]; /* cosine of the angle by which light turns on the beam */
    float cosine[LANES]; /* of that between the path and the ray or normal, reversed */
} beam_node;

/* A node on a beam for each place.
 *     at  on the beam, -1 to 1   counts  of each */
LANES_INLINE void place_nodes(const beside *b, double gather, const float *at, const float *counts,
                              beam_node *n) {
    const float by = (float)gather;
    EACH_LANE(l) {
        float half = 0.5f * (b->high[l] - b->low[l]), apart = b->apart_m[l];
        near_place p = near_place_at(b->low[l] + half * (at[l] + 1), by);
        float scale = 0.5f * apart / p.up_down, per = 1 / (apart * p.whole);
        n->at_m[l] = b->foot_m[l] - scale * p.less;
        n->path_m[l] = scale * p.whole; /* a thin beam's light is as far off as it is soft */
        n->per_m2[l] = 4 * by * half * counts[l] * per;
        n->turned[l] = p.less * apart * per;
        n->cosine[l] = -(2 * b->across_m[l] * p.up_down * per + n->turned[l] * b->along);
    }
}

/* What a blocker lets through from nodes to their places on the line, `line_m` from its start. */
LANES_INLINE void past_one(const vs_gather_blocker *b, const beam_segment *beam, vs_vec3 off,
                           const float *line_m, beam_node *n) {
    const float x = (float)off.x, y = (float)off.y, z = (float)off.z;
    const float wx = (float)beam->direction.x, wy = (float)beam->direction.y;
    const float wz = (float)beam->direction.z, length = (float)beam->length_m;
    float at[3][LANES];
    for (int a = 2; a >= 0; a--) {
        const float *axis = b->axis[a];
        float along = wx * axis[0] + wy * axis[1] + wz * axis[2];
        float from = b->start[a] + x * axis[0] + y * axis[1] + z * axis[2];
        float to = from + length * along;
        if (all_beside(b, a, single_min(from, to), single_max(from, to))) {
            return;
        }
        EACH_LANE(l) {
            at[a][l] = from + n->at_m[l] * along;
        }
    }
    past_blocker(b, at, line_m, n->per_m2);
}

LANES_INLINE void past_blockers(const looker *k, const beam_segment *beam, const float *line_m,
                                beam_node *n) {
    const vs_vec3 off = vs_vec3_sub(beam->from_m, k->g->at_m);
    for (size_t i = k->segment->blocker_first; i < k->segment->blocker_end; i++) {
        past_one(&k->g->blocker.item[i], beam, off, line_m, n);
    }
}

/* ---- samples ---- */

/* Eight samples being summed over thin beams: of worths, and of lengths by the worths' size. The
 * thin beams of one beam are so alike that their mean lengths will do. Worths may be negative, as a
 * phase function cut off at an order may be. */
typedef struct {
    float worth[VS_BAND_COUNT][LANES], by[LANES];
    float plain[LANES], narrow[LANES], wide[LANES];
} eight_sums;

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

/* Eight pairs of places, -1 to 1: one in each eighth of a line and of a thin beam. They differ from
 * beam to beam, so that an emitter's beams make up one fine rule, although each has few pairs. */
LANES_INLINE void pair_places(size_t beam, float *on_line, float *on_beam) {
    const float first = (float)(2 * beam + 1), apart = 2.0f * LATTICE / LANES;
    EACH_LANE(l) {
        float twice = first + apart * (float)l, turned = twice * GENERATOR / (2.0f * LATTICE);
        on_line[l] = twice / LATTICE - 1;
        on_beam[l] = 2 * (turned - (float)(int)turned) - 1;
    }
}

/* Eight pairs of places: on a ray, and on a thin beam.
 *     number  of the beam   counts  out: of each   at_m  out: from the segment's start */
LANES_INLINE void pairs_on_ray(const looker *k, const meeting *m, size_t number, float *on_beam,
                               float *counts, float *at_m) {
    float on_line[LANES], even[LANES];
    near_nodes n;
    pair_places(number, on_line, on_beam);
    EACH_LANE(l) {
        even[l] = 2.0f / LANES;
    }
    near_place_nodes(k->segment, m->ray_m, m->apart_m, k->g->scattering->gather, on_line, even, &n);
    EACH_LANE(l) {
        counts[l] = n.step_m[l];
        at_m[l] = n.at_m[l];
    }
}

/* A thin beam from eight places on a ray, or from one on a surface.
 *     number  of the beam */
LANES_CLONES static void see_beam(const looker *k, const beam_segment *beam, size_t number,
                                  eight_sums *sums) {
    const bool place = k->g->place;
    const float first = (float)k->segment->from_m;
    const float each = (float)((place ? 1 : 2) * beam->lumens * k->segment->open);
    float on_beam[LANES], counts[LANES], at_m[LANES] = {0}, line_m[LANES];
    meeting m = nearest(k, beam);
    beside b;
    beam_node node;
    if (place) {
        eight_gauss(on_beam, counts);
    } else {
        pairs_on_ray(k, &m, number, on_beam, counts, at_m);
    }
    EACH_LANE(l) {
        counts[l] *= each;
        line_m[l] = first + at_m[l];
    }
    look_at_beam(beam, k->g->at_m, k->g->toward, line_m, m.soft2, k->g->scattering->gather, &b);
    place_nodes(&b, k->g->scattering->gather, on_beam, counts, &node);
    past_blockers(k, beam, line_m, &node);
    add_nodes(k->g->scattering, &node, place, at_m, (float)beam->here_m, sums);
}

/* ---- an emitter's beams ---- */

/* A thin beam where it is in the room.
 *     before_m  in each other room: its way there, by its lumens, is added  whole  to these, too */
static void see_thin_beam(const looker *k, size_t number, eight_sums *sums, float *before_m,
                          double *whole) {
    const vs_thin_beam *thin = &k->walks->thin[number];
    const vs_beam_segment *first = &k->walks->segment[thin->segment_first];
    const size_t room = k->segment->room;
    beam_segment beam = {.lumens = thin->lumens};
    for (size_t n = 0; n < thin->segment_count && beam.lumens > 0; n++) {
        const vs_beam_segment *at = &first[n];
        double length_m = (double)at->length_m;
        if (at->room == room) {
            beam.from_m = vs_beam_segment_from(at);
            beam.direction = vs_beam_segment_direction(at);
            beam.length_m = length_m;
            see_beam(k, &beam, number, sums);
            for (size_t i = 0; i < n; i++) {
                before_m[first[i].room] +=
                    first[i].room == room ? 0 : (float)(beam.lumens * (double)first[i].length_m);
            }
            *whole += beam.lumens;
            beam.here_m += length_m;
        }
        beam.out_m += length_m;
        beam.lumens *= (double)at->onward;
    }
}

/* All of an emitter's thin beams.  before_m  out: their mean path in other rooms */
static vs_status see_thin_beams(const looker *k, vs_gather_light *light, float *before_m) {
    eight_sums sums;
    double whole = 0;
    memset(&sums, 0, sizeof sums);
    for (size_t i = 0; i < k->walks->thin_count; i++) {
        see_thin_beam(k, i, &sums, before_m, &whole);
    }
    for (size_t r = 0; r < k->g->mesh->space->room_count && whole > 0; r++) {
        before_m[r] /= (float)whole;
    }
    return keep_sums(&sums, (size_t)(k->segment - k->g->segment.item), light);
}

/* ---- light scattered once, onto a surface ---- */

/* A beam from an emitter as far as it goes in its room: behind a net a share of it. */
static void see_ray_on_surface(const looker *k, size_t room, beam_segment beam, eight_sums *sums) {
    const vs_space *space = k->g->mesh->space;
    for (double open = 1; beam.lumens > 0; beam.lumens *= open) {
        vs_ray_event end = vs_ray_next_event(space, beam.from_m, beam.direction, room);
        beam.length_m = end.length_m;
        see_beam(k, &beam, 0, sums);
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
                                   per_x / RING};
    return beam;
}

/* What a lamp's light scattered once in its room is worth on a surface there. */
static vs_status see_once_on_surface(const looker *k, const vs_emitter *e, vs_gather_light *light) {
    eight_sums sums;
    memset(&sums, 0, sizeof sums);
    for (size_t n = 0; n < (size_t)RINGS * RING; n++) {
        see_ray_on_surface(k, e->room, beam_about(k->g, e, k->g->scattering->gather, n), &sums);
    }
    return keep_sums(&sums, 0, light);
}

vs_status vs_beams_seen(const vs_gather *g, const vs_traced *traced, vs_gather_light *light) {
    const vs_tracing *walks = &traced->walks;
    looker k = {g, g->segment.item, walks};
    bool here = g->on_surface && traced->emitter.kind == VS_EMITTER_POINT &&
                traced->emitter.room == g->segment.item[0].room;
    light->once = walks->narrow || here;
    if (walks->thin_count == 0 && !here) {
        return VS_OK;
    }
    size_t rooms = g->mesh->space->room_count, size = g->segment.count * rooms + 1;
    light->before_m.count = 0;
    float *before_m = vs_list_add_many(VS_ANY_LIST(&light->before_m), size);
    if (!before_m) {
        return VS_ERR_MEMORY;
    }
    memset(before_m, 0, size * sizeof *before_m);
    if (walks->thin_count == 0) {
        return see_once_on_surface(&k, &traced->emitter, light);
    }
    vs_status status = VS_OK;
    for (size_t p = 0; p < g->segment.count && status == VS_OK; p++) {
        k.segment = &g->segment.item[p];
        status = see_thin_beams(&k, light, before_m + p * rooms);
    }
    return status;
}

/* ---- forward scattering ---- */

/* How much light comes from an emitter to eight places on a segment, scattered once there, and how
 * far. */
LANES_CLONES static void see_straight(const vs_gather *g, const vs_traced *traced,
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
    float at[LANES], weight[LANES];
    eight_gauss(at, weight);
    near_place_nodes(segment, foot_m, sqrt(across2 + NEAREST_M2), g->scattering->gather, at, weight,
                     &n);
    for (int l = 0; l < LANES; l++) {
        vs_vec3 p_m = vs_vec3_along(g->at_m, g->toward, segment->from_m + (double)n.at_m[l]);
        vs_vec3 from_m =
            parallel ? vs_shaft_parallel_origin(g->mesh->space, &traced->emitter, p_m) : middle_m;
        vs_vec3 w = vs_vec3_sub(p_m, from_m);
        double from_lamp_m = sqrt(vs_vec3_dot(w, w) + NEAREST_M2);
        cosine[l] = (float)(-vs_vec3_dot(w, g->toward) / from_lamp_m);
        path_m[l] = (float)from_lamp_m;
        eight->plain_m[l] = n.at_m[l];
    }
    lanes_phases(g->scattering->per_sr[0], cosine, eight->worth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        EACH_LANE(l) {
            eight->worth[band][l] *=
                n.step_m[l] * (float)segment->open / (parallel ? 1 : path_m[l] * path_m[l]);
        }
    }
}

vs_status vs_straight_on_seen(const vs_gather *g, const vs_traced *traced, vs_gather_light *light) {
    for (size_t p = 0; p < g->segment.count; p++) {
        if (!traced->walks.lit_room[g->segment.item[p].room]) {
            continue;
        }
        vs_gather_samples *eight = vs_gather_add_samples(&light->samples, p, 1);
        if (!eight) {
            return VS_ERR_MEMORY;
        }
        see_straight(g, traced, &g->segment.item[p], eight);
    }
    return VS_OK;
}
