/* Point sources: geometry, then nodes, eight at a time.
 * Sources: Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519 (the equiangular variable); Henyey &
 * Greenstein 1941. The half-angle substitution and its algebra are in docs/physics.md. */
#include "light/kernel_point.h"

#define SINE_SQUARE_MIN 1e-300 /* [1] keeps the logarithm of an angle finite on the axis */
#define OFF_MIN_M       1e-300 /* [m] a line through the source has no side */
#define HALVINGS_MAX    12     /* of one task */
#define SPREAD_MAX      4      /* so many tasks or fewer are integrated one by one */
#define TAIL_MAX        0.1    /* [1] of the integral in the highest terms: nodes are enough */
#define TAIL_KINKED_MAX 0.006  /* [1] and for measured lamps, whose tables have kinks */
#define TAIL_BENT_MAX   0.008  /* [1] the same for integrands that bend much */

/* Eight nodes: place, what each counts, the power of e that the profile adds, the optical depth,
 * and the tasks they belong to, field by field. */
typedef struct {
    double t[LANES], factor[LANES], power[LANES], depth[LANES];
    double cosine[LANES], sine[LANES]; /* of v */
    double task[TASK_FIELDS][LANES];
} nodes;

/* The equiangular angle at the nodes. */
LANES_INLINE void turn_nodes(const vs_kernel_haze *haze, nodes *n) {
    double gather = haze->gather;
    EACH_LANE(l) {
        double up = gather * (1 + n->t[l]), down = 1 - n->t[l];
        double inverse = 1 / (up * up + down * down);
        n->cosine[l] = 2 * up * down * inverse;
        n->sine[l] = (up - down) * (up + down) * inverse;
    }
}

/* Cosine of the angle between the way to a node and a unit vector given by two components. */
LANES_INLINE double way_cosine(const nodes *n, int l, double across, double along) {
    return across * n->cosine[l] + along * n->sine[l];
}

LANES_INLINE void cosine_profile(nodes *n) {
    EACH_LANE(l) {
        n->factor[l] *=
            lane_max(0, way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]));
    }
}

LANES_INLINE void sine_profile(nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]);
        n->factor[l] *= sqrt(lane_max(0, 1 - cosine * cosine));
    }
}

/* sin^2 of half the angle off the axis; of a quarter of it for a wide spot, so that the
 * polynomials' range is enough. */
LANES_INLINE double sine_square(double cosine, bool wide) {
    double square = lane_max(0.5 * (1 - cosine), SINE_SQUARE_MIN);
    return wide ? square / (2 + 2 * sqrt(lane_max(0, 1 - square))) : square;
}

/* ln 2 (angle/half)^2: the square of the angle is that of an arcsine. */
LANES_INLINE void gaussian_profile(const vs_spot *spot, bool wide, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]);
        double square = sine_square(cosine, wide);
        n->power[l] = LANES_LN_2 * spot->sine_scale * square * lane_arcsine_square(square);
    }
}

/* ln 2 (angle/half)^exponent, by way of the logarithm of the angle's square. */
LANES_INLINE void power_profile(const vs_spot *spot, bool wide, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]);
        double square = sine_square(cosine, wide);
        double twice = lane_log(spot->sine_scale * square) + lane_arcsine_square_log(square);
        n->power[l] = LANES_LN_2 * lane_exp(0.5 * spot->exponent * twice);
    }
}

LANES_INLINE void spot_profile(const vs_spot *spot, nodes *n) {
    bool gaussian = spot->exponent == 2;
    if (gaussian && spot->wide) {
        gaussian_profile(spot, true, n);
    } else if (gaussian) {
        gaussian_profile(spot, false, n);
    } else if (spot->wide) {
        power_profile(spot, true, n);
    } else {
        power_profile(spot, false, n);
    }
}

