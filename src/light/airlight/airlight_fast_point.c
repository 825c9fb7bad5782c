/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Point sources: each lit interval of a line in t = (q - c)/(q + c), q = tan of half the scattering
 * angle, cut where its integrand bends, eight nodes at a time.
 * Sources: Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519 (the equiangular variable); Henyey &
 * Greenstein 1941. The half-angle substitution and its algebra are in docs/physics.md. */
#include "light/airlight/airlight_fast_point.h"

#include "light/airlight/airlight_fast_integrate.h"
#include "light/airlight/airlight_fast_phase.h"
#include "veilstop/light/shaft.h"

#define OFF_MIN_M       1e-300 /* [m] a line through the source defines no plane */
#define SINE_SQUARE_MIN 1e-300 /* [1] keeps the logarithm of an angle finite on the axis */
#define TAIL_MAX        0.008  /* [1] of the integral in the highest terms: nodes are enough */
#define TAIL_KINKED_MAX 0.0012 /* [1] the same for measured lamps, whose tables have kinks */
#define PARTS_MAX       8      /* of one interval */

/* A unit vector in the plane of source and line: its cosine with the way from the source at angle v
 * is across cos v + along sin v. */
typedef struct {
    double across, along;
} in_plane;

/* A line and a source. Optical depth at 549 nm, camera to droplet to source, is depth + per_q
 * tan(scattering angle/2) + each crossing's change/cosine. */
typedef struct {
    const vs_fast_haze *haze;
    const vs_point_source *source;
    double depth, per_q, scale;
    in_plane axis;    /* of the source */
    in_plane c0, c90; /* of a measured lamp's frame */
    double change[VS_SHAFT_CROSSING_MAX];
    in_plane normal[VS_SHAFT_CROSSING_MAX];
    int crossing_count;
    double part[PARTS_MAX][2]; /* in t */
    int part_count;
} plane;

/* Eight nodes: place, weight, the exponent of the profile, the optical depth. */
typedef struct {
    double t[LANES], factor[LANES], power[LANES], depth[LANES];
    double cosine[LANES], sine[LANES]; /* of v */
} nodes;

/* The equiangular angle at the nodes. */
LANES_INLINE void set_angles(const vs_fast_haze *haze, nodes *n) {
    double forward_scale = haze->forward_scale;
    EACH_LANE(l) {
        double up = forward_scale * (1 + n->t[l]), down = 1 - n->t[l];
        double inverse = 1 / (up * up + down * down);
        n->cosine[l] = 2 * up * down * inverse;
        n->sine[l] = (up - down) * (up + down) * inverse;
    }
}

/* Cosine of the angle between the way to a node and a unit vector. */
LANES_INLINE double way_cosine(const nodes *n, int l, in_plane v) {
    return v.across * n->cosine[l] + v.along * n->sine[l];
}

LANES_INLINE void cosine_profile(in_plane axis, nodes *n) {
    EACH_LANE(l) {
        n->factor[l] *= lane_max(0, way_cosine(n, l, axis));
    }
}

LANES_INLINE void sine_profile(in_plane axis, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, axis);
        n->factor[l] *= sqrt(lane_max(0, 1 - cosine * cosine));
    }
}

/* sin^2 of half the angle off the axis. */
LANES_INLINE double sine_square(double cosine) {
    return lane_max(0.5 * (1 - cosine), SINE_SQUARE_MIN);
}

/* ln 2 (angle/half)^2: the square of the angle is that of an arcsine. */
LANES_INLINE void gaussian_profile(const vs_spot *spot, in_plane axis, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, axis);
        double square = sine_square(cosine);
        n->power[l] = LANES_LN_2 * spot->sine_scale * square * lane_arcsine_square(square);
    }
}

/* ln 2 (angle/half)^exponent, via the logarithm of the angle's square. */
LANES_INLINE void power_profile(const vs_spot *spot, in_plane axis, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, axis);
        double square = sine_square(cosine);
        double twice = lane_log(spot->sine_scale * square) + lane_arcsine_square_log(square);
        n->power[l] = LANES_LN_2 * lane_exp(0.5 * spot->exponent * twice);
    }
}

LANES_INLINE void spot_profile(const vs_spot *spot, in_plane axis, nodes *n) {
    if (spot->exponent == 2) {
        gaussian_profile(spot, axis, n);
    } else {
        power_profile(spot, axis, n);
    }
}

