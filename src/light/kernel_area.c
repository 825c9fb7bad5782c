/* Eight points of a line at once, each lit by a whole rectangle or tube: Gauss-Legendre over the
 * emitter's solid angle, so that nothing is singular however near the line passes.
 * Sources: Lambert 1760 (a surface of even radiance); the equal-area cylindrical projection of the
 * sphere (Archimedes; Snyder 1987, Map Projections, USGS PP 1395, ch. 10). */
#include "light/kernel_area.h"

#include "light/kernel_rules.h"

#define PLANE_MIN_M 1e-9 /* [m] a point in the plane itself is held this far off */
#define PEAK_WIDTH                                                                                 \
    1.5                 /* [1] half tangent about straight on, per gather, that is looked at apart \
                         */
#define SINE2_MIN 1e-30 /* [1] keeps a ratio of nothings at straight back from being NaN */

/* Eight points of the line: how far, what each counts. */
typedef struct {
    double distance_m[LANES], weight[LANES];
} line_nodes;

LANES_INLINE void place_on_line(const vs_kernel_line *line, double from, double to, line_nodes *n) {
    const vs_kernel_rule *eight = &vs_kernel_rules[LANES];
    double middle = 0.5 * (from + to), half = 0.5 * (to - from);
    EACH_LANE(l) {
        double t = middle + half * eight->node[l];
        double inverse = 1 / (1 - t * t);
        n->distance_m[l] = line->foot_m + line->scale_m * 2 * t * inverse;
        n->weight[l] =
            half * eight->weight[l] * line->scale_m * 2 * (1 + t * t) * inverse * inverse;
    }
}

/* Phase functions at eight scattering angles [1/sr]. */
LANES_INLINE void phase_lanes(const vs_kernel_haze *haze, int band, bool table,
                              const double *cosine, double *phase) {
    if (!table) {
        double g = haze->g[band], peak = haze->peak[band];
        EACH_LANE(l) {
            double base = (1 - g) * (1 - g) + 2 * g * (1 - cosine[l]);
            phase[l] = peak / (base * sqrt(base));
        }
        return;
    }
    const double *value = haze->value[band];
    double last = haze->last[band], share[LANES], low[LANES], high[LANES];
    int left[LANES];
    EACH_LANE(l) {
        double sine = sqrt(lane_max(1 - cosine[l] * cosine[l], SINE2_MIN));
        double place = sine / (1 + cosine[l] + sine) * last;
        left[l] = (int)lane_min(place, last - 1);
        share[l] = place - (double)left[l];
    }
    for (int l = 0; l < LANES; l++) {
        low[l] = value[left[l]];
        high[l] = value[left[l] + 1];
    }
    EACH_LANE(l) {
        phase[l] = low[l] + share[l] * (high[l] - low[l]);
    }
}

/* Light of one direction each, added band by band. */
LANES_INLINE void add_direction(const vs_kernel_haze *haze, bool table, int bands,
                                double extinction_per_m, const double *cosine, const double *way_m,
                                const double *weight, double (*light)[LANES]) {
    for (int band = 0; band < bands; band++) {
        double fade = extinction_per_m * haze->ratio[band], phase[LANES];
        phase_lanes(haze, band, table, cosine, phase);
        EACH_LANE(l) {
            light[band][l] += weight[l] * phase[l] * lane_exp(-fade * way_m[l]);
        }
    }
}

/* Adds up the eight values of a band, and its tail if it is the one that guides. */
LANES_INLINE void add_up(const double *value, int band, int guide, vs_kernel_block *block) {
    const vs_kernel_rule *eight = &vs_kernel_rules[LANES];
    block->sum[band] = lanes_sum(value);
    if (band == guide) {
        double last[LANES], before[LANES];
        EACH_LANE(l) {
            last[l] = eight->last[l] * value[l];
            before[l] = eight->before[l] * value[l];
        }
        block->tail = fabs(lanes_sum(last)) + fabs(lanes_sum(before));
    }
}

/* Dims the light of the points on its way to the camera, and sums. */
LANES_INLINE void finish(const vs_kernel_haze *haze, int bands, const vs_kernel_line *line,
                         const line_nodes *n, double (*light)[LANES], vs_kernel_block *block) {
    for (int band = 0; band < bands; band++) {
        EACH_LANE(l) {
            double depth = line->depth + line->extinction_per_m * n->distance_m[l];
            light[band][l] *= n->weight[l] * lane_exp(-depth * haze->ratio[band]);
        }
        add_up(light[band], band, haze->guide, block);
    }
}

/* The points as a rectangle sees them. Its sides take the names p and q, point by point: p is the
 * axis of the cylindrical projection, the side beyond whose ends the point lies less far; past the
 * end of the axis itself the projection would pinch the rectangle into its pole. */