/* A measured lamp: its two angles in lanes, its table one by one. */
LANES_INLINE void photometry_profile(const vs_kernel_points *points, nodes *n) {
    double vertical[LANES], horizontal[LANES];
    EACH_LANE(l) {
        double z = way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]);
        double x = way_cosine(n, l, n->task[TASK_C0_ACROSS][l], n->task[TASK_C0_ALONG][l]);
        double y = way_cosine(n, l, n->task[TASK_C90_ACROSS][l], n->task[TASK_C90_ALONG][l]);
        vertical[l] = lane_atan2_upper(sqrt(x * x + y * y), z);
        double turn = lane_atan2_upper(fabs(y), x);
        horizontal[l] = y < 0 ? -turn : turn;
    }
    for (int l = 0; l < LANES; l++) {
        n->factor[l] *=
            vs_photometric_candela_at(points->emitter->table, vertical[l], horizontal[l]);
    }
}

LANES_INLINE void add_crossings(int count, nodes *n) {
    for (int i = 0; i < count; i++) {
        const double *change = n->task[TASK_CROSSING + 3 * i];
        const double *across = n->task[TASK_CROSSING + 3 * i + 1];
        const double *along = n->task[TASK_CROSSING + 3 * i + 2];
        EACH_LANE(l) {
            n->depth[l] += change[l] / way_cosine(n, l, across[l], along[l]);
        }
    }
}

/* Henyey-Greenstein x transmission x dv/dt. With gather c, S = (1-t)^2 + c^2 (1+t)^2 and
 * C = (1-g)^2 (1-t)^2 + c^2 (1+g)^2 (1+t)^2 the first and last are (1-g^2)/(4 pi) 4c sqrt(S/C)/C,
 * which has no peak left where c = (1-g)/(1+g); 1/C and q share one division. */
LANES_INLINE double measured_lane(const vs_kernel_haze *haze, int band, const nodes *n, int l) {
    double g = haze->g[band], gather = haze->gather;
    double low = (1 - g) * (1 - g), high = (1 + g) * (1 + g), peak = 4 * gather * haze->peak[band];
    double up = gather * (1 + n->t[l]), down = 1 - n->t[l];
    double up2 = up * up, down2 = down * down;
    double c = low * down2 + high * up2;
    double both = 1 / (c * down), inverse = both * down, q = up * c * both;
    double depth = n->depth[l] + n->task[TASK_PER_Q][l] * q;
    return n->factor[l] * peak * inverse * sqrt((down2 + up2) * inverse) *
           lane_exp(-depth * haze->ratio[band] - n->power[l]);
}

/* Values of a table left and right of the nodes; their place is q/(1 + q). */
typedef struct {
    double low[LANES], high[LANES], share[LANES];
} table_lanes;

LANES_INLINE void look_up(const vs_kernel_haze *haze, int band, const nodes *n,
                          table_lanes *table) {
    const double *value = haze->value[band];
    double last = haze->last[band], gather = haze->gather;
    int left[LANES];
    EACH_LANE(l) {
        double up = gather * (1 + n->t[l]), down = 1 - n->t[l];
        double place = up / (up + down) * last;
        left[l] = (int)lane_min(place, last - 1);
        table->share[l] = place - (double)left[l];
    }
    for (int l = 0; l < LANES; l++) {
        table->low[l] = value[left[l]];
        table->high[l] = value[left[l] + 1];
    }
}

/* Table x transmission x dv/dt. */
LANES_INLINE double table_lane(const vs_kernel_haze *haze, int band, const nodes *n,
                               const table_lanes *table, int l) {
    double gather = haze->gather, up = gather * (1 + n->t[l]), down = 1 - n->t[l];
    double square = up * up + down * down;
    double both = 1 / (square * down), q = up * square * both;
    double phase = table->low[l] + table->share[l] * (table->high[l] - table->low[l]);
    double depth = n->depth[l] + n->task[TASK_PER_Q][l] * q;
    return n->factor[l] * 4 * gather * (both * down) * phase *
           lane_exp(-depth * haze->ratio[band] - n->power[l]);
}

/* Sums in the making: each band's, and the guide band's two highest Legendre terms. */
typedef struct {
    double sum[VS_BAND_COUNT][LANES], last[LANES], before[LANES];
} lane_sums;

