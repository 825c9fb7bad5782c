/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Densities: points have none, lines are sampled uniformly in angle, rectangles uniformly in solid
 * angle.
 * Sources: Kulla & Fajardo 2012, Comput. Graph. Forum 31, 1519 (equiangular); Urena, Fajardo, King
 * 2013, Comput. Graph. Forum 32, 59 (spherical rectangles); Duff et al. 2017, J. Comput. Graph.
 * Tech. 6(1), 1 (frames). */
#include "light/lamps/light_sampling.h"

#include <math.h>

#include "light/geometry/cone.h"
#include "veilstop/base/units.h"
#include "veilstop/light/shaft.h"

#define FAR_SHARE   1e-3 /* [sr] rectangles smaller than this are sampled uniformly in area */
#define LEAST_SHARE 0.02 /* [1] of a spot's peak: its least weight off axis */
#define THIN_DEPTH  1e-6 /* [1] optical depth under which distances are drawn uniformly */

double vs_free_path_draw(double k, double length_m, double share) {
    double depth = k * length_m;
    if (depth < THIN_DEPTH) {
        return share * length_m;
    }
    return fmin(length_m, -log1p(share * expm1(-depth)) / k);
}

double vs_free_path_per_m(double k, double length_m, double at_m) {
    double depth = k * length_m;
    if (depth < THIN_DEPTH) {
        return 1 / length_m;
    }
    return k * exp(-k * at_m) / -expm1(-depth);
}

/* ---- sampling a light from a point ---- */

static void set_lux(const vs_emitter *emitter, double factor, vs_light_sample *sample) {
    sample->lux = vs_bands_scale(emitter->strength, factor);
}

double vs_emitter_relative_candela(const vs_emitter *emitter, vs_vec3 direction) {
    vs_point_source point = {emitter->at_m, emitter->strength, emitter, emitter->profile,
                             emitter->axis};
    return emitter->profile == VS_PROFILE_EVEN ? 1 : vs_point_source_profile(&point, direction);
}

static bool draw_point(const vs_emitter *emitter, vs_vec3 p_m, vs_light_sample *sample) {
    vs_vec3 way = vs_vec3_sub(emitter->at_m, p_m);
    double length_m = fmax(vs_vec3_length(way), VS_SHAFT_APART_MIN_M);
    sample->at_m = emitter->at_m;
    sample->toward = vs_vec3_scale(way, 1 / length_m);
    double profile = vs_emitter_relative_candela(emitter, vs_vec3_scale(sample->toward, -1));
    set_lux(emitter, profile / (length_m * length_m), sample);
    return profile > 0;
}

/* Uniform in the angle at p: the sine of the line's lobe cancels against the density. */
static bool draw_line(const vs_emitter *emitter, vs_vec3 p_m, double share,
                      vs_light_sample *sample) {
    vs_vec3 to_start = vs_vec3_sub(emitter->at_m, p_m);
    double along_m = -vs_vec3_dot(to_start, emitter->axis);
    vs_vec3 across = vs_vec3_along(to_start, emitter->axis, along_m);
    double apart_m = fmax(vs_vec3_length(across), VS_SHAFT_APART_MIN_M);
    double from_rad = atan(-along_m / apart_m);
    double to_rad = atan((emitter->length_m - along_m) / apart_m);
    double angle_rad = from_rad + share * (to_rad - from_rad);
    double run_m = along_m + apart_m * tan(angle_rad);
    sample->at_m = vs_vec3_along(emitter->at_m, emitter->axis, run_m);
    vs_vec3 way = vs_vec3_sub(sample->at_m, p_m);
    double length_m = fmax(vs_vec3_length(way), VS_SHAFT_APART_MIN_M);
    sample->toward = vs_vec3_scale(way, 1 / length_m);
    set_lux(emitter, (to_rad - from_rad) / length_m, sample);
    return to_rad > from_rad;
}

/* A rectangle seen from a point: coordinates along its sides and its normal. */
typedef struct {
    double x0, x1, y0, y1, z;   /* z < 0: the distance of its plane, negative */
    double b0, b1, k, solid_sr; /* Urena et al. 2013, eq. 3 to 5 */
    bool far;                   /* sampled uniformly in area */
} rect_from_point;

static double clamped(double x, double low, double high) {
    return fmin(fmax(x, low), high);
}