/* A measured lamp: its two angles in lanes, its table one by one. */
LANES_INLINE void photometry_profile(const plane *p, nodes *n) {
    const vs_photometric_table *table = p->source->emitter->table;
    double vertical[LANES], horizontal[LANES] = {0};
    EACH_LANE(l) {
        double x = way_cosine(n, l, p->c0), y = way_cosine(n, l, p->c90);
        vertical[l] = lane_atan2_upper(sqrt(x * x + y * y), way_cosine(n, l, p->axis));
    }
    if (table->horizontal_count > 1) {
        EACH_LANE(l) {
            double x = way_cosine(n, l, p->c0), y = way_cosine(n, l, p->c90);
            double turn = lane_atan2_upper(fabs(y), x);
            horizontal[l] = y < 0 ? -turn : turn;
        }
    }
    for (int l = 0; l < LANES; l++) {
        n->factor[l] *= vs_photometric_candela_at(table, vertical[l], horizontal[l]);
    }
}

LANES_INLINE void profile_lanes(const plane *p, nodes *n) {
    switch (p->source->profile) {
    case VS_PROFILE_EVEN:
        break;
    case VS_PROFILE_COSINE:
        cosine_profile(p->axis, n);
        break;
    case VS_PROFILE_SINE:
        sine_profile(p->axis, n);
        break;
    case VS_PROFILE_SPOT:
        spot_profile(&p->source->emitter->spot, p->axis, n);
        break;
    case VS_PROFILE_PHOTOMETRY:
        photometry_profile(p, n);
        break;
    }
}

LANES_INLINE void add_crossings(const plane *p, nodes *n) {
    for (int i = 0; i < p->crossing_count; i++) {
        EACH_LANE(l) {
            n->depth[l] += p->change[i] / way_cosine(n, l, p->normal[i]);
        }
    }
}

/* Henyey-Greenstein x transmission x dv/dt. With the forward scale c, S = (1-t)^2 + c^2 (1+t)^2 and
 * C = (1-g)^2 (1-t)^2 + c^2 (1+g)^2 (1+t)^2 the first and last are (1-g^2)/(4 pi) 4c sqrt(S/C)/C,
 * which has no peak left where c = (1-g)/(1+g); 1/C and q share one division. */
LANES_INLINE double measured_lane(const vs_fast_haze *haze, int colour, const nodes *n,
                                  double per_q, int l, double *depth) {
    double g = haze->g[colour], forward_scale = haze->forward_scale;
    double low = (1 - g) * (1 - g), high = (1 + g) * (1 + g),
           peak = 4 * forward_scale * haze->peak[colour];
    double up = forward_scale * (1 + n->t[l]), down = 1 - n->t[l];
    double up2 = up * up, down2 = down * down;
    double c = low * down2 + high * up2;
    double both = 1 / (c * down), inverse = both * down, q = up * c * both;
    *depth = n->depth[l] + per_q * q;
    return n->factor[l] * peak * inverse * sqrt((down2 + up2) * inverse);
}

/* What tables share: their place q/(1 + q), dv/dt with the profile, and the optical depth. */
typedef struct {
    double place[LANES], factor[LANES], depth[LANES];
} table_lanes;

LANES_INLINE void set_table_lanes(const vs_fast_haze *haze, const nodes *n, double per_q,
                                  table_lanes *table) {
    double forward_scale = haze->forward_scale;
    EACH_LANE(l) {
        double up = forward_scale * (1 + n->t[l]), down = 1 - n->t[l];
        double square = up * up + down * down;
        double both = 1 / (square * down), q = up * square * both;
        table->place[l] = up / (up + down);
        table->factor[l] = n->factor[l] * 4 * forward_scale * (both * down);
        table->depth[l] = n->depth[l] + per_q * q;
    }
}

/* A colour of a block: the integrand at eight nodes, phase x profile x dv/dt in `shape`. */
LANES_INLINE void set_colour(const vs_fast_haze *haze, int colour, const nodes *n,
                             const double *shape, const double *depth, vs_fast_block *block) {
    for (int step = 0; step < haze->step_count; step++) {
        int band = colour * haze->step_count + step;
        double ratio = haze->ratio[band], value[LANES];
        EACH_LANE(l) {
            value[l] = shape[l] * lane_exp(-depth[l] * ratio - n->power[l]);
        }
        vs_fast_block_set(value, band, haze->refine_band, block);
    }
}

