/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Point sources: geometry. Intervals of lines, eight at a time, become tasks in t = tan(v/2), cut
 * where their integrand bends.
 * Sources: Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519 (the equiangular variable). The
 * half-angle substitution and its algebra are in docs/physics.md. */
#include "light/airlight/airlight_fast_interval.h"

#define OFF_MIN_M       1e-300 /* [m] a line through the source defines no plane */
#define TAIL_MAX        0.1    /* [1] of the integral in the highest terms: nodes are enough */
#define TAIL_KINKED_MAX 0.003  /* [1] the same for measured lamps, whose tables have kinks */
#define TAIL_BENT_MAX   0.008  /* [1] the same for integrands that bend much */

/* Eight intervals in t. */
typedef struct {
    double from[LANES], to[LANES], depth[LANES], per_q[LANES], scale[LANES];
    double across[LANES], along[LANES], unit[3][LANES];
    double low[LANES], high[LANES], tip[LANES], shoulder[2][LANES], square[LANES];
} intervals_in_t;

/* t where tan v is known: q = tan v + sec v, t = (q - scale)/(q + scale). */
LANES_INLINE double t_of_tangent(double tangent, double forward_scale) {
    double secant = sqrt(1 + tangent * tangent);
    /* q of a negative angle is 1/(sec + |tan|) */
    double q = secant + fabs(tangent);
    double top = tangent < 0 ? 1 - forward_scale * q : q - forward_scale;
    double bottom = tangent < 0 ? 1 + forward_scale * q : q + forward_scale;
    return top / bottom;
}

/* t where q = top/bottom. */
LANES_INLINE double t_of_ratio(double top, double bottom, double forward_scale) {
    return (top - forward_scale * bottom) / lane_divisor(top + forward_scale * bottom);
}

/* Where the angle off the axis has a given cosine: across sin + along (-cos) of the scattering
 * angle, a quadratic in q: (along - c) q^2 + 2 across q - (along + c) = 0. t by the stable pair of
 * roots; NaN if there is none. */
LANES_INLINE void cone_roots(double across, double along, double cosine, double forward_scale,
                             double *one, double *other) {
    double sum = along + cosine, difference = along - cosine;
    double root = sqrt(across * across + sum * difference);
    double k = across < 0 ? root - across : -across - root;
    *one = t_of_ratio(k, difference, forward_scale);
    *other = t_of_ratio(-sum, k, forward_scale);
}

/* A point of a surface lights only what is in front of its plane, where across cos v + along sin v
 * > 0: beyond tan v = -across/along on one side or the other. */
LANES_INLINE void clip_to_front(intervals_in_t *s, double forward_scale) {
    EACH_LANE(l) {
        double across = s->across[l], along = s->along[l];
        double plane = t_of_tangent(-across / lane_divisor(along), forward_scale);
        double from = along > 0 ? lane_max(plane, s->from[l]) : s->from[l];
        double to = along < 0 ? lane_min(plane, s->to[l]) : s->to[l];
        s->from[l] = from;
        s->to[l] = along == 0 && across <= 0 ? s->from[l] : to;
    }
}