typedef struct {
    double p_m[LANES], q_m[LANES], z_m[LANES]; /* place */
    double along_p[LANES], along_q[LANES];     /* the line's direction */
    bool turned[LANES];                        /* p is v, not u */
} rect_places;

/* tan(angle/2) where tan angle = rise/run. */
LANES_INLINE double half_tangent(double rise, double run) {
    return rise / lane_divisor(run + sqrt(run * run + rise * rise));
}

/* The same where light comes straightest: straight on, or back where the emitter is behind; a table
 * peaks there too. */
LANES_INLINE double straightest(double rise, double run) {
    return half_tangent(run < 0 ? -rise : rise, fabs(run));
}

LANES_INLINE double lane_clamp(double x, double low, double high) {
    return lane_min(lane_max(x, low), high);
}

/* One arc of directions in a plane, between two angles given by the tangents of their halves: of an
 * angle phi the cosine to straight on is sin phi rise + cos phi run, the way is reach/cos phi and
 * the weight cos phi. Where the arc is wide it is cut where the light comes straightest. */
typedef struct {
    double from[LANES], to[LANES], rise[LANES], run[LANES], reach_m[LANES], weight[LANES];
} arcs;

/* Ends of a part of a stretch from `from` to `to`, all as tangents of half angles: one part is the
 * whole; two are cut at `straight`; four besides at `near` from it, about the peak of the haze. */
LANES_INLINE void part_ends(double from, double to, double straight, double near, int part,
                            int parts, double *low, double *high) {
    double offset_low = part == 1 ? -near : part == 3 ? near : 0;
    double offset_high = part == 0 ? -near : part == 2 ? near : 0;
    double narrow = parts == 4 ? 1 : 0;
    bool first = part == 0, last = part + 1 == parts;
    *low = first ? from : lane_clamp(straight + narrow * offset_low, from, to);
    *high = last ? to : lane_clamp(straight + narrow * offset_high, from, to);
}

LANES_INLINE void add_arcs(const vs_kernel_haze *haze, bool table, int bands,
                           double extinction_per_m, const arcs *arc, int parts, int order,
                           double (*light)[LANES]) {
    const vs_kernel_rule *rule = &vs_kernel_rules[order];
    for (int part = 0; part < parts; part++) {
        double middle[LANES], half[LANES];
        EACH_LANE(l) {
            double from, to;
            part_ends(arc->from[l], arc->to[l], straightest(arc->rise[l], arc->run[l]),
                      PEAK_WIDTH * haze->gather, part, parts, &from, &to);
            middle[l] = 0.5 * (from + to);
            half[l] = 0.5 * (to - from);
        }
        if (lanes_sum(half) == 0) {
            continue; /* the straightest way is beyond one end */
        }
        for (int i = 0; i < rule->count; i++) {
            double cosine[LANES], way_m[LANES], weight[LANES];
            EACH_LANE(l) {
                double tau = middle[l] + half[l] * rule->node[i];
                double down = 1 - tau * tau, up = 1 + tau * tau, both = 1 / (down * up);
                double inverse = both * down;
                cosine[l] = (2 * tau * arc->rise[l] + down * arc->run[l]) * inverse;
                way_m[l] = arc->reach_m[l] * (up * up) * both;
                weight[l] =
                    arc->weight[l] * rule->weight[i] * half[l] * 2 * down * inverse * inverse;
            }
            add_direction(haze, table, bands, extinction_per_m, cosine, way_m, weight, light);
        }
    }
}

/* One strip of a rectangle: fixed angle psi, given by the tangent of its half. */
LANES_INLINE void add_strip(const vs_kernel_haze *haze, bool table, int bands,
                            const vs_kernel_rect *rect, const rect_places *p, const double *tau,
                            const double *weight, double (*light)[LANES]) {
    arcs arc;
    EACH_LANE(l) {
        double inverse = 1 / (1 + tau[l] * tau[l]);
        double cosine = (1 - tau[l] * tau[l]) * inverse, sine = 2 * tau[l] * inverse;
        double reach = p->z_m[l] / cosine, half_p = p->turned[l] ? rect->half_v_m : rect->half_u_m;
        arc.from[l] = half_tangent(-half_p - p->p_m[l], reach);
        arc.to[l] = half_tangent(half_p - p->p_m[l], reach);
        arc.rise[l] = p->along_p[l];
        arc.run[l] = sine * p->along_q[l] - cosine * rect->along_z;
        arc.reach_m[l] = reach;
        arc.weight[l] = weight[l];
    }
    add_arcs(haze, table, bands, rect->line.extinction_per_m, &arc, rect->parts, rect->order,
             light);
}