/* Adds the integrand at eight nodes in one band. last, before: weights of the Legendre terms */
LANES_INLINE void add_band(const vs_kernel_haze *haze, int band, const nodes *n, const double *last,
                           const double *before, lane_sums *sums) {
    double value[LANES];
    if (haze->table) {
        table_lanes table;
        look_up(haze, band, n, &table);
        EACH_LANE(l) {
            value[l] = table_lane(haze, band, n, &table, l);
            sums->sum[band][l] += value[l];
        }
    } else {
        EACH_LANE(l) {
            value[l] = measured_lane(haze, band, n, l);
            sums->sum[band][l] += value[l];
        }
    }
    if (band == haze->guide) {
        EACH_LANE(l) {
            sums->last[l] += last[l] * value[l];
            sums->before[l] += before[l] * value[l];
        }
    }
}

LANES_INLINE void profile_lanes(const vs_kernel_points *points, nodes *n) {
    switch (points->profile) {
    case VS_PROFILE_EVEN:
        break;
    case VS_PROFILE_COSINE:
        cosine_profile(n);
        break;
    case VS_PROFILE_SINE:
        sine_profile(n);
        break;
    case VS_PROFILE_SPOT:
        spot_profile(&points->emitter->spot, n);
        break;
    case VS_PROFILE_PHOTOMETRY:
        photometry_profile(points, n);
        break;
    }
}

LANES_INLINE int field_count(const vs_kernel_points *points) {
    return points->crossed                            ? TASK_FIELDS
           : points->profile == VS_PROFILE_PHOTOMETRY ? TASK_CROSSING
                                                      : TASK_SIMPLE_FIELDS;
}

/* Tasks' integrals, and the tails of the guide band: what is in its highest Legendre terms. */
typedef struct {
    double sum[VS_BAND_COUNT][LANES], tail[LANES];
} task_sums;

LANES_INLINE void add_node(const vs_kernel_points *points, nodes *n, const double *last,
                           const double *before, lane_sums *sums) {
    if (points->profile != VS_PROFILE_EVEN || points->crossed) {
        turn_nodes(points->haze, n);
        profile_lanes(points, n);
    }
    if (points->crossed) {
        add_crossings(points->crossed, n);
    }
    for (int band = 0; band < points->haze->band_count; band++) {
        add_band(points->haze, band, n, last, before, sums);
    }
}

/* Eight tasks, one a lane, node after node. */
LANES_CLONES static void integrate_tasks(const vs_kernel_points *points, int first,
                                         task_sums *out) {
    const vs_kernel_rule *rule = points->rule;
    nodes n;
    lane_sums sums = {{{0}}, {0}, {0}};
    double middle[LANES], half[LANES], last[LANES], before[LANES];
    for (int f = 0; f < field_count(points); f++) {
        EACH_LANE(l) {
            n.task[f][l] = points->task[f][first + l];
        }
    }
    EACH_LANE(l) {
        /* Every field below field_count is set above, and these are the first: */
        /* cppcheck-suppress uninitvar */
        /* NOLINTNEXTLINE(clang-analyzer-core.UndefinedBinaryOperatorResult) */
        middle[l] = 0.5 * (n.task[TASK_FROM][l] + n.task[TASK_TO][l]);
        half[l] = 0.5 * (n.task[TASK_TO][l] - n.task[TASK_FROM][l]);
        n.power[l] = 0;
    }
    for (int k = 0; k < rule->count; k++) {
        EACH_LANE(l) {
            n.t[l] = middle[l] + half[l] * rule->node[k];
            n.factor[l] = half[l] * rule->weight[k] * n.task[TASK_SCALE][l];
            n.depth[l] = n.task[TASK_DEPTH][l];
            last[l] = rule->last[k];
            before[l] = rule->before[k];
        }
        add_node(points, &n, last, before, &sums);
    }
    EACH_LANE(l) {
        out->tail[l] = fabs(sums.last[l]) + fabs(sums.before[l]);
    }
    memcpy(out->sum, sums.sum, sizeof out->sum);
}

