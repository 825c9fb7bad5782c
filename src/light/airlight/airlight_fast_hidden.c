/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Partly hidden surfaces: at each node along the line, exactly their visible parts. Breaks are
 * where the line enters or leaves the light of the surface's corners. */
#include "light/airlight/airlight_fast_hidden.h"

#include <math.h>

#include "base/numerics/legendre_rules.h"
#include "base/sorted.h"
#include "light/airlight/airlight_fast_surface.h"
#include "light/geometry/quads.h"
#include "light/geometry/visible_polygon.h"
#include "veilstop/light/shaft.h"

#define CUTS_MAX     (VS_FAST_PARTS_MAX - 1) /* ends of intervals of one segment */
#define PAIRED_MAX   8    /* of openings and blockers: more are not held against one another */
#define FEW          4    /* blockers not worth sorting interval by interval; our choice */
#define BETWEEN_MAX  32   /* blockers between an interval and the surface; if more, all are taken */
#define ORDER        5    /* nodes along each interval */
#define NARROW       0.03 /* [1] in t: an interval narrower than this takes fewer, */
#define NARROW_ORDER 3    /* for among many blockers most are; our choice */
#define TAIL_MAX     0.01 /* [1] of the integral in the highest terms: nodes are enough */
#define SPLIT_SIZE   0.85 /* [1] a part longer than this share of its distance is split */
#define SPLIT_ANGLE  1.0  /* [1] the same as a share of its angle from forward scattering */
#define SPLIT_PEAK   2.8  /* [1] but not below this many forward scales, the width of the peak */
#define SPLITS_MAX   10
#define ARC_MAX      0.6 /* [1] in t: a tube that subtends more is divided into several arcs */

/* One segment of a line and one emitter. */
typedef struct {
    vs_visible_polygons *seen; /* of a node */
    const vs_medium *medium;
    const vs_fast_haze *haze;
    const vs_camera_ray *ray;
    const vs_ray_segment *segment;
    const vs_emitter *emitter;
    vs_fast_line line;
    bool valid; /* the visible polygons are known at every node */
    /* light of the intervals that see all of the emitter, one a step [cd/m2] */
    vs_bands open[VS_AIRLIGHT_STEPS_MAX];
} hidden;

/* A node on the line. */
typedef struct {
    const hidden *in;
    vs_vec3 at_m;
    vs_fast_view view;    /* of the current part */
    double transmittance; /* on the path to it */
    double sum[VS_FAST_BANDS];
} node;

/* Sets one of eight places: a point of the emitter relative to the node. */
static void set_place(vs_fast_places *p, int l, vs_vec3 way_m, double size) {
    p->x_m[l] = way_m.x;
    p->y_m[l] = way_m.y;
    p->z_m[l] = way_m.z;
    p->size[l] = size;
}

static void add_places(node *n, vs_fast_places *p) {
    vs_fast_add_places(n->in->haze, &n->view, p, n->sum);
    *n->in->haze->nodes += LANES;
}

/* Radon's seven points, and an eighth lane of weight 0. */
static void add_quad(void *context, const vs_vec3 at[VS_RADON_POINTS],
                     const double area_m2[VS_RADON_POINTS]) {
    node *n = context;
    vs_fast_places p;
    for (int i = 0; i < VS_RADON_POINTS; i++) {
        set_place(&p, i, at[i], n->transmittance * area_m2[i]);
    }
    set_place(&p, VS_RADON_POINTS, at[0], 0);
    add_places(n, &p);
}

/* Whether a part is small against its distance: smaller near forward scattering, where the haze
 * peaks, and near backscattering for the glory of a table. */
static bool small_enough(const void *context, vs_vec3 middle, double longest_m, double nearest_m) {
    const node *n = context;
    const vs_fast_haze *haze = n->in->haze;
    double peak = SPLIT_PEAK * haze->forward_scale;
    if (longest_m > SPLIT_SIZE * nearest_m || longest_m <= fmin(SPLIT_SIZE, peak) * nearest_m) {
        return longest_m <= SPLIT_SIZE * nearest_m;
    }
    double along = vs_vec3_dot(middle, n->in->ray->direction);
    double across = vs_vec3_length(vs_vec3_cross(middle, n->in->ray->direction));
    double angle_rad = atan2(across, haze->table ? fabs(along) : along);
    return longest_m <= SPLIT_ANGLE * angle_rad * nearest_m;
}

/* The vector from a node to a place on the emitter. */
static vs_vec3 way_to(const node *n, double u_m, double v_m) {
    const vs_rect *r = &n->in->emitter->rect;
    vs_vec3 center_m = vs_vec3_sub(r->center_m, n->at_m);
    return vs_vec3_along(vs_vec3_along(center_m, r->u, u_m), r->v, v_m);
}