LANES_CLONES static void intervals_to_t(const vs_fast_points *points, intervals_in_t *out) {
    const double *ox = points->offset_m[0], *oy = points->offset_m[1], *oz = points->offset_m[2];
    const double *dx = points->direction[0], *dy = points->direction[1];
    const double *dz = points->direction[2];
    vs_vec3 axis = points->emitter->axis;
    double forward_scale = points->haze->forward_scale, apart_min = points->apart_min_m;
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
        out->from[l] = t_of_tangent((points->from_m[l] - foot) * unit_apart, forward_scale);
        out->to[l] = t_of_tangent((points->to_m[l] - foot) * unit_apart, forward_scale);
        out->depth[l] = points->depth[l] + points->extinction_per_m[l] * foot;
        out->per_q[l] = points->extinction_per_m[l] * apart;
        out->scale[l] = points->scale[l] * unit_apart;
    }
    if (points->profile == VS_PROFILE_COSINE) {
        clip_to_front(out, forward_scale);
    }
    if (points->profile != VS_PROFILE_SPOT) {
        return;
    }
    double cutoff = points->emitter->spot.cutoff_cosine, half = points->emitter->spot.half_cosine;
    EACH_LANE(l) {
        double across = out->across[l], along = out->along[l];
        cone_roots(across, along, cutoff, forward_scale, &out->low[l], &out->high[l]);
        /* smallest angle off the axis: tan v = along/across */
        double length = sqrt(across * across + along * along);
        out->tip[l] = t_of_ratio(length + along, across, forward_scale);
    }
    if (points->emitter->spot.exponent > 2) {
        EACH_LANE(l) {
            cone_roots(out->across[l], out->along[l], half, forward_scale, &out->shoulder[0][l],
                       &out->shoulder[1][l]);
        }
    }
}

/* Cosines of a unit vector in the plane of source and line, for a task's fields. */
static void set_cosines(vs_fast_points *points, const intervals_in_t *s, int l, int task, int field,
                        vs_vec3 v) {
    points->task[field][task] = v.x * s->unit[0][l] + v.y * s->unit[1][l] + v.z * s->unit[2][l];
    points->task[field + 1][task] = v.x * points->direction[0][l] + v.y * points->direction[1][l] +
                                    v.z * points->direction[2][l];
}

static void set_crossings(vs_fast_points *points, const intervals_in_t *s, int l, int task) {
    for (size_t k = 0; k < VS_SHAFT_CROSSING_MAX; k++) {
        const vs_shaft_crossing *c = &points->crossing[l][k];
        int field = TASK_CROSSING + 3 * (int)k;
        if (k < points->crossing_count[l]) {
            points->task[field][task] = c->change_per_m * c->off_m;
            set_cosines(points, s, l, task, field + 1, c->normal);
        } else { /* no change, at a cosine that is never 0 */
            points->task[field][task] = 0;
            points->task[field + 1][task] = 1;
            points->task[field + 2][task] = 0;
        }
    }
}

static void add_task(vs_fast_points *points, const intervals_in_t *s, int l, double from,
                     double to) {
    int i = points->task_count++;
    points->task[TASK_FROM][i] = from;
    points->task[TASK_TO][i] = to;
    points->task[TASK_DEPTH][i] = s->depth[l];
    points->task[TASK_PER_Q][i] = s->per_q[l];
    points->task[TASK_SCALE][i] = s->scale[l];
    points->task[TASK_ACROSS][i] = s->across[l];
    points->task[TASK_ALONG][i] = s->along[l];
    points->ray[i] = points->interval_ray[l];
    points->level[i] = 0;
    if (points->profile == VS_PROFILE_PHOTOMETRY) {
        set_cosines(points, s, l, i, TASK_C0_ACROSS, points->emitter->frame.c0);
        set_cosines(points, s, l, i, TASK_C90_ACROSS, points->emitter->frame.c90);
    }
    if (points->crossed) {
        set_crossings(points, s, l, i);
    }
}