/* One task, a node a lane: for what is left over. */
LANES_CLONES static void integrate_task(const vs_kernel_points *points, int task, int lane,
                                        task_sums *out) {
    const vs_kernel_rule *rule = points->rule;
    nodes n;
    lane_sums sums = {{{0}}, {0}, {0}};
    for (int f = 0; f < field_count(points); f++) {
        double same = points->task[f][task];
        EACH_LANE(l) {
            n.task[f][l] = same;
        }
    }
    EACH_LANE(l) {
        /* Every field below field_count is set above, and these are the first: */
        /* cppcheck-suppress uninitvar */
        /* NOLINTNEXTLINE(clang-analyzer-core.UndefinedBinaryOperatorResult) */
        double middle = 0.5 * (n.task[TASK_FROM][l] + n.task[TASK_TO][l]);
        double half = 0.5 * (n.task[TASK_TO][l] - n.task[TASK_FROM][l]);
        n.t[l] = middle + half * rule->node[l];
        n.factor[l] = half * rule->weight[l] * n.task[TASK_SCALE][l];
        n.depth[l] = n.task[TASK_DEPTH][l];
        n.power[l] = 0;
    }
    add_node(points, &n, rule->last, rule->before, &sums);
    for (int band = 0; band < points->haze->band_count; band++) {
        out->sum[band][lane] = lanes_sum(sums.sum[band]);
    }
    out->tail[lane] = fabs(lanes_sum(sums.last)) + fabs(lanes_sum(sums.before));
}

static void copy_task(vs_kernel_points *points, int from, int to) {
    int fields = field_count(points);
    for (int f = 0; f < fields; f++) {
        points->task[f][to] = points->task[f][from];
    }
    points->ray[to] = points->ray[from];
    points->level[to] = points->level[from];
}

/* Puts a task's two halves in its place and at the end. */
static void halve_task(vs_kernel_points *points, int task, int to) {
    double middle = 0.5 * (points->task[TASK_FROM][task] + points->task[TASK_TO][task]);
    points->level[task]++;
    copy_task(points, task, to);
    points->task[TASK_TO][to] = middle;
    copy_task(points, task, to + 1);
    points->task[TASK_FROM][to + 1] = middle;
}

/* Whether an integrand bends much: beams and measured lamps do, and so do hazes with tables. */
static bool needs_most(const vs_kernel_haze *haze, vs_profile_kind profile) {
    return haze->table || profile == VS_PROFILE_SPOT || profile == VS_PROFILE_PHOTOMETRY;
}

/* Runs the last eight tasks of the list; those that eight nodes do not resolve come back halved. */
static void run_tasks(vs_kernel_points *points, int lanes) {
    task_sums out;
    int guide = points->haze->guide;
    int first = points->task_count - lanes;
    if (lanes > SPREAD_MAX) {
        integrate_tasks(points, first, &out);
    } else {
        for (int l = 0; l < lanes; l++) {
            integrate_task(points, first + l, l, &out);
        }
    }
    double tail_max = points->profile == VS_PROFILE_PHOTOMETRY    ? TAIL_KINKED_MAX
                      : needs_most(points->haze, points->profile) ? TAIL_BENT_MAX
                                                                  : TAIL_MAX;
    int halved[LANES], count = 0;
    for (int l = 0; l < lanes; l++) {
        double *sum = points->sum[points->ray[first + l]];
        bool room = first + 2 * (count + 1) <= VS_KERNEL_TASK_MAX;
        bool fine = out.tail[l] <= tail_max * (out.sum[guide][l] + sum[guide]);
        if (fine || !room || points->level[first + l] == HALVINGS_MAX) {
            for (int band = 0; band < points->haze->band_count; band++) {
                sum[band] += out.sum[band][l];
            }
        } else {
            halved[count++] = first + l;
        }
    }
    *points->haze->nodes += (size_t)(lanes * points->rule->count);
    points->task_count = first;
    if (count == 0) {
        return;
    }
    /* the halves overwrite the tasks they come from: set them aside first */
    for (int i = 0; i < count; i++) {
        copy_task(points, halved[i], VS_KERNEL_TASK_MAX + LANES + i);
    }
    for (int i = 0; i < count; i++) {
        halve_task(points, VS_KERNEL_TASK_MAX + LANES + i, points->task_count);
        points->task_count += 2;
    }
}

/* Runs tasks while there are eight, or all of them. */
static void run(vs_kernel_points *points, bool all) {
    while (points->task_count >= LANES || (all && points->task_count > 0)) {
        int lanes = points->task_count < LANES ? points->task_count : LANES;
        for (int i = lanes; i < LANES && lanes > SPREAD_MAX; i++) {
            copy_task(points, 0, i); /* what fills the empty lanes is not read */
        }
        run_tasks(points, lanes);
    }
}

