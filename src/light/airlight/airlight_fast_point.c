/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Point sources: the tasks that airlight_fast_interval.c lays out, eight at a time.
 * Sources: Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519 (the equiangular variable); Henyey &
 * Greenstein 1941. The half-angle substitution and its algebra are in docs/physics.md. */
#include "light/airlight/airlight_fast_point.h"

#include "light/airlight/airlight_fast_phase.h"

#define SINE_SQUARE_MIN 1e-300 /* [1] keeps the logarithm of an angle finite on the axis */
#define HALVINGS_MAX    12     /* of one task */
#define SPREAD_MAX      4      /* this many tasks or fewer are integrated one by one */

/* Eight nodes: place, weight, the exponent of the profile, the optical depth, and the tasks they
 * belong to, field by field. */
typedef struct {
    double t[LANES], factor[LANES], power[LANES], depth[LANES];
    double cosine[LANES], sine[LANES]; /* of v */
    double task[TASK_FIELDS][LANES];
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

/* Cosine of the angle between the direction to a node and a unit vector given by two components. */
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

/* sin^2 of half the angle off the axis. */
LANES_INLINE double sine_square(double cosine) {
    return lane_max(0.5 * (1 - cosine), SINE_SQUARE_MIN);
}

/* ln 2 (angle/half)^2: the square of the angle is that of an arcsine. */
LANES_INLINE void gaussian_profile(const vs_spot *spot, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]);
        double square = sine_square(cosine);
        n->power[l] = LANES_LN_2 * spot->sine_scale * square * lane_arcsine_square(square);
    }
}

/* ln 2 (angle/half)^exponent, via the logarithm of the angle's square. */
LANES_INLINE void power_profile(const vs_spot *spot, nodes *n) {
    EACH_LANE(l) {
        double cosine = way_cosine(n, l, n->task[TASK_ACROSS][l], n->task[TASK_ALONG][l]);
        double square = sine_square(cosine);
        double twice = lane_log(spot->sine_scale * square) + lane_arcsine_square_log(square);
        n->power[l] = LANES_LN_2 * lane_exp(0.5 * spot->exponent * twice);
    }
}

LANES_INLINE void spot_profile(const vs_spot *spot, nodes *n) {
    if (spot->exponent == 2) {
        gaussian_profile(spot, n);
    } else {
        power_profile(spot, n);
    }
}

/* A measured lamp: its two angles in lanes, its table one by one. */
LANES_INLINE void photometry_profile(const vs_fast_points *points, nodes *n) {
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

/* Henyey-Greenstein x transmission x dv/dt. With the forward scale c, S = (1-t)^2 + c^2 (1+t)^2 and
 * C = (1-g)^2 (1-t)^2 + c^2 (1+g)^2 (1+t)^2 the first and last are (1-g^2)/(4 pi) 4c sqrt(S/C)/C,
 * which has no peak left where c = (1-g)/(1+g); 1/C and q share one division. */
LANES_INLINE double measured_lane(const vs_fast_haze *haze, int colour, const nodes *n, int l,
                                  double *depth) {
    double g = haze->g[colour], forward_scale = haze->forward_scale;
    double low = (1 - g) * (1 - g), high = (1 + g) * (1 + g),
           peak = 4 * forward_scale * haze->peak[colour];
    double up = forward_scale * (1 + n->t[l]), down = 1 - n->t[l];
    double up2 = up * up, down2 = down * down;
    double c = low * down2 + high * up2;
    double both = 1 / (c * down), inverse = both * down, q = up * c * both;
    *depth = n->depth[l] + n->task[TASK_PER_Q][l] * q;
    return n->factor[l] * peak * inverse * sqrt((down2 + up2) * inverse);
}

/* What tables share: their place q/(1 + q), dv/dt with the profile, and the optical depth. */
typedef struct {
    double place[LANES], factor[LANES], depth[LANES];
} table_lanes;

LANES_INLINE void set_table_lanes(const vs_fast_haze *haze, const nodes *n, table_lanes *table) {
    double forward_scale = haze->forward_scale;
    EACH_LANE(l) {
        double up = forward_scale * (1 + n->t[l]), down = 1 - n->t[l];
        double square = up * up + down * down;
        double both = 1 / (square * down), q = up * square * both;
        table->place[l] = up / (up + down);
        table->factor[l] = n->factor[l] * 4 * forward_scale * (both * down);
        table->depth[l] = n->depth[l] + n->task[TASK_PER_Q][l] * q;
    }
}

/* Sums: each band's, and the refinement band's two highest Legendre terms. */
typedef struct {
    double sum[VS_FAST_BANDS][LANES], last[LANES], before[LANES];
} lane_sums;

/* Adds the integrand at eight nodes in one colour, phase x profile x dv/dt in `shape`.
 * last, before: weights of the Legendre terms */
LANES_INLINE void add_colour(const vs_fast_haze *haze, int colour, const nodes *n,
                             const double *shape, const double *depth, const double *last,
                             const double *before, lane_sums *sums) {
    for (int step = 0; step < haze->step_count; step++) {
        int band = colour * haze->step_count + step;
        double ratio = haze->ratio[band], value[LANES];
        EACH_LANE(l) {
            value[l] = shape[l] * lane_exp(-depth[l] * ratio - n->power[l]);
            sums->sum[band][l] += value[l];
        }
        if (band == haze->refine_band) {
            EACH_LANE(l) {
                sums->last[l] += last[l] * value[l];
                sums->before[l] += before[l] * value[l];
            }
        }
    }
}

LANES_INLINE void add_colours(const vs_fast_haze *haze, const nodes *n, const double *last,
                              const double *before, lane_sums *sums) {
    double shape[LANES], depth[LANES];
    table_lanes table;
    if (haze->table) {
        set_table_lanes(haze, n, &table);
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
                shape[l] = measured_lane(haze, colour, n, l, &depth[l]);
            }
        }
        add_colour(haze, colour, n, shape, depth, last, before, sums);
    }
}