/* A lit part of a spot's interval, cut where the profile bends most. */
static void add_spot_part(vs_fast_points *points, const intervals_in_t *s, int l, double from,
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

static void add_spot_tasks(vs_fast_points *points, const intervals_in_t *s, int l) {
    double from = s->from[l], to = s->to[l];
    double low = fmin(s->low[l], s->high[l]), high = fmax(s->low[l], s->high[l]);
    /* sign of the cone's quadratic for large t: lit between its roots or outside them */
    double c = points->emitter->spot.cutoff_cosine, forward_scale = points->haze->forward_scale;
    bool outside =
        forward_scale * ((s->along[l] - c) * forward_scale - 2 * s->across[l]) - (s->along[l] + c) >
        0;
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

static void flush_intervals(vs_fast_points *points) {
    intervals_in_t s;
    intervals_to_t(points, &s);
    for (int l = 0; l < points->interval_count; l++) {
        double from = s.from[l], to = s.to[l], middle = 0.5 * (from + to);
        if (points->profile == VS_PROFILE_SPOT) {
            add_spot_tasks(points, &s, l);
        } else if (points->profile == VS_PROFILE_PHOTOMETRY && from < to) {
            /* eight nodes over the whole may miss a table's kinks */
            add_task(points, &s, l, from, middle);
            add_task(points, &s, l, middle, to);
        } else if (points->haze->table && from < 0 && to > 0) {
            /* a table's peak separately from the rest */
            add_task(points, &s, l, from, 0);
            add_task(points, &s, l, 0, to);
        } else if (from < to) {
            add_task(points, &s, l, from, to);
        }
    }
    points->interval_count = 0;
    vs_fast_points_run(points, false);
}

/* Whether an integrand bends strongly, as with beams, measured lamps and hazes with tables. */
static bool needs_most(const vs_fast_haze *haze, vs_profile_kind profile) {
    return haze->table || profile == VS_PROFILE_SPOT || profile == VS_PROFILE_PHOTOMETRY;
}

/* The share allowed in the highest terms. */
static double tail_for(const vs_fast_haze *haze, vs_profile_kind profile) {
    return profile == VS_PROFILE_PHOTOMETRY ? TAIL_KINKED_MAX
           : needs_most(haze, profile)      ? TAIL_BENT_MAX
                                            : TAIL_MAX;
}

/* The number of nodes: a bare lamp in a measured haze is smooth in t. */
static int order_for(const vs_fast_haze *haze, vs_profile_kind profile) {
    return needs_most(haze, profile) ? 8 : profile != VS_PROFILE_EVEN ? 6 : 5;
}

void vs_fast_points_begin(vs_fast_points *points, const vs_fast_haze *haze,
                          const vs_emitter *emitter, vs_profile_kind profile,
                          double (*sum)[VS_FAST_BANDS]) {
    points->haze = haze;
    points->emitter = emitter;
    points->profile = profile;
    points->rule = &vs_legendre_rules[order_for(haze, profile)];
    points->tail_max = tail_for(haze, profile);
    points->apart_min_m =
        emitter->kind == VS_EMITTER_POINT ? VS_SHAFT_APART_MIN_M : VS_SHAFT_ELEMENT_APART_MIN_M;
    points->crossed = 0;
    points->interval_count = points->task_count = 0;
    points->sum = sum;
    /* empty lanes take part in the computation, so they must hold numbers */
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

void vs_fast_points_add(vs_fast_points *points, size_t ray, const vs_camera_ray *sight,
                        const vs_ray_segment *segment, vs_vec3 source_m, const vs_shaft *shaft,
                        double scale) {
    if (shaft->crossing_count > 0 && !points->crossed) {
        vs_fast_points_end(points); /* tasks so far hold no crossings */
    }
    if (points->crossed < (int)shaft->crossing_count) {
        points->crossed = (int)shaft->crossing_count;
    }
    int l = points->interval_count++;
    set_vector(points->offset_m, l, vs_vec3_sub(sight->at_m, source_m));
    set_vector(points->direction, l, sight->direction);
    points->from_m[l] = shaft->from_m;
    points->to_m[l] = shaft->to_m;
    points->extinction_per_m[l] = segment->extinction_per_m;
    points->depth[l] = segment->depth - segment->extinction_per_m * segment->from_m;
    points->scale[l] = scale * segment->open * shaft->transmittance * segment->extinction_per_m;
    points->crossing_count[l] = shaft->crossing_count;
    for (size_t i = 0; i < shaft->crossing_count; i++) {
        points->crossing[l][i] = shaft->crossing[i];
    }
    points->interval_ray[l] = ray;
    if (points->interval_count == LANES) {
        flush_intervals(points);
    }
}

void vs_fast_points_end(vs_fast_points *points) {
    if (points->interval_count > 0) {
        flush_intervals(points);
    }
    vs_fast_points_run(points, true);
}