static void add_polygon(node *n, const vs_visible_polygon *polygon) {
    const vs_quad_sum quads = {small_enough, add_quad, n, SPLITS_MAX};
    vs_vec3 corner[VS_VISIBLE_CORNERS_MAX];
    for (int i = 0; i < polygon->count; i++) {
        corner[i] = way_to(n, polygon->u_m[i], polygon->v_m[i]);
    }
    n->transmittance = polygon->transmittance;
    vs_quads_add(&quads, corner, polygon->count);
}

/* An interval of a tube: eight nodes per arc, in the variable of lines about the place nearest to
 * the node. */
static void add_interval(node *n, const vs_visible_polygon *polygon) {
    const vs_rect *r = &n->in->emitter->rect;
    const vs_legendre_rule *rule = &vs_legendre_rules[LANES];
    vs_vec3 d = vs_vec3_sub(n->at_m, r->center_m);
    vs_fast_line tube = {.foot_m = vs_vec3_dot(d, r->u)};
    tube.scale_m = fmax(vs_vec3_length(vs_vec3_along(d, r->u, -tube.foot_m)), VS_SHAFT_APART_MIN_M);
    double from = vs_fast_t_of(&tube, polygon->u_m[0]), to = vs_fast_t_of(&tube, polygon->u_m[1]);
    int arcs = 1 + (int)((to - from) / ARC_MAX);
    double half = (to - from) / 2 / arcs;
    for (int arc = 0; arc < arcs; arc++) {
        vs_fast_places p;
        for (int l = 0; l < LANES; l++) {
            double t = from + half * (2 * arc + 1 + rule->node[l]);
            double size =
                polygon->transmittance * rule->weight[l] * half * vs_fast_per_t_m(&tube, t);
            set_place(&p, l, way_to(n, vs_fast_distance_m(&tube, t), 0), size);
        }
        add_places(n, &p);
    }
}

/* The haze on the path to a polygon, which changes at the openings in between. */
static void set_air(node *n, const vs_visible_polygon *polygon) {
    const vs_medium *medium = n->in->medium;
    size_t room = n->in->segment->room;
    n->view.extinction_per_m = n->in->segment->extinction_per_m;
    n->view.change_count = 0;
    for (int i = 0; i < polygon->opening_count; i++) {
        const vs_opening *opening = &medium->space->opening[polygon->opening[i]];
        room = vs_opening_beyond(opening, room);
        double beyond = room == VS_SPACE_OUTSIDE ? 0 : medium->room_extinction_per_m[room];
        double change_per_m = beyond - n->view.extinction_per_m;
        double off_m =
            vs_vec3_dot(vs_vec3_sub(opening->rect.center_m, n->at_m), opening->rect.normal);
        n->view.extinction_per_m = beyond;
        if (change_per_m != 0 && fabs(off_m) > VS_SPACE_SKIN_M) {
            n->view.normal[n->view.change_count] = opening->rect.normal;
            n->view.off_change[n->view.change_count++] = change_per_m * off_m;
        }
    }
}

/* Light that arrives at a point of the line and is scattered to the camera, per nit or per candela
 * a metre. */
static void light_at(hidden *in, const vs_space *near, double distance_m, double *sum) {
    static const vs_vec3 nowhere = {0, 0, 0};
    vs_visible_polygons *visible = in->seen;
    bool is_line = in->emitter->kind == VS_EMITTER_LINE;
    node n = {.in = in, .at_m = vs_camera_ray_point(in->ray, distance_m)};
    n.view.axis = in->emitter->axis;
    n.view.direction = in->ray->direction;
    n.view.is_line = is_line;
    in->valid = in->valid && vs_visible_polygons_from(near, &in->emitter->rect, is_line,
                                                      vs_emitter_whole_room(in->emitter), n.at_m,
                                                      in->segment->room, nowhere, visible);
    for (int i = 0; in->valid && i < visible->count; i++) {
        set_air(&n, &visible->polygon[i]);
        if (is_line) {
            add_interval(&n, &visible->polygon[i]);
        } else {
            add_polygon(&n, &visible->polygon[i]);
        }
    }
    double depth = in->line.depth + in->line.extinction_per_m * distance_m;
    for (int band = 0; band < in->haze->band_count; band++) {
        sum[band] = n.sum[band] * exp(-depth * in->haze->ratio[band]);
    }
}

