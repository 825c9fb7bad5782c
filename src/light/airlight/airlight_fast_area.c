/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight points of a line at once, each lit by a whole rectangle or tube: Gauss-Legendre over the
 * emitter's solid angle, so that nothing is singular however close the line passes.
 * Sources: Lambert 1760 (a surface of even radiance); the equal-area cylindrical projection of the
 * sphere (Archimedes; Snyder 1987, Map Projections, USGS PP 1395, ch. 10). */
#include "light/airlight/airlight_fast_area.h"

#include "base/numerics/legendre_rules.h"
#include "light/airlight/airlight_fast_phase.h"

#define PLANE_MIN_M 1e-9 /* [m] a point in the plane itself is moved this far off */
/* [1] half tangent about the forward direction, in forward scales, integrated separately */
#define PEAK_WIDTH 1.5
#define EDGE_MIN   0.1    /* [1] closer edges count little, in proportion to their distance */
#define PARTS_MAX  4      /* of an interval of an angle: 1, 2 or 4 */
#define SPAN_MIN   1e-12F /* [1] keeps the results for an empty interval finite */

/* d1 + d2 [1] from which n points leave e^-10 = 5e-5, and for a table, which bends more than the
 * peak that stands for it, e^-11 = 2e-5: 2 cosh(10/2n), 2 cosh(11/2n). */
static const double enough_plain[VS_LEGENDRE_ORDER_MAX + 1] = {
    0, 148.42, 12.2646, 5.48337, 3.77685, 3.08616, 2.73557, 2.53227, 2.40351};
static const double enough_table[VS_LEGENDRE_ORDER_MAX + 1] = {
    0, 244.696, 15.7066, 6.41458, 4.20792, 3.33704, 2.90079, 2.64977, 2.49157};

/* Eight points of the line: distance and weight of each. */
typedef struct {
    double distance_m[LANES], weight[LANES];
} line_nodes;

LANES_INLINE void place_on_line(const vs_fast_line *line, double from, double to, line_nodes *n) {
    const vs_legendre_rule *eight = &vs_legendre_rules[LANES];
    double middle = 0.5 * (from + to), half = 0.5 * (to - from);
    EACH_LANE(l) {
        double t = middle + half * eight->node[l];
        n->distance_m[l] = vs_fast_distance_m(line, t);
        n->weight[l] = half * eight->weight[l] * vs_fast_per_t_m(line, t);
    }
}

/* Light of one direction each, added band by band: weight x phase x transmission over a depth. */
LANES_INLINE void add_direction(const vs_fast_haze *haze, const double *cosine, const double *depth,
                                const double *weight, double (*light)[LANES]) {
    double place[LANES], phase[LANES];
    if (haze->table) {
        lanes_table_place(cosine, place);
    }
    for (int colour = 0, band = 0; colour < haze->colour_count; colour++) {
        if (haze->table) {
            lanes_phase_table(haze->value[colour], haze->last[colour], place, phase);
        } else {
            lanes_henyey_greenstein(haze->g[colour], haze->peak[colour], cosine, phase);
        }
        EACH_LANE(l) {
            phase[l] *= weight[l];
        }
        for (int step = 0; step < haze->step_count; step++, band++) {
            double ratio = haze->ratio[band];
            EACH_LANE(l) {
                light[band][l] += phase[l] * lane_exp(-depth[l] * ratio);
            }
        }
    }
}

/* Applies the transmission from the points to the camera, and sums. */
LANES_INLINE void finish(const vs_fast_haze *haze, const vs_fast_line *line, const line_nodes *n,
                         double (*light)[LANES], vs_fast_block *block) {
    for (int band = 0; band < haze->band_count; band++) {
        EACH_LANE(l) {
            double depth = line->depth + line->extinction_per_m * n->distance_m[l];
            light[band][l] *= n->weight[l] * lane_exp(-depth * haze->ratio[band]);
        }
        vs_fast_block_set(light[band], band, haze->refine_band, block);
    }
}

/* The points relative to a rectangle. Its sides are called p and q, point by point: p is the axis
 * of the cylindrical projection, chosen as the side beyond whose ends the point is less far; beyond
 * the end of the axis the projection would pinch the rectangle into its pole. */
typedef struct {
    double p_m[LANES], q_m[LANES], z_m[LANES]; /* place */
    double along_p[LANES], along_q[LANES];     /* the line's direction */
    double half_p_m[LANES], half_q_m[LANES];   /* of the sides */
} rect_places;

/* tan(angle/2) where tan angle = rise/run. */
LANES_INLINE double half_tangent(double rise, double run) {
    return rise / lane_divisor(run + sqrt(run * run + rise * rise));
}

/* The same for the direction nearest to forward scattering; for a table, which also peaks there,
 * nearest to backscattering if the emitter is behind. */