/* Eight stretches in t. */
typedef struct {
    double from[LANES], to[LANES], depth[LANES], per_q[LANES], scale[LANES];
    double across[LANES], along[LANES], unit[3][LANES];
    double low[LANES], high[LANES], tip[LANES], shoulder[2][LANES], square[LANES];
} stretches_in_t;

/* t where tan v is known: q = tan v + sec v, t = (q - gather)/(q + gather). */
LANES_INLINE double t_of_tangent(double tangent, double gather) {
    double secant = sqrt(1 + tangent * tangent);
    /* q of a negative angle is 1/(sec + |tan|) */
    double q = secant + fabs(tangent);
    double top = tangent < 0 ? 1 - gather * q : q - gather;
    double bottom = tangent < 0 ? 1 + gather * q : q + gather;
    return top / bottom;
}

/* t where q = top/bottom. */
LANES_INLINE double t_of_ratio(double top, double bottom, double gather) {
    return (top - gather * bottom) / lane_divisor(top + gather * bottom);
}

/* Where the angle off the axis has a cosine: across sin + along (-cos) of the scattering angle, a
 * quadratic in q: (along - c) q^2 + 2 across q - (along + c) = 0. t as stable pair of roots; NaN
 * where there is none. */
LANES_INLINE void cone_roots(double across, double along, double cosine, double gather, double *one,
                             double *other) {
    double sum = along + cosine, difference = along - cosine;
    double root = sqrt(across * across + sum * difference);
    double k = across < 0 ? root - across : -across - root;
    *one = t_of_ratio(k, difference, gather);
    *other = t_of_ratio(-sum, k, gather);
}

/* A surface's point lights only what is before its plane, where across cos v + along sin v > 0:
 * past tan v = -across/along on the one side or the other. */
LANES_INLINE void clip_to_front(stretches_in_t *s, double gather) {
    EACH_LANE(l) {
        double across = s->across[l], along = s->along[l];
        double plane = t_of_tangent(-across / lane_divisor(along), gather);
        double from = along > 0 ? lane_max(plane, s->from[l]) : s->from[l];
        double to = along < 0 ? lane_min(plane, s->to[l]) : s->to[l];
        s->from[l] = from;
        s->to[l] = along == 0 && across <= 0 ? s->from[l] : to;
    }
}

LANES_CLONES static void place_stretches(const vs_kernel_points *points, stretches_in_t *out) {
    const double *ox = points->offset_m[0], *oy = points->offset_m[1], *oz = points->offset_m[2];
    const double *dx = points->direction[0], *dy = points->direction[1];
    const double *dz = points->direction[2];
    vs_vec3 axis = points->emitter->axis;
    double gather = points->haze->gather, apart_min = points->apart_min_m;
    EACH_LANE(l) {
        double foot = -(ox[l] * dx[l] + oy[l] * dy[l] + oz[l] * dz[l]);
        double x = ox[l] + foot * dx[l], y = oy[l] + foot * dy[l], z = oz[l] + foot * dz[l];
        double off = sqrt(x * x + y * y + z * z);
        double inverse = 1 / lane_max(off, OFF_MIN_M), apart = lane_max(off, apart_min);
        double unit_apart = lane_min(inverse, 1 / apart_min);
        out->unit[0][l] = x * inverse;
        out->unit[1][l] = y * inverse;
        out->unit[2][l] = z * inverse;
        out->across[l] = (x * axis.x + y * axis.y + z * axis.z) * inverse;
        out->along[l] = dx[l] * axis.x + dy[l] * axis.y + dz[l] * axis.z;
        out->from[l] = t_of_tangent((points->from_m[l] - foot) * unit_apart, gather);
        out->to[l] = t_of_tangent((points->to_m[l] - foot) * unit_apart, gather);
        out->depth[l] = points->depth[l] + points->extinction_per_m[l] * foot;
        out->per_q[l] = points->extinction_per_m[l] * apart;
        out->scale[l] = points->scale[l] * unit_apart;
    }
    if (points->profile == VS_PROFILE_COSINE) {
        clip_to_front(out, gather);
    }
    if (points->profile != VS_PROFILE_SPOT) {
        return;
    }
    double cutoff = points->emitter->spot.cutoff_cosine, half = points->emitter->spot.half_cosine;
    EACH_LANE(l) {
        double across = out->across[l], along = out->along[l];
        cone_roots(across, along, cutoff, gather, &out->low[l], &out->high[l]);
        /* least angle off the axis: tan v = along/across */
        double length = sqrt(across * across + along * along);
        out->tip[l] = t_of_ratio(length + along, across, gather);
    }
    if (points->emitter->spot.exponent > 2) {
        EACH_LANE(l) {
            cone_roots(out->across[l], out->along[l], half, gather, &out->shoulder[0][l],
                       &out->shoulder[1][l]);
        }
    }
}