/* False: p is behind the rectangle or in its plane. */
static bool rect_seen_from(const vs_rect *rect, vs_vec3 p_m, rect_from_point *seen) {
    vs_vec3 d = vs_vec3_sub(rect->center_m, p_m);
    double x = vs_vec3_dot(d, rect->u), y = vs_vec3_dot(d, rect->v);
    seen->z = vs_vec3_dot(d, rect->normal);
    if (!(seen->z < -1e-9)) {
        return false;
    }
    seen->x0 = x - rect->half_u_m;
    seen->x1 = x + rect->half_u_m;
    seen->y0 = y - rect->half_v_m;
    seen->y1 = y + rect->half_v_m;
    double area_m2 = 4 * rect->half_u_m * rect->half_v_m;
    double square_m2 = vs_vec3_dot(d, d);
    seen->solid_sr = 0;
    seen->far = area_m2 < FAR_SHARE * square_m2;
    if (seen->far) {
        return true;
    }
    double z2 = seen->z * seen->z;
    double n0 = -seen->y0 / sqrt(z2 + seen->y0 * seen->y0);
    double n1 = seen->x1 / sqrt(z2 + seen->x1 * seen->x1);
    double n2 = seen->y1 / sqrt(z2 + seen->y1 * seen->y1);
    double n3 = -seen->x0 / sqrt(z2 + seen->x0 * seen->x0);
    double g0 = acos(-n0 * n1), g1 = acos(-n1 * n2), g2 = acos(-n2 * n3), g3 = acos(-n3 * n0);
    seen->b0 = n0;
    seen->b1 = n2;
    seen->k = 2 * VS_PI - g2 - g3;
    seen->solid_sr = g0 + g1 - seen->k;
    seen->far = !(seen->solid_sr > FAR_SHARE / 10);
    return true;
}

static void spherical_place(const rect_from_point *seen, double share_u, double share_v, double *x,
                            double *y) {
    double au = share_u * seen->solid_sr + seen->k;
    double fu = (cos(au) * seen->b0 - seen->b1) / sin(au);
    double cu = clamped(copysign(1 / sqrt(fu * fu + seen->b0 * seen->b0), fu), -1, 1);
    *x = clamped(-cu * seen->z / sqrt(fmax(1 - cu * cu, 1e-300)), seen->x0, seen->x1);
    double d = sqrt(*x * *x + seen->z * seen->z);
    double h0 = seen->y0 / sqrt(d * d + seen->y0 * seen->y0);
    double h1 = seen->y1 / sqrt(d * d + seen->y1 * seen->y1);
    double hv = h0 + share_v * (h1 - h0);
    *y = hv * hv < 1 - 1e-12 ? clamped(hv * d / sqrt(1 - hv * hv), seen->y0, seen->y1) : seen->y1;
}

static bool draw_rect(const vs_emitter *emitter, vs_vec3 p_m, vs_random *random,
                      vs_light_sample *sample) {
    rect_from_point seen;
    const vs_rect *rect = &emitter->rect;
    if (!rect_seen_from(rect, p_m, &seen)) {
        return false;
    }
    double u = vs_random_uniform(random), v = vs_random_uniform(random);
    double x = seen.x0 + u * (seen.x1 - seen.x0), y = seen.y0 + v * (seen.y1 - seen.y0);
    if (!seen.far) {
        spherical_place(&seen, u, v, &x, &y);
    }
    double length_m = sqrt(x * x + y * y + seen.z * seen.z);
    vs_vec3 way = vs_vec3_scale(rect->u, x);
    way = vs_vec3_along(way, rect->v, y);
    way = vs_vec3_along(way, rect->normal, seen.z);
    sample->at_m = vs_vec3_add(p_m, way);
    sample->toward = vs_vec3_scale(way, 1 / length_m);
    double area_m2 = 4 * rect->half_u_m * rect->half_v_m;
    double solid_sr =
        seen.far ? area_m2 * -seen.z / (length_m * length_m * length_m) : seen.solid_sr;
    sample->per_sr = 1 / solid_sr;
    set_lux(emitter, solid_sr, sample);
    return true;
}

double vs_light_sample_rect_per_sr(const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 direction) {
    rect_from_point seen;
    const vs_rect *rect = &emitter->rect;
    if (!rect_seen_from(rect, p_m, &seen)) {
        return 0;
    }
    if (!seen.far) {
        return 1 / seen.solid_sr;
    }
    double cosine = -vs_vec3_dot(direction, rect->normal);
    double length_m = -seen.z / cosine;
    return length_m * length_m / (4 * rect->half_u_m * rect->half_v_m * cosine);
}

/* Whether a parallel beam, if unobstructed, reaches p through its opening. */
static bool in_prism(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m) {
    const vs_rect *rect = &space->opening[emitter->opening].rect;
    bool inside;
    double t = vs_rect_pierced_at(rect, p_m, emitter->axis, &inside);
    return inside && t < 0;
}