LANES_INLINE void profile_lanes(const vs_fast_points *points, nodes *n) {
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

LANES_INLINE int field_count(const vs_fast_points *points) {
    return points->crossed                            ? TASK_FIELDS
           : points->profile == VS_PROFILE_PHOTOMETRY ? TASK_CROSSING
                                                      : TASK_SIMPLE_FIELDS;
}

/* Tasks' integrals, and the tails of the refinement band: what is in its highest Legendre terms. */
typedef struct {
    double sum[VS_FAST_BANDS][LANES], tail[LANES];
} task_sums;

LANES_INLINE void add_node(const vs_fast_points *points, nodes *n, const double *last,
                           const double *before, lane_sums *sums) {
    if (points->profile != VS_PROFILE_EVEN || points->crossed) {
        set_angles(points->haze, n);
        profile_lanes(points, n);
    }
    if (points->crossed) {
        add_crossings(points->crossed, n);
    }
    add_colours(points->haze, n, last, before, sums);
}

/* Eight tasks, one per lane, node after node. */
LANES_CLONES static void integrate_tasks(const vs_fast_points *points, int first, task_sums *out) {
    const vs_legendre_rule *rule = points->rule;
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

/* One task, one node per lane: for the remaining tasks. */
LANES_CLONES static void integrate_task(const vs_fast_points *points, int task, int lane,
                                        task_sums *out) {
    const vs_legendre_rule *rule = points->rule;
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

static void copy_task(vs_fast_points *points, int from, int to) {
    int fields = field_count(points);
    for (int f = 0; f < fields; f++) {
        points->task[f][to] = points->task[f][from];
    }
    points->ray[to] = points->ray[from];
    points->level[to] = points->level[from];
}

/* Puts a task's two halves in its place and at the end. */
static void halve_task(vs_fast_points *points, int task, int to) {
    double middle = 0.5 * (points->task[TASK_FROM][task] + points->task[TASK_TO][task]);
    points->level[task]++;
    copy_task(points, task, to);
    points->task[TASK_TO][to] = middle;
    copy_task(points, task, to + 1);
    points->task[TASK_FROM][to + 1] = middle;
}

/* Runs the last eight tasks of the list; those that eight nodes do not resolve are put back
 * halved. */
static void run_tasks(vs_fast_points *points, int lanes) {
    task_sums out;
    int refine_band = points->haze->refine_band;
    int first = points->task_count - lanes;
    if (lanes > SPREAD_MAX) {
        integrate_tasks(points, first, &out);
    } else {
        for (int l = 0; l < lanes; l++) {
            integrate_task(points, first + l, l, &out);
        }
    }
    int halved[LANES], count = 0;
    for (int l = 0; l < lanes; l++) {
        double *sum = points->sum[points->ray[first + l]];
        bool room = first + 2 * (count + 1) <= VS_FAST_TASK_MAX;
        bool fine = out.tail[l] <= points->tail_max * (out.sum[refine_band][l] + sum[refine_band]);
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
        copy_task(points, halved[i], VS_FAST_TASK_MAX + LANES + i);
    }
    for (int i = 0; i < count; i++) {
        halve_task(points, VS_FAST_TASK_MAX + LANES + i, points->task_count);
        points->task_count += 2;
    }
}

void vs_fast_points_run(vs_fast_points *points, bool all) {
    while (points->task_count >= LANES || (all && points->task_count > 0)) {
        int lanes = points->task_count < LANES ? points->task_count : LANES;
        for (int i = lanes; i < LANES && lanes > SPREAD_MAX; i++) {
            copy_task(points, 0, i); /* the contents of empty lanes are not read */
        }
        run_tasks(points, lanes);
    }
}