/* An interval as a segment of its own. */
static vs_ray_segment segment_between(const hidden *in, double from, double to) {
    vs_ray_segment part = *in->segment;
    part.from_m = fmax(part.from_m, vs_fast_distance_m(&in->line, from));
    part.to_m = fmin(part.to_m, vs_fast_distance_m(&in->line, to));
    part.depth += part.extinction_per_m * (part.from_m - in->segment->from_m);
    return part;
}

/* The location with those blockers alone that may be between an interval and the emitter. */
static vs_space space_near(const hidden *in, double from, double to, vs_blocker *between) {
    const vs_space *space = in->medium->space;
    if (space->blocker_count <= FEW) {
        return *space;
    }
    vs_ray_segment part = segment_between(in, from, to);
    return vs_shaft_space_between(space, in->ray, &part, in->emitter, between, BETWEEN_MAX);
}

/* Integral over one interval in t. */
static void integrate_interval(void *context, double from, double to, vs_fast_block *out) {
    hidden *in = context;
    const vs_legendre_rule *rule = &vs_legendre_rules[to - from < NARROW ? NARROW_ORDER : ORDER];
    vs_fast_block block = {.tail = 0};
    double last = 0, before = 0;
    vs_blocker between[BETWEEN_MAX];
    vs_space near = space_near(in, from, to, between);
    for (int i = 0; i < rule->count && in->valid; i++) {
        double t = (from + to) / 2 + (to - from) / 2 * rule->node[i];
        double light[VS_FAST_BANDS];
        light_at(in, &near, vs_fast_distance_m(&in->line, t), light);
        double weight = rule->weight[i] * (to - from) / 2 * vs_fast_per_t_m(&in->line, t);
        for (int band = 0; band < in->haze->band_count; band++) {
            block.sum[band] += weight * light[band];
        }
        last += rule->last[i] * weight * light[in->haze->refine_band];
        before += rule->before[i] * weight * light[in->haze->refine_band];
    }
    /* if a node is not valid, halving does not help */
    block.tail = in->valid ? fabs(last) + fabs(before) : 0;
    *out = block;
}

static int add_cut(double *cut, int count, double at, double from, double to) {
    if (!(at > from && at < to) || count == CUTS_MAX) {
        return count;
    }
    vs_sorted_insert(cut, (size_t)count, at);
    return count + 1;
}

/* Where the light of the surface's corners or ends begins and ends. */
static int add_corner_cuts(const hidden *in, double from, double to, double *cut, int count) {
    vs_shaft shaft[VS_SHAFT_MAX];
    vs_vec3 corner[4];
    int corners = vs_emitter_corners(in->emitter, corner);
    for (int i = 0; i < corners; i++) {
        vs_point_source source = {corner[i], in->emitter->strength, in->emitter, VS_PROFILE_EVEN,
                                  in->emitter->axis};
        size_t lit = vs_shaft_from_point(in->medium, in->ray, in->segment, &source, shaft);
        for (size_t k = 0; k < lit; k++) {
            count = add_cut(cut, count, vs_fast_t_of(&in->line, shaft[k].from_m), from, to);
            count = add_cut(cut, count, vs_fast_t_of(&in->line, shaft[k].to_m), from, to);
        }
    }
    return count;
}

/* The things that may be in between: some openings, then the blockers. */
static const vs_rect *gate_of(const vs_space *space, size_t openings, size_t i) {
    return i < openings ? &space->opening[i].rect : &space->blocker[i - openings].rect;
}

/* Distance along the line at which c is exactly in front of a side a b of the surface, so that
 * line, c and side are in one plane; NaN: nowhere on the segment. */
static double before_side_m(const hidden *in, vs_vec3 a, vs_vec3 b, vs_vec3 c) {
    vs_vec3 side = vs_vec3_sub(b, a);
    vs_vec3 normal = vs_vec3_cross(side, vs_vec3_sub(c, a));
    double slope = vs_vec3_dot(in->ray->direction, normal);
    double at_m = vs_vec3_dot(vs_vec3_sub(a, in->ray->at_m), normal) / lane_divisor(slope);
    if (!(at_m > in->segment->from_m && at_m < in->segment->to_m)) {
        return NAN;
    }
    vs_vec3 place_m = vs_camera_ray_point(in->ray, at_m);
    vs_vec3 to_c = vs_vec3_sub(c, place_m), to_a = vs_vec3_sub(a, place_m);
    vs_vec3 across = vs_vec3_cross(side, to_c);
    double square = vs_vec3_dot(across, across);
    if (square == 0) {
        return NAN;
    }
    double share = -vs_vec3_dot(vs_vec3_cross(to_a, to_c), across) / square;
    vs_vec3 to_side = vs_vec3_along(to_a, side, share);
    double way = vs_vec3_dot(to_c, to_side);
    bool before = way > 0 && way < vs_vec3_dot(to_side, to_side);
    return share >= 0 && share <= 1 && before ? at_m : (double)NAN;
}