static bool draw_parallel(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m,
                          vs_light_sample *sample) {
    if (!in_prism(emitter, space, p_m)) {
        return false;
    }
    sample->at_m = vs_shaft_parallel_origin(space, emitter, p_m);
    sample->toward = vs_vec3_scale(emitter->axis, -1);
    set_lux(emitter, 1, sample);
    return true;
}

bool vs_light_sample_draw(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m,
                          vs_random *random, vs_light_sample *sample) {
    sample->per_sr = 0;
    switch (emitter->kind) {
    case VS_EMITTER_POINT:
        return draw_point(emitter, p_m, sample);
    case VS_EMITTER_LINE:
        return draw_line(emitter, p_m, vs_random_uniform(random), sample);
    case VS_EMITTER_RECT:
        return draw_rect(emitter, p_m, random, sample);
    case VS_EMITTER_PARALLEL:
        return draw_parallel(emitter, space, p_m, sample);
    }
    return false;
}

double vs_light_sample_about_lux(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m) {
    double strength = vs_bands_luminance(emitter->strength);
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        return in_prism(emitter, space, p_m) ? strength : 0;
    }
    vs_vec3 way = vs_vec3_sub(p_m, emitter->at_m);
    double square_m2 = vs_vec3_dot(way, way);
    if (emitter->kind == VS_EMITTER_POINT) {
        square_m2 = fmax(square_m2, VS_SHAFT_APART_MIN_M * VS_SHAFT_APART_MIN_M);
        return strength *
               vs_emitter_relative_candela(emitter, vs_vec3_scale(way, 1 / sqrt(square_m2))) /
               square_m2;
    }
    if (emitter->kind == VS_EMITTER_LINE) {
        double run_m = clamped(vs_vec3_dot(way, emitter->axis), 0, emitter->length_m);
        vs_vec3 near = vs_vec3_along(way, emitter->axis, -run_m);
        double apart_m2 = vs_vec3_dot(near, near), length_m = emitter->length_m;
        return strength * length_m / (apart_m2 + length_m * sqrt(apart_m2) / 3 + 1e-6);
    }
    double before_m = vs_vec3_dot(way, emitter->rect.normal);
    if (!(before_m > 0)) {
        return 0;
    }
    double area_m2 = 4 * emitter->rect.half_u_m * emitter->rect.half_v_m;
    double cosine = 0.1 + before_m / sqrt(square_m2);
    return strength * area_m2 * cosine / (square_m2 + area_m2 / VS_PI);
}

/* ---- the interval of a line that a light may reach ---- */

/* Keeps the part of the interval where a + b t >= 0. */
static void clip_half(vs_distance_sampler *distances, double a, double b) {
    if (b > 0) {
        distances->from_m = fmax(distances->from_m, -a / b);
    } else if (b < 0) {
        distances->to_m = fmin(distances->to_m, -a / b);
    } else if (a < 0) {
        distances->to_m = -1;
    }
}

/* Keeps the part within a spot's cone of at most a right angle: one interval, because the cone is
 * convex. */
static void clip_cone(vs_distance_sampler *distances, const vs_emitter *emitter, vs_vec3 start_m,
                      vs_vec3 direction) {
    double cosine = emitter->spot.cutoff_cosine;
    vs_vec3 d = vs_vec3_sub(start_m, emitter->at_m);
    double w_axis = vs_vec3_dot(direction, emitter->axis);
    /* the half of the double cone that shines; at a right angle, all that is before the lamp */
    clip_half(distances, vs_vec3_dot(d, emitter->axis), w_axis);
    if (cosine <= VS_CONE_LEVEL) {
        return;
    }
    vs_cone_meeting cone = vs_cone_meet(d, direction, emitter->axis, cosine);
    if (!cone.meets) {
        /* the line meets neither half: it is inside all along, or outside */
        if (!cone.starts_in) {
            distances->to_m = -1;
        }
        return;
    }
    if (isnan(cone.t[0]) || isnan(cone.t[1])) {
        return; /* through the tip, or along the cone: too long an interval does no harm */
    }
    double first = fmin(cone.t[0], cone.t[1]), second = fmax(cone.t[0], cone.t[1]);
    if (!cone.steep) { /* the line leaves the cone at both ends */
        distances->from_m = fmax(distances->from_m, first);
        distances->to_m = fmin(distances->to_m, second);
    } else if (w_axis > 0) { /* it ends inside the cone */
        distances->from_m = fmax(distances->from_m, second);
    } else {
        distances->to_m = fmin(distances->to_m, first);
    }
}