LANES_INLINE double straightest(bool table, double rise, double run) {
    bool back = table && run < 0;
    return half_tangent(back ? -rise : rise, back ? -run : run);
}

LANES_INLINE double lane_clamp(double x, double low, double high) {
    return lane_min(lane_max(x, low), high);
}

/* An interval of an angle for each lane, as tangents of half angles: its ends, the place nearest to
 * forward scattering and, squared, the width of the haze's peak seen from there. */
typedef struct {
    double from[LANES], to[LANES], peak[LANES], width2[LANES], edge[LANES];
} span;

/* Two places' distances from one that is off the real axis, its distance from it squared. */
LANES_INLINE float distances(float a, float b, float off2) {
    return sqrtf(a * a + off2) + sqrtf(b * b + off2);
}

/* How many Gauss-Legendre points an interval needs. An integrand whose poles are at distance d1 and
 * d2 from the ends of [-1, 1] is integrated by n points within about rho^-2n, rho + 1/rho = d1 + d2
 * (Davis & Rabinowitz 1984, 4.6). Poles: those of a Henyey-Greenstein peak, and +-i, of all that
 * depends on the angle itself. Returns VS_LEGENDRE_ORDER_MAX + 1 if no rule is enough. */
LANES_INLINE int points_needed(const span *s, bool table) {
    const double *enough = table ? enough_table : enough_plain;
    float sum[LANES], least = HUGE_VALF; /* single precision says as much, in half the time */
    EACH_LANE(l) {
        float from = (float)s->from[l], to = (float)s->to[l], place = (float)s->peak[l];
        float edge2 = (float)(s->edge[l] * s->edge[l]);
        float peak = distances(from - place, to - place, (float)s->width2[l]);
        float middle = distances(from, to, 1);
        float high = distances(1 - from, 1 - to, edge2), low = distances(1 + from, 1 + to, edge2);
        float ends = high < low ? high : low, poles = middle < ends ? middle : ends;
        float nearest = peak < poles ? peak : poles, width = to - from;
        sum[l] = 2 * nearest / (width > SPAN_MIN ? width : SPAN_MIN);
    }
    for (int l = 0; l < LANES; l++) {
        least = sum[l] < least ? sum[l] : least;
    }
    int points = 1;
    while (points <= VS_LEGENDRE_ORDER_MAX && (double)least < enough[points]) {
        points++;
    }
    return points;
}

/* Part of parts of an interval: one part is the whole; two are cut at the peak; four besides at
 * `near` from it. */
LANES_INLINE void cut_span(const span *whole, double near, int part, int parts, span *cut) {
    double offset_low = part == 1 ? -near : part == 3 ? near : 0;
    double offset_high = part == 0 ? -near : part == 2 ? near : 0;
    double narrow = parts == 4 ? 1 : 0;
    bool first = part == 0, last = part + 1 == parts;
    EACH_LANE(l) {
        double from = whole->from[l], to = whole->to[l], peak = whole->peak[l];
        cut->from[l] = first ? from : lane_clamp(peak + narrow * offset_low, from, to);
        cut->to[l] = last ? to : lane_clamp(peak + narrow * offset_high, from, to);
        cut->peak[l] = peak;
        cut->width2[l] = whole->width2[l];
        cut->edge[l] = whole->edge[l];
    }
}

/* An interval in the fewest parts for which a rule suffices, and the points of each. */
typedef struct {
    span part[PARTS_MAX];
    int points[PARTS_MAX], count;
} division;

LANES_INLINE void divide(const vs_fast_haze *haze, const span *whole, division *d) {
    for (d->count = 1;; d->count *= 2) {
        bool enough = true;
        for (int i = 0; i < d->count; i++) {
            cut_span(whole, PEAK_WIDTH * haze->forward_scale, i, d->count, &d->part[i]);
            d->points[i] = points_needed(&d->part[i], haze->table);
            enough = enough && d->points[i] <= VS_LEGENDRE_ORDER_MAX;
        }
        if (enough || d->count == PARTS_MAX) {
            return;
        }
    }
}

/* One part: its rule, midpoints and half widths; NULL if empty. */
LANES_INLINE const vs_legendre_rule *lay_part(const division *d, int part, double *middle,
                                              double *half) {
    const span *s = &d->part[part];
    EACH_LANE(l) {
        middle[l] = 0.5 * (s->from[l] + s->to[l]);
        half[l] = 0.5 * (s->to[l] - s->from[l]);
    }
    if (lanes_sum(half) == 0) {
        return NULL; /* the forward direction is beyond one end */
    }
    int points = d->points[part];
    return &vs_legendre_rules[points < VS_LEGENDRE_ORDER_MAX ? points : VS_LEGENDRE_ORDER_MAX];
}