/* Where corners of an opening or a blocker pass in front of the sides of a surface, or of another
 * opening or blocker: visibility may begin there, between two corners that are still hidden. */
static int add_side_cuts(const hidden *in, const vs_rect *gate, const vs_rect *behind, double from,
                         double to, double *cut, int count) {
    vs_vec3 corner[4], side[4];
    vs_rect_corners(gate, corner);
    vs_rect_corners(behind, side);
    for (int i = 0; i < 4; i++) {
        for (int k = 0; k < (behind->half_v_m > 0 ? 4 : 1); k++) {
            double at_m = before_side_m(in, side[k], side[(k + 1) % 4], corner[i]);
            if (!isnan(at_m)) {
                count = add_cut(cut, count, vs_fast_t_of(&in->line, at_m), from, to);
            }
        }
    }
    return count;
}

/* Places, as t, where the visible part does not change smoothly: a corner of the surface meets a
 * side of something in between, a side of it a corner, or a side and a corner of two things in
 * between meet. */
static int find_cuts(const hidden *in, double from, double to, double *cut) {
    const vs_space *space = in->medium->space;
    bool one_room = in->segment->room == vs_emitter_whole_room(in->emitter);
    size_t openings = one_room ? 0 : space->opening_count, gates = openings + space->blocker_count;
    int count = add_corner_cuts(in, from, to, cut, 0);
    for (size_t i = 0; i < gates; i++) {
        const vs_rect *gate = gate_of(space, openings, i);
        count = add_side_cuts(in, gate, &in->emitter->rect, from, to, cut, count);
        for (size_t k = 0; k < gates && gates <= PAIRED_MAX; k++) {
            if (k != i) {
                count = add_side_cuts(in, gate, gate_of(space, openings, k), from, to, cut, count);
            }
        }
    }
    return add_cut(cut, count, 0, from, to);
}

static bool open_between(const hidden *in, double from, double to) {
    vs_ray_segment part = segment_between(in, from, to);
    return vs_shaft_open_to_surface(in->medium->space, in->ray, &part, in->emitter);
}

/* The plain integral is used where the whole emitter is seen. */
static void add_open(hidden *in, double from, double to) {
    vs_ray_segment part = segment_between(in, from, to);
    vs_fast_add_surface(in->medium, in->haze, in->ray, &part, in->emitter, in->open);
}

/* Adds the light of the intervals that see the whole emitter, joined as far as possible; the others
 * are returned as pairs of cuts. Returns their number. */
static int take_open(hidden *in, const double *cut, int count, double (*left)[2]) {
    int left_count = 0;
    for (int i = 0; i < count;) {
        int next = i + 1;
        while (next <= count && open_between(in, cut[i], cut[next])) {
            next++;
        }
        if (next > i + 1) {
            add_open(in, cut[i], cut[next - 1]);
            i = next - 1;
        } else {
            left[left_count][0] = cut[i];
            left[left_count++][1] = cut[++i];
        }
    }
    return left_count;
}

static void integrate(hidden *in, double from, double to, double *sum) {
    double cut[CUTS_MAX + 2], left[VS_FAST_PARTS_MAX][2];
    int count = find_cuts(in, from, to, cut + 1);
    cut[0] = from;
    cut[count + 1] = to;
    count = take_open(in, cut, count + 1, left);
    vs_fast_integrate_parts(integrate_interval, in, in->haze, left, count, TAIL_MAX, sum);
}

bool vs_fast_add_hidden(vs_visible_polygons *seen, const vs_medium *medium,
                        const vs_fast_haze *haze, const vs_camera_ray *ray,
                        const vs_ray_segment *segment, const vs_emitter *emitter, vs_bands *nits) {
    hidden in = {.seen = seen,
                 .medium = medium,
                 .haze = haze,
                 .ray = ray,
                 .segment = segment,
                 .emitter = emitter,
                 .valid = true};
    double from_m, to_m, sum[VS_FAST_BANDS] = {0};
    if (!vs_fast_lay_line(ray, segment, emitter, &in.line, &from_m, &to_m)) {
        return true;
    }
    integrate(&in, vs_fast_t_of(&in.line, from_m), vs_fast_t_of(&in.line, to_m), sum);
    if (in.valid) {
        double scale = segment->extinction_per_m * segment->open;
        vs_fast_add_nits(medium, haze, emitter, sum, scale, nits);
    }
    for (int step = 0; step < haze->step_count && in.valid; step++) {
        nits[step] = vs_bands_add(nits[step], in.open[step]);
    }
    return in.valid;
}