static void clip_prism(vs_distance_sampler *distances, const vs_emitter *emitter,
                       const vs_rect *rect, vs_vec3 start_m, vs_vec3 direction) {
    double slope = vs_vec3_dot(emitter->axis, rect->normal);
    vs_vec3 d = vs_vec3_sub(start_m, rect->center_m);
    /* where the beam through start + t direction crosses the opening's plane: linear in t */
    double off = vs_vec3_dot(d, rect->normal) / slope;
    double off_step = vs_vec3_dot(direction, rect->normal) / slope;
    vs_vec3 at = vs_vec3_along(d, emitter->axis, -off);
    vs_vec3 step = vs_vec3_along(direction, emitter->axis, -off_step);
    double u = vs_vec3_dot(at, rect->u), u_step = vs_vec3_dot(step, rect->u);
    double v = vs_vec3_dot(at, rect->v), v_step = vs_vec3_dot(step, rect->v);
    clip_half(distances, off, off_step);
    clip_half(distances, rect->half_u_m + u, u_step);
    clip_half(distances, rect->half_u_m - u, -u_step);
    clip_half(distances, rect->half_v_m + v, v_step);
    clip_half(distances, rect->half_v_m - v, -v_step);
}

/* The point of a line emitter nearest to the ray. */
static vs_vec3 nearest_on_line(const vs_emitter *emitter, vs_vec3 start_m, vs_vec3 direction) {
    vs_vec3 d = vs_vec3_sub(start_m, emitter->at_m);
    double cosine = vs_vec3_dot(direction, emitter->axis);
    double sine2 = 1 - cosine * cosine;
    double run_m = emitter->length_m / 2;
    if (sine2 > 1e-9) {
        run_m = (vs_vec3_dot(d, emitter->axis) - cosine * vs_vec3_dot(d, direction)) / sine2;
    }
    return vs_vec3_along(emitter->at_m, emitter->axis, clamped(run_m, 0, emitter->length_m));
}

static void set_angles(vs_distance_sampler *distances, vs_vec3 center_m, double least_m,
                       vs_vec3 start_m, vs_vec3 direction) {
    vs_vec3 to_start = vs_vec3_sub(start_m, center_m);
    distances->near_m = -vs_vec3_dot(to_start, direction);
    vs_vec3 across = vs_vec3_along(to_start, direction, distances->near_m);
    distances->apart_m = sqrt(vs_vec3_dot(across, across) + least_m * least_m);
    distances->from_rad = atan((distances->from_m - distances->near_m) / distances->apart_m);
    distances->to_rad = atan((distances->to_m - distances->near_m) / distances->apart_m);
}

/* A spot's candela about the middle of the interval, as the emitter sees it. */
static double about_candela(const vs_emitter *emitter, const vs_distance_sampler *distances,
                            vs_vec3 start_m, vs_vec3 direction) {
    double strength = vs_bands_luminance(emitter->strength);
    if (emitter->profile == VS_PROFILE_EVEN) {
        return strength;
    }
    double middle_m =
        distances->near_m + distances->apart_m * tan((distances->from_rad + distances->to_rad) / 2);
    vs_vec3 way = vs_vec3_sub(vs_vec3_along(start_m, direction, middle_m), emitter->at_m);
    double least = emitter->profile == VS_PROFILE_PHOTOMETRY
                       ? LEAST_SHARE * vs_photometric_peak_candela(emitter->table)
                       : LEAST_SHARE;
    return strength * fmax(least, vs_emitter_relative_candela(emitter, vs_vec3_unit(way)));
}

static double about_light(const vs_emitter *emitter, const vs_distance_sampler *distances,
                          vs_vec3 start_m, vs_vec3 direction) {
    double strength = vs_bands_luminance(emitter->strength);
    bool parallel = emitter->kind == VS_EMITTER_PARALLEL;
    double spread = parallel ? 0 : (distances->to_rad - distances->from_rad) / distances->apart_m;
    switch (emitter->kind) {
    case VS_EMITTER_POINT:
        return about_candela(emitter, distances, start_m, direction) * spread;
    case VS_EMITTER_LINE:
        return strength * emitter->length_m * spread /
               (1 + emitter->length_m / (3 * distances->apart_m));
    case VS_EMITTER_RECT:
        return strength * 4 * emitter->rect.half_u_m * emitter->rect.half_v_m * spread / 2;
    case VS_EMITTER_PARALLEL:
        return strength * (distances->to_m - distances->from_m);
    }
    return 0;
}

