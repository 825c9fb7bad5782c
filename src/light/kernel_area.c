/* Eight points of a line at once, each lit by a whole rectangle or tube: Gauss-Legendre over the
 * emitter's solid angle, so that nothing is singular however near the line passes.
 * Sources: Lambert 1760 (a surface of even radiance); the equal-area cylindrical projection of the
 * sphere (Archimedes; Snyder 1987, Map Projections, USGS PP 1395, ch. 10). */
#include "light/kernel_area.h"

#include "light/kernel_rules.h"

#define PLANE_MIN_M 1e-9  /* [m] a point in the plane itself is held this far off */
#define SINE2_MIN   1e-30 /* [1] keeps a ratio of nothings at straight back from being NaN */

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

/* One strip of directions: fixed angle psi, y from one end of the part to the other. */
LANES_INLINE void add_strip(const vs_kernel_haze *haze, bool table, int bands,
                            const vs_kernel_rect *rect, const rect_places *p, const double *tau,
                            const double *strip_weight, const double *low_m, const double *high_m,
                            double (*light)[LANES]) {
    const vs_kernel_rule *rule = &vs_kernel_rules[rect->order];
    double reach_m[LANES], slant[LANES], middle[LANES], half[LANES];
    EACH_LANE(l) {
        double inverse = 1 / (1 + tau[l] * tau[l]);
        double cosine = (1 - tau[l] * tau[l]) * inverse, sine = 2 * tau[l] * inverse;
        double reach = p->z_m[l] / cosine;
        double low = low_m[l] - p->p_m[l], high = high_m[l] - p->p_m[l];
        double y_low = low / sqrt(low * low + reach * reach);
        double y_high = high / sqrt(high * high + reach * reach);
        reach_m[l] = reach;
        slant[l] = sine * p->along_q[l] - cosine * rect->along_z;
        middle[l] = 0.5 * (y_high + y_low);
        half[l] = 0.5 * (y_high - y_low);
    }
    for (int i = 0; i < rule->count; i++) {
        double cosine[LANES], way_m[LANES], weight[LANES];
        EACH_LANE(l) {
            double y = middle[l] + half[l] * rule->node[i];
            double across = sqrt(lane_max(1 - y * y, SINE2_MIN));
            cosine[l] = y * p->along_p[l] + across * slant[l];
            way_m[l] = reach_m[l] / across;
            weight[l] = strip_weight[l] * rule->weight[i] * half[l];
        }
        add_direction(haze, table, bands, rect->line.extinction_per_m, cosine, way_m, weight,
                      light);
    }
}

LANES_INLINE void add_part(const vs_kernel_haze *haze, bool table, int bands,
                           const vs_kernel_rect *rect, const rect_places *p, int part_u, int part_v,
                           double (*light)[LANES]) {
    const vs_kernel_rule *rule = &vs_kernel_rules[rect->order];
    double low_u = rect->cut_u_m[part_u], high_u = rect->cut_u_m[part_u + 1];
    double low_v = rect->cut_v_m[part_v], high_v = rect->cut_v_m[part_v + 1];
    double middle[LANES], half[LANES], tau[LANES], weight[LANES], low_p[LANES], high_p[LANES];
    EACH_LANE(l) {
        low_p[l] = p->turned[l] ? low_v : low_u;
        high_p[l] = p->turned[l] ? high_v : high_u;
        /* tan(psi/2) at the part's ends */
        double z = p->z_m[l];
        double low = (p->turned[l] ? low_u : low_v) - p->q_m[l];
        double high = (p->turned[l] ? high_u : high_v) - p->q_m[l];
        double tau_low = low / (z + sqrt(z * z + low * low));
        double tau_high = high / (z + sqrt(z * z + high * high));
        middle[l] = 0.5 * (tau_high + tau_low);
        half[l] = 0.5 * (tau_high - tau_low);
    }
    for (int i = 0; i < rule->count; i++) {
        EACH_LANE(l) {
            tau[l] = middle[l] + half[l] * rule->node[i];
            weight[l] = rule->weight[i] * half[l] * 2 / (1 + tau[l] * tau[l]);
        }
        add_strip(haze, table, bands, rect, p, tau, weight, low_p, high_p, light);
    }
}

LANES_INLINE void rect_block(const vs_kernel_haze *haze, bool table, int bands,
                             const vs_kernel_rect *rect, double from, double to,
                             vs_kernel_block *block) {
    line_nodes n;
    rect_places p;
    double light[VS_BAND_COUNT][LANES] = {{0}};
    double half_u_m = rect->cut_u_m[rect->part_u_count];
    double half_v_m = rect->cut_v_m[rect->part_v_count];
    place_on_line(&rect->line, from, to, &n);
    EACH_LANE(l) {
        double u = rect->at_u_m + rect->along_u * n.distance_m[l];
        double v = rect->at_v_m + rect->along_v * n.distance_m[l];
        bool turned = fabs(u) - half_u_m > fabs(v) - half_v_m;
        p.turned[l] = turned;
        p.p_m[l] = turned ? v : u;
        p.q_m[l] = turned ? u : v;
        p.along_p[l] = turned ? rect->along_v : rect->along_u;
        p.along_q[l] = turned ? rect->along_u : rect->along_v;
        p.z_m[l] = lane_max(rect->at_z_m + rect->along_z * n.distance_m[l], PLANE_MIN_M);
    }
    for (int i = 0; i < rect->part_u_count * rect->part_v_count; i++) {
        add_part(haze, table, bands, rect, &p, i % rect->part_u_count, i / rect->part_u_count,
                 light);
    }
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
    const vs_kernel_rule *rule = &vs_kernel_rules[tube->order];
    line_nodes n;
    double place_m[LANES], off_m[LANES], toward[LANES];
    double light[VS_BAND_COUNT][LANES] = {{0}};
    place_on_line(&tube->line, from, to, &n);
    EACH_LANE(l) {
        double from_nearest_m = n.distance_m[l] - tube->nearest_m;
        off_m[l] = sqrt(tube->apart_m2 + tube->across2 * from_nearest_m * from_nearest_m);
        place_m[l] = tube->at_m + tube->along * n.distance_m[l];
        toward[l] = -tube->across2 * from_nearest_m / off_m[l];
        n.weight[l] /= off_m[l];
    }
    for (int part = 0; part < tube->part_count; part++) {
        double middle[LANES], half[LANES];
        EACH_LANE(l) {
            double low = tube->cut_m[part] - place_m[l], high = tube->cut_m[part + 1] - place_m[l];
            double y_low = low / sqrt(low * low + off_m[l] * off_m[l]);
            double y_high = high / sqrt(high * high + off_m[l] * off_m[l]);
            middle[l] = 0.5 * (y_high + y_low);
            half[l] = 0.5 * (y_high - y_low);
        }
        for (int i = 0; i < tube->order; i++) {
            double cosine[LANES], way_m[LANES], weight[LANES];
            EACH_LANE(l) {
                double y = middle[l] + half[l] * rule->node[i];
                double across = sqrt(lane_max(1 - y * y, SINE2_MIN));
                cosine[l] = y * tube->along + across * toward[l];
                way_m[l] = off_m[l] / across;
                weight[l] = rule->weight[i] * half[l];
            }
            add_direction(haze, table, bands, tube->line.extinction_per_m, cosine, way_m, weight,
                          light);
        }
    }
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