LANES_INLINE void set_colours(const plane *p, const nodes *n, vs_fast_block *block) {
    const vs_fast_haze *haze = p->haze;
    double shape[LANES], depth[LANES];
    table_lanes table;
    if (haze->table) {
        set_table_lanes(haze, n, p->per_q, &table);
    }
    for (int colour = 0; colour < haze->colour_count; colour++) {
        if (haze->table) {
            lanes_phase_table(haze->value[colour], haze->last[colour], table.place, shape);
            EACH_LANE(l) {
                shape[l] *= table.factor[l];
                depth[l] = table.depth[l];
            }
        } else {
            EACH_LANE(l) {
                shape[l] = measured_lane(haze, colour, n, p->per_q, l, &depth[l]);
            }
        }
        set_colour(haze, colour, n, shape, depth, block);
    }
}

LANES_CLONES static void point_block(const plane *p, double from, double to, vs_fast_block *block) {
    const vs_legendre_rule *eight = &vs_legendre_rules[LANES];
    double middle = 0.5 * (from + to), half = 0.5 * (to - from);
    nodes n;
    EACH_LANE(l) {
        n.t[l] = middle + half * eight->node[l];
        n.factor[l] = half * eight->weight[l] * p->scale;
        n.depth[l] = p->depth;
        n.power[l] = 0;
    }
    if (p->source->profile != VS_PROFILE_EVEN || p->crossing_count > 0) {
        set_angles(p->haze, &n);
        profile_lanes(p, &n);
        add_crossings(p, &n);
    }
    set_colours(p, &n, block);
    *p->haze->nodes += LANES;
}

static void integrate_block(void *context, double from, double to, vs_fast_block *block) {
    point_block(context, from, to, block);
}

/* ---- an interval in t ---- */

/* t where tan v is known: q = tan v + sec v, t = (q - c)/(q + c). */
static double t_of_tangent(double tangent, double forward_scale) {
    double q = sqrt(1 + tangent * tangent) + fabs(tangent);
    /* q of a negative angle is 1/(sec + |tan|) */
    return tangent < 0 ? (1 - forward_scale * q) / (1 + forward_scale * q)
                       : (q - forward_scale) / (q + forward_scale);
}

/* t where q = top/bottom. */
static double t_of_ratio(double top, double bottom, double forward_scale) {
    return (top - forward_scale * bottom) / lane_divisor(top + forward_scale * bottom);
}

/* Where the angle off the axis has a given cosine: across sin + along (-cos) of the scattering
 * angle, a quadratic in q: (along - c) q^2 + 2 across q - (along + c) = 0. t by the stable pair of
 * roots, ascending; NaN if there is none. */
static void cone_roots(in_plane axis, double cosine, double forward_scale, double root[2]) {
    double sum = axis.along + cosine, difference = axis.along - cosine;
    double square = sqrt(axis.across * axis.across + sum * difference);
    double k = axis.across < 0 ? square - axis.across : -axis.across - square;
    double one = t_of_ratio(k, difference, forward_scale);
    double other = t_of_ratio(-sum, k, forward_scale);
    root[0] = fmin(one, other);
    root[1] = fmax(one, other);
}

/* Adds the interval from one place to another, cut at the places in between, which ascend. */
static void add_parts(plane *p, double from, double to, const double *cut, int count) {
    for (int i = 0; i <= count && from < to; i++) {
        double end = i < count ? cut[i] : to;
        if (end > from && end <= to) {
            p->part[p->part_count][0] = from;
            p->part[p->part_count++][1] = from = end;
        }
    }
}

/* A spot: lit between the roots of its cone or outside them, cut where its profile bends most: at
 * the smallest angle to its axis, and a flat top at its shoulders. */
static void add_spot_parts(plane *p, double from, double to) {
    const vs_spot *spot = &p->source->emitter->spot;
    double c = spot->cutoff_cosine, scale = p->haze->forward_scale, edge[2], shoulder[2], cut[3];
    in_plane axis = p->axis;
    /* tan v = along/across at the smallest angle */
    double length = sqrt(axis.across * axis.across + axis.along * axis.along);
    double tip = t_of_ratio(length + axis.along, axis.across, scale);
    bool flat = spot->exponent > 2;
    int count = flat ? 3 : 1;
    cut[flat] = tip;
    if (flat) {
        cone_roots(axis, spot->half_cosine, scale, shoulder);
        cut[0] = shoulder[0];
        cut[2] = shoulder[1];
    }
    cone_roots(axis, c, scale, edge);
    /* sign of the cone's quadratic for large t */
    bool outside = scale * ((axis.along - c) * scale - 2 * axis.across) - (axis.along + c) > 0;
    if (isnan(edge[0])) { /* the line meets no edge of the cone */
        add_parts(p, from, outside ? to : from, cut, count);
    } else if (!outside) {
        add_parts(p, fmax(from, edge[0]), fmin(to, edge[1]), cut, count);
    } else {
        add_parts(p, from, fmin(to, edge[0]), cut, count);
        add_parts(p, fmax(from, edge[1]), to, cut, count);
    }
}