vs_distance_sampler vs_distance_sampler_make(const vs_emitter *emitter, const vs_space *space,
                                             vs_vec3 start_m, vs_vec3 direction, double length_m) {
    vs_distance_sampler distances = {.from_m = 0, .to_m = length_m};
    vs_vec3 center_m = emitter->at_m;
    double least_m = VS_SHAFT_APART_MIN_M;
    switch (emitter->kind) {
    case VS_EMITTER_POINT:
        if (emitter->profile == VS_PROFILE_SPOT) {
            clip_cone(&distances, emitter, start_m, direction);
        }
        break;
    case VS_EMITTER_LINE:
        center_m = nearest_on_line(emitter, start_m, direction);
        break;
    case VS_EMITTER_RECT:
        clip_half(&distances,
                  vs_vec3_dot(vs_vec3_sub(start_m, emitter->rect.center_m), emitter->rect.normal),
                  vs_vec3_dot(direction, emitter->rect.normal));
        least_m = sqrt(4 * emitter->rect.half_u_m * emitter->rect.half_v_m / VS_PI);
        break;
    case VS_EMITTER_PARALLEL:
        clip_prism(&distances, emitter, &space->opening[emitter->opening].rect, start_m, direction);
        break;
    }
    if (!(distances.to_m > distances.from_m)) {
        distances.about = 0;
        return distances;
    }
    if (emitter->kind != VS_EMITTER_PARALLEL) {
        set_angles(&distances, center_m, least_m, start_m, direction);
    }
    distances.about = about_light(emitter, &distances, start_m, direction);
    return distances;
}

double vs_distance_sampler_draw(const vs_distance_sampler *distances, double k, vs_random *random) {
    double u = vs_random_uniform(random);
    bool even = distances->apart_m > 0 && u < 0.5;
    u = distances->apart_m > 0 ? 2 * (even ? u : u - 0.5) : u;
    if (even) {
        double angle_rad = distances->from_rad + u * (distances->to_rad - distances->from_rad);
        double at_m = distances->near_m + distances->apart_m * tan(angle_rad);
        return clamped(at_m, distances->from_m, distances->to_m);
    }
    return distances->from_m + vs_free_path_draw(k, distances->to_m - distances->from_m, u);
}

double vs_distance_sampler_per_m(const vs_distance_sampler *distances, double k, double at_m) {
    if (!(at_m >= distances->from_m && at_m <= distances->to_m)) {
        return 0;
    }
    double as_haze =
        vs_free_path_per_m(k, distances->to_m - distances->from_m, at_m - distances->from_m);
    if (!(distances->apart_m > 0)) {
        return as_haze;
    }
    double off_m = at_m - distances->near_m, h = distances->apart_m;
    double even = h / ((distances->to_rad - distances->from_rad) * (h * h + off_m * off_m));
    return (even + as_haze) / 2;
}

/* ---- the path between two places ---- */

static bool in_box(const vs_box *box, vs_vec3 p) {
    return p.x >= box->low_m.x && p.x <= box->high_m.x && p.y >= box->low_m.y &&
           p.y <= box->high_m.y && p.z >= box->low_m.z && p.z <= box->high_m.z;
}

/* Transmittance and optical depth at 549 nm from p in a room to q. Within one room, which is a box,
 * only blockers can obstruct. */
static double open_way(const vs_medium *medium, vs_vec3 p, size_t room, vs_vec3 q, double *depth) {
    const vs_space *space = medium->space;
    const double *extinction_per_m = medium->room_extinction_per_m;
    if (room != VS_SPACE_OUTSIDE && in_box(&space->room[room], q)) {
        *depth = extinction_per_m[room] * vs_vec3_length(vs_vec3_sub(q, p));
        return vs_space_past_blockers(space, p, q);
    }
    double transmittance = vs_space_passage(space, q, p).transmittance;
    *depth = transmittance > 0 ? vs_space_optical_depth(space, extinction_per_m, p, q) : 0;
    return transmittance;
}

double vs_light_sample_transmittance(const vs_medium *medium, const vs_emitter *emitter, vs_vec3 p,
                                     size_t room, const vs_light_sample *sample, double *depth) {
    if (emitter->kind != VS_EMITTER_PARALLEL) {
        return open_way(medium, p, room, sample->at_m, depth);
    }
    double open = vs_shaft_parallel_transmittance(medium->space, emitter, p);
    *depth = open > 0 ? vs_space_optical_depth(medium->space, medium->room_extinction_per_m, p,
                                               sample->at_m)
                      : 0;
    return open;
}