/* Cosines of a unit vector in the plane of source and line, for a task's fields. */
static void set_cosines(vs_kernel_points *points, const stretches_in_t *s, int l, int task,
                        int field, vs_vec3 v) {
    points->task[field][task] = v.x * s->unit[0][l] + v.y * s->unit[1][l] + v.z * s->unit[2][l];
    points->task[field + 1][task] = v.x * points->direction[0][l] + v.y * points->direction[1][l] +
                                    v.z * points->direction[2][l];
}

static void set_crossings(vs_kernel_points *points, const stretches_in_t *s, int l, int task) {
    for (size_t k = 0; k < VS_SHAFT_CROSSING_MAX; k++) {
        const vs_shaft_crossing *c = &points->crossing[l][k];
        int field = TASK_CROSSING + 3 * (int)k;
        if (k < points->crossing_count[l]) {
            points->task[field][task] = c->change_per_m * c->off_m;
            set_cosines(points, s, l, task, field + 1, c->normal);
        } else { /* a change of nothing, at a cosine that is never 0 */
            points->task[field][task] = 0;
            points->task[field + 1][task] = 1;
            points->task[field + 2][task] = 0;
        }
    }
}

static void add_task(vs_kernel_points *points, const stretches_in_t *s, int l, double from,
                     double to) {
    int i = points->task_count++;
    points->task[TASK_FROM][i] = from;
    points->task[TASK_TO][i] = to;
    points->task[TASK_DEPTH][i] = s->depth[l];
    points->task[TASK_PER_Q][i] = s->per_q[l];
    points->task[TASK_SCALE][i] = s->scale[l];
    points->task[TASK_ACROSS][i] = s->across[l];
    points->task[TASK_ALONG][i] = s->along[l];
    points->ray[i] = points->stretch_ray[l];
    points->level[i] = 0;
    if (points->profile == VS_PROFILE_PHOTOMETRY) {
        set_cosines(points, s, l, i, TASK_C0_ACROSS, points->emitter->frame.c0);
        set_cosines(points, s, l, i, TASK_C90_ACROSS, points->emitter->frame.c90);
    }
    if (points->crossed) {
        set_crossings(points, s, l, i);
    }
}

/* A lit part of a spot's stretch, cut where the profile bends most. */
static void add_spot_part(vs_kernel_points *points, const stretches_in_t *s, int l, double from,
                          double to) {
    double cut[4], at = from;
    int count = 0;
    if (!(from < to)) {
        return;
    }
    if (points->emitter->spot.exponent > 2) { /* a flat top: its shoulders */
        cut[count++] = fmin(s->shoulder[0][l], s->shoulder[1][l]);
        cut[count++] = s->tip[l];
        cut[count++] = fmax(s->shoulder[0][l], s->shoulder[1][l]);
    } else {
        cut[count++] = s->tip[l];
    }
    for (int i = 0; i < count; i++) {
        if (cut[i] > at && cut[i] < to) {
            add_task(points, s, l, at, cut[i]);
            at = cut[i];
        }
    }
    add_task(points, s, l, at, to);
}

static void add_spot_tasks(vs_kernel_points *points, const stretches_in_t *s, int l) {
    double from = s->from[l], to = s->to[l];
    double low = fmin(s->low[l], s->high[l]), high = fmax(s->low[l], s->high[l]);
    /* sign of the cone's quadratic far out in t: between its roots or outside it is lit */
    double c = points->emitter->spot.cutoff_cosine, gather = points->haze->gather;
    bool outside = gather * ((s->along[l] - c) * gather - 2 * s->across[l]) - (s->along[l] + c) > 0;
    if (!(low <= high)) { /* the line meets no edge of the cone */
        if (outside) {
            add_spot_part(points, s, l, from, to);
        }
    } else if (!outside) {
        add_spot_part(points, s, l, fmax(from, low), fmin(to, high));
    } else {
        add_spot_part(points, s, l, from, fmin(to, low));
        add_spot_part(points, s, l, fmax(from, high), to);
    }
}