/* A point of a surface lights only what is in front of its plane, where across cos v + along sin v
 * > 0: beyond tan v = -across/along on one side or the other. */
static void add_front(plane *p, double from, double to) {
    in_plane axis = p->axis;
    double edge = t_of_tangent(-axis.across / lane_divisor(axis.along), p->haze->forward_scale);
    from = axis.along > 0 ? fmax(from, edge) : from;
    to = axis.along < 0 ? fmin(to, edge) : to;
    add_parts(p, from, axis.along == 0 && axis.across <= 0 ? from : to, NULL, 0);
}

static void lay_parts(plane *p, double from, double to) {
    /* a table's peak separately from the rest; eight nodes over the whole may miss a measured
     * lamp's kinks */
    bool measured = p->source->profile == VS_PROFILE_PHOTOMETRY;
    double cut = measured ? 0.5 * (from + to) : 0;
    p->part_count = 0;
    if (p->source->profile == VS_PROFILE_SPOT) {
        add_spot_parts(p, from, to);
    } else if (p->source->profile == VS_PROFILE_COSINE) {
        add_front(p, from, to);
    } else {
        add_parts(p, from, to, &cut, measured || p->haze->table);
    }
}

static in_plane in_plane_of(vs_vec3 v, vs_vec3 across, vs_vec3 along) {
    return (in_plane){vs_vec3_dot(v, across), vs_vec3_dot(v, along)};
}

/* One lit interval of a segment. */
static void add_shaft(plane *p, const vs_camera_ray *sight, const vs_ray_segment *segment,
                      const vs_shaft *shaft, double share, double *sum) {
    const vs_emitter *emitter = p->source->emitter;
    double least_m =
        emitter->kind == VS_EMITTER_POINT ? VS_SHAFT_APART_MIN_M : VS_SHAFT_ELEMENT_APART_MIN_M;
    vs_vec3 offset_m = vs_vec3_sub(sight->at_m, p->source->at_m), along = sight->direction;
    double foot_m = -vs_vec3_dot(offset_m, along);
    vs_vec3 across_m = vs_vec3_along(offset_m, along, foot_m);
    double off_m = vs_vec3_length(across_m), apart_m = fmax(off_m, least_m);
    vs_vec3 across = vs_vec3_scale(across_m, 1 / fmax(off_m, OFF_MIN_M));
    p->depth = segment->depth + segment->extinction_per_m * (foot_m - segment->from_m);
    p->per_q = segment->extinction_per_m * apart_m;
    p->scale = share * segment->open * shaft->transmittance * segment->extinction_per_m / apart_m;
    p->axis = in_plane_of(p->source->axis, across, along);
    if (p->source->profile == VS_PROFILE_PHOTOMETRY) {
        p->c0 = in_plane_of(emitter->frame.c0, across, along);
        p->c90 = in_plane_of(emitter->frame.c90, across, along);
    }
    p->crossing_count = (int)shaft->crossing_count;
    for (int i = 0; i < p->crossing_count; i++) {
        p->change[i] = shaft->crossing[i].change_per_m * shaft->crossing[i].off_m;
        p->normal[i] = in_plane_of(shaft->crossing[i].normal, across, along);
    }
    lay_parts(p, t_of_tangent((shaft->from_m - foot_m) / apart_m, p->haze->forward_scale),
              t_of_tangent((shaft->to_m - foot_m) / apart_m, p->haze->forward_scale));
    vs_fast_integrate_parts(
        integrate_block, p, p->haze, p->part, p->part_count,
        p->source->profile == VS_PROFILE_PHOTOMETRY ? TAIL_KINKED_MAX : TAIL_MAX, sum);
}

void vs_fast_add_point(const vs_medium *medium, const vs_fast_haze *haze,
                       const vs_camera_ray *sight, const vs_ray_segment *segment,
                       const vs_point_source *source, double share, double *sum) {
    vs_shaft shaft[VS_SHAFT_MAX];
    plane p = {.haze = haze, .source = source};
    /* where its profile begins and ends is found here; only a table may jump at its ends */
    vs_point_source even = *source;
    if (source->profile != VS_PROFILE_PHOTOMETRY) {
        even.profile = VS_PROFILE_EVEN;
    }
    size_t count = vs_shaft_from_point(medium, sight, segment, &even, shaft);
    for (size_t k = 0; k < count; k++) {
        add_shaft(&p, sight, segment, &shaft[k], share, sum);
    }
}