/* One arc of directions in a plane, between two angles given by the tangents of their halves: at an
 * angle phi the cosine of scattering is sin phi rise + cos phi run, the depth is reach/cos phi
 * and the weight cos phi. A wide arc is cut at the place nearest to forward scattering. */
typedef struct {
    span ends;
    double rise[LANES], run[LANES], reach[LANES], weight[LANES];
} arcs;

/* Returns the number of directions evaluated. */
LANES_INLINE int add_arcs(const vs_fast_haze *haze, arcs *arc, double (*light)[LANES]) {
    double forward_scale = haze->forward_scale;
    EACH_LANE(l) {
        /* rise and run together: the cosine of the angle left to straight on, at the peak */
        double rise = arc->rise[l], run = arc->run[l];
        double nearest = lane_min(sqrt(rise * rise + run * run), 1);
        arc->ends.peak[l] = straightest(haze->table, rise, run);
        arc->ends.width2[l] = forward_scale * forward_scale + (1 - nearest) / (1 + nearest);
        arc->ends.edge[l] = 1;
    }
    division parts;
    divide(haze, &arc->ends, &parts);
    int directions = 0;
    for (int part = 0; part < parts.count; part++) {
        double middle[LANES], half[LANES];
        const vs_legendre_rule *rule = lay_part(&parts, part, middle, half);
        for (int i = 0; rule && i < rule->count; i++) {
            double cosine[LANES], depth[LANES], weight[LANES];
            EACH_LANE(l) {
                double tau = middle[l] + half[l] * rule->node[i];
                double down = 1 - tau * tau, up = 1 + tau * tau, both = 1 / (down * up);
                double inverse = both * down;
                cosine[l] = (2 * tau * arc->rise[l] + down * arc->run[l]) * inverse;
                depth[l] = arc->reach[l] * (up * up) * both;
                weight[l] =
                    arc->weight[l] * rule->weight[i] * half[l] * 2 * down * inverse * inverse;
            }
            add_direction(haze, cosine, depth, weight, light);
        }
        directions += rule ? rule->count : 0;
    }
    return directions;
}

/* One strip of a rectangle: fixed angle psi, given by the tangent of its half. */
LANES_INLINE int add_strip(const vs_fast_haze *haze, const vs_fast_rect *rect, const rect_places *p,
                           const double *tau, const double *weight, double (*light)[LANES]) {
    arcs arc;
    EACH_LANE(l) {
        double inverse = 1 / (1 + tau[l] * tau[l]);
        double cosine = (1 - tau[l] * tau[l]) * inverse, sine = 2 * tau[l] * inverse;
        double reach = p->z_m[l] / cosine, half_p = p->half_p_m[l];
        arc.ends.from[l] = half_tangent(-half_p - p->p_m[l], reach);
        arc.ends.to[l] = half_tangent(half_p - p->p_m[l], reach);
        arc.rise[l] = p->along_p[l];
        arc.run[l] = sine * p->along_q[l] - cosine * rect->along_z;
        arc.reach[l] = reach * rect->line.extinction_per_m;
        arc.weight[l] = weight[l];
    }
    return add_arcs(haze, &arc, light);
}

/* The strips' angles; how close the most forward strip comes to forward scattering depends on its
 * own ends. */
LANES_INLINE void lay_strips(const vs_fast_haze *haze, const vs_fast_rect *rect,
                             const rect_places *p, span *whole) {
    double forward_scale = haze->forward_scale;
    double sign = haze->table && rect->along_z > 0 ? -1 : 1; /* -1: nearest to backscattering */
    double run = -rect->along_z * sign;
    EACH_LANE(l) {
        double half_p = p->half_p_m[l], half_q = p->half_q_m[l];
        double rise = p->along_q[l] * sign, length = sqrt(rise * rise + run * run);
        double reach = p->z_m[l] * length / lane_max(run, LANES_TINY);
        double best = half_tangent(p->along_p[l] * sign, length);
        double past = lane_max(half_tangent(-half_p - p->p_m[l], reach) - best,
                               best - half_tangent(half_p - p->p_m[l], reach));
        past = lane_max(past, 0);
        whole->from[l] = half_tangent(-half_q - p->q_m[l], p->z_m[l]);
        whole->to[l] = half_tangent(half_q - p->q_m[l], p->z_m[l]);
        whole->peak[l] = half_tangent(rise, run);
        whole->width2[l] = forward_scale * forward_scale + past * past;
        whole->edge[l] = EDGE_MIN + p->z_m[l] / (half_p + fabs(p->p_m[l]));
    }
}