static void flush_stretches(vs_kernel_points *points) {
    stretches_in_t s;
    place_stretches(points, &s);
    for (int l = 0; l < points->stretch_count; l++) {
        if (points->profile == VS_PROFILE_SPOT) {
            add_spot_tasks(points, &s, l);
        } else if (points->haze->table && s.from[l] < 0 && s.to[l] > 0) {
            /* a table's peak and its rest apart */
            add_task(points, &s, l, s.from[l], 0);
            add_task(points, &s, l, 0, s.to[l]);
        } else if (s.from[l] < s.to[l]) {
            add_task(points, &s, l, s.from[l], s.to[l]);
        }
    }
    points->stretch_count = 0;
    run(points, false);
}

/* How many nodes: a bare lamp's measured haze is smooth once gathered. */
static int order_for(const vs_kernel_haze *haze, vs_profile_kind profile) {
    return needs_most(haze, profile) ? 8 : profile != VS_PROFILE_EVEN ? 6 : 5;
}

void vs_kernel_points_begin(vs_kernel_points *points, const vs_kernel_haze *haze,
                            const vs_emitter *emitter, vs_profile_kind profile,
                            double (*sum)[VS_BAND_COUNT]) {
    points->haze = haze;
    points->emitter = emitter;
    points->profile = profile;
    points->rule = &vs_kernel_rules[order_for(haze, profile)];
    points->apart_min_m =
        emitter->kind == VS_EMITTER_POINT ? VS_SHAFT_APART_MIN_M : VS_SHAFT_PIECE_APART_MIN_M;
    points->crossed = 0;
    points->stretch_count = points->task_count = 0;
    points->sum = sum;
    /* lanes that stay empty are computed with: they must hold numbers */
    memset(points->offset_m, 0, sizeof points->offset_m);
    memset(points->direction, 0, sizeof points->direction);
    memset(points->from_m, 0, sizeof points->from_m);
    memset(points->to_m, 0, sizeof points->to_m);
    memset(points->extinction_per_m, 0, sizeof points->extinction_per_m);
    memset(points->depth, 0, sizeof points->depth);
    memset(points->scale, 0, sizeof points->scale);
}

static void set_vector(double lane[3][LANES], int l, vs_vec3 v) {
    lane[0][l] = v.x;
    lane[1][l] = v.y;
    lane[2][l] = v.z;
}

void vs_kernel_points_add(vs_kernel_points *points, size_t ray, const vs_sight *sight,
                          const vs_sight_piece *piece, vs_vec3 source_m, const vs_shaft *shaft,
                          double scale) {
    if (shaft->crossing_count > 0 && !points->crossed) {
        vs_kernel_points_end(points); /* tasks until now hold no crossings */
    }
    if (points->crossed < (int)shaft->crossing_count) {
        points->crossed = (int)shaft->crossing_count;
    }
    int l = points->stretch_count++;
    set_vector(points->offset_m, l, vs_vec3_sub(sight->at_m, source_m));
    set_vector(points->direction, l, sight->direction);
    points->from_m[l] = shaft->from_m;
    points->to_m[l] = shaft->to_m;
    points->extinction_per_m[l] = piece->extinction_per_m;
    points->depth[l] = piece->depth - piece->extinction_per_m * piece->from_m;
    points->scale[l] = scale * piece->open * shaft->transmittance * piece->extinction_per_m;
    points->crossing_count[l] = shaft->crossing_count;
    for (size_t i = 0; i < shaft->crossing_count; i++) {
        points->crossing[l][i] = shaft->crossing[i];
    }
    points->stretch_ray[l] = ray;
    if (points->stretch_count == LANES) {
        flush_stretches(points);
    }
}

void vs_kernel_points_end(vs_kernel_points *points) {
    if (points->stretch_count > 0) {
        flush_stretches(points);
    }
    run(points, true);
}