/* All strips, cut as the arcs are where the light comes straightest. */
LANES_INLINE void add_strips(const vs_kernel_haze *haze, bool table, int bands,
                             const vs_kernel_rect *rect, const rect_places *p,
                             double (*light)[LANES]) {
    const vs_kernel_rule *rule = &vs_kernel_rules[rect->order];
    for (int part = 0; part < rect->parts; part++) {
        double middle[LANES], half[LANES], tau[LANES], weight[LANES];
        EACH_LANE(l) {
            double half_q = p->turned[l] ? rect->half_u_m : rect->half_v_m;
            double low = half_tangent(-half_q - p->q_m[l], p->z_m[l]);
            double high = half_tangent(half_q - p->q_m[l], p->z_m[l]);
            double from, to;
            part_ends(low, high, straightest(p->along_q[l], -rect->along_z),
                      PEAK_WIDTH * haze->gather, part, rect->parts, &from, &to);
            middle[l] = 0.5 * (from + to);
            half[l] = 0.5 * (to - from);
        }
        if (lanes_sum(half) == 0) {
            continue;
        }
        for (int i = 0; i < rule->count; i++) {
            EACH_LANE(l) {
                tau[l] = middle[l] + half[l] * rule->node[i];
                weight[l] = rule->weight[i] * half[l] * 2 / (1 + tau[l] * tau[l]);
            }
            add_strip(haze, table, bands, rect, p, tau, weight, light);
        }
    }
}

LANES_INLINE void rect_block(const vs_kernel_haze *haze, bool table, int bands,
                             const vs_kernel_rect *rect, double from, double to,
                             vs_kernel_block *block) {
    line_nodes n;
    rect_places p;
    double light[VS_BAND_COUNT][LANES] = {{0}};
    place_on_line(&rect->line, from, to, &n);
    EACH_LANE(l) {
        double u = rect->at_u_m + rect->along_u * n.distance_m[l];
        double v = rect->at_v_m + rect->along_v * n.distance_m[l];
        bool turned = fabs(u) - rect->half_u_m > fabs(v) - rect->half_v_m;
        p.turned[l] = turned;
        p.p_m[l] = turned ? v : u;
        p.q_m[l] = turned ? u : v;
        p.along_p[l] = turned ? rect->along_v : rect->along_u;
        p.along_q[l] = turned ? rect->along_u : rect->along_v;
        p.z_m[l] = lane_max(rect->at_z_m + rect->along_z * n.distance_m[l], PLANE_MIN_M);
    }
    add_strips(haze, table, bands, rect, &p, light);
    finish(haze, bands, &rect->line, &n, light, block);
}

LANES_CLONES void vs_kernel_rect_block(const vs_kernel_haze *haze, const void *job, double from,
                                       double to, vs_kernel_block *block) {
    if (haze->table) {
        rect_block(haze, true, haze->band_count, job, from, to, block);
    } else {
        rect_block(haze, false, haze->band_count, job, from, to, block);
    }
}

LANES_INLINE void tube_block(const vs_kernel_haze *haze, bool table, int bands,
                             const vs_kernel_tube *tube, double from, double to,
                             vs_kernel_block *block) {
    line_nodes n;
    arcs arc;
    double light[VS_BAND_COUNT][LANES] = {{0}};
    place_on_line(&tube->line, from, to, &n);
    EACH_LANE(l) {
        double from_nearest_m = n.distance_m[l] - tube->nearest_m;
        double off_m = sqrt(tube->apart_m2 + tube->across2 * from_nearest_m * from_nearest_m);
        double place_m = tube->at_m + tube->along * n.distance_m[l];
        arc.from[l] = half_tangent(-place_m, off_m);
        arc.to[l] = half_tangent(tube->length_m - place_m, off_m);
        arc.rise[l] = tube->along;
        arc.run[l] = -tube->across2 * from_nearest_m / off_m;
        arc.reach_m[l] = off_m;
        arc.weight[l] = 1 / off_m;
    }
    add_arcs(haze, table, bands, tube->line.extinction_per_m, &arc, tube->parts, tube->order,
             light);
    finish(haze, bands, &tube->line, &n, light, block);
}

LANES_CLONES void vs_kernel_tube_block(const vs_kernel_haze *haze, const void *job, double from,
                                       double to, vs_kernel_block *block) {
    if (haze->table) {
        tube_block(haze, true, haze->band_count, job, from, to, block);
    } else {
        tube_block(haze, false, haze->band_count, job, from, to, block);
    }
}

LANES_CLONES void vs_kernel_add_places(const vs_kernel_haze *haze, const vs_kernel_view *view,
                                       const vs_kernel_places *places, double *sum) {
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
    for (int band = 0; band < haze->band_count; band++) {
        double phase[LANES], light[LANES], ratio = haze->ratio[band];
        phase_lanes(haze, band, haze->table, cosine, phase);
        EACH_LANE(l) {
            light[l] = weight[l] * phase[l] * lane_exp(-depth[l] * ratio);
        }
        sum[band] += lanes_sum(light);
    }
}