/* All strips, cut like the arcs at the place nearest to forward scattering. */
LANES_INLINE int add_strips(const vs_fast_haze *haze, const vs_fast_rect *rect,
                            const rect_places *p, double (*light)[LANES]) {
    span whole;
    lay_strips(haze, rect, p, &whole);
    division parts;
    divide(haze, &whole, &parts);
    int directions = 0;
    for (int part = 0; part < parts.count; part++) {
        double middle[LANES], half[LANES], tau[LANES], weight[LANES];
        const vs_legendre_rule *rule = lay_part(&parts, part, middle, half);
        for (int i = 0; rule && i < rule->count; i++) {
            EACH_LANE(l) {
                tau[l] = middle[l] + half[l] * rule->node[i];
                weight[l] = rule->weight[i] * half[l] * 2 / (1 + tau[l] * tau[l]);
            }
            directions += add_strip(haze, rect, p, tau, weight, light);
        }
    }
    return directions;
}

LANES_CLONES void vs_fast_rect_block(const vs_fast_haze *haze, const vs_fast_rect *rect,
                                     double from, double to, vs_fast_block *block) {
    line_nodes n;
    rect_places p;
    double light[VS_FAST_BANDS][LANES] = {{0}};
    place_on_line(&rect->line, from, to, &n);
    EACH_LANE(l) {
        double u = rect->at_u_m + rect->along_u * n.distance_m[l];
        double v = rect->at_v_m + rect->along_v * n.distance_m[l];
        bool turned = fabs(u) - rect->half_u_m > fabs(v) - rect->half_v_m;
        p.half_p_m[l] = turned ? rect->half_v_m : rect->half_u_m;
        p.half_q_m[l] = turned ? rect->half_u_m : rect->half_v_m;
        p.p_m[l] = turned ? v : u;
        p.q_m[l] = turned ? u : v;
        p.along_p[l] = turned ? rect->along_v : rect->along_u;
        p.along_q[l] = turned ? rect->along_u : rect->along_v;
        p.z_m[l] = lane_max(rect->at_z_m + rect->along_z * n.distance_m[l], PLANE_MIN_M);
    }
    *haze->nodes += (size_t)(LANES * add_strips(haze, rect, &p, light));
    finish(haze, &rect->line, &n, light, block);
}

LANES_CLONES void vs_fast_tube_block(const vs_fast_haze *haze, const vs_fast_tube *tube,
                                     double from, double to, vs_fast_block *block) {
    line_nodes n;
    arcs arc;
    double light[VS_FAST_BANDS][LANES] = {{0}};
    place_on_line(&tube->line, from, to, &n);
    EACH_LANE(l) {
        double from_nearest_m = n.distance_m[l] - tube->nearest_m;
        double off_m = sqrt(tube->apart_m2 + tube->across2 * from_nearest_m * from_nearest_m);
        double place_m = tube->at_m + tube->along * n.distance_m[l];
        arc.ends.from[l] = half_tangent(-place_m, off_m);
        arc.ends.to[l] = half_tangent(tube->length_m - place_m, off_m);
        arc.rise[l] = tube->along;
        arc.run[l] = -tube->across2 * from_nearest_m / off_m;
        arc.reach[l] = off_m * tube->line.extinction_per_m;
        arc.weight[l] = 1 / off_m;
    }
    *haze->nodes += (size_t)(LANES * add_arcs(haze, &arc, light));
    finish(haze, &tube->line, &n, light, block);
}

LANES_CLONES void vs_fast_add_places(const vs_fast_haze *haze, const vs_fast_view *view,
                                     const vs_fast_places *places, double *sum) {
    vs_vec3 axis = view->axis, direction = view->direction;
    double line = view->is_line ? 1 : 0;
    double cosine[LANES], depth[LANES], weight[LANES];
    EACH_LANE(l) {
        double x = places->x_m[l], y = places->y_m[l], z = places->z_m[l];
        double square = x * x + y * y + z * z, way_m = sqrt(square), inverse = 1 / way_m;
        double along = (x * axis.x + y * axis.y + z * axis.z) * inverse;
        double sine = sqrt(lane_max(0, 1 - along * along));
        double profile = line * sine + (1 - line) * lane_max(0, -along);
        cosine[l] = (x * direction.x + y * direction.y + z * direction.z) * inverse;
        weight[l] = places->size[l] * profile * inverse * inverse;
        depth[l] = view->extinction_per_m * way_m;
    }
    for (int i = 0; i < view->change_count; i++) {
        vs_vec3 normal = view->normal[i];
        EACH_LANE(l) {
            double x = places->x_m[l], y = places->y_m[l], z = places->z_m[l];
            double off_m = x * normal.x + y * normal.y + z * normal.z;
            depth[l] -= view->off_change[i] * sqrt(x * x + y * y + z * z) / off_m;
        }
    }
    double light[VS_FAST_BANDS][LANES] = {{0}};
    add_direction(haze, cosine, depth, weight, light);
    for (int band = 0; band < haze->band_count; band++) {
        sum[band] += lanes_sum(light[band]);
    }
}
