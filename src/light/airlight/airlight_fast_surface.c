/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lays out the integral over a line lit by a rectangle or a tube: where its nodes crowd, how many
 * directions each evaluates, and its halving until eight nodes resolve each part. */
#include "light/airlight/airlight_fast_surface.h"

#include <math.h>

#define TAIL_MAX       0.0015 /* [1] of the integral in the highest terms: nodes are enough */
#define NEAREST_ROUNDS 4      /* between line and rectangle: each improves the nearest points */
#define EDGE_SHARE     0.3    /* [1] of its smaller half: light near a surface changes over it */
#define PARALLEL       1e-9   /* [1] squared sine below which a line is parallel to a tube */

static double clamp(double x, double low, double high) {
    return fmin(fmax(x, low), high);
}

/* A surface that lights a line. */
typedef struct {
    const vs_fast_haze *haze;
    bool is_rect;
    vs_fast_rect rect;
    vs_fast_tube tube;
} surface;

static void integrate_block(void *context, double from, double to, vs_fast_block *block) {
    const surface *s = context;
    if (s->is_rect) {
        vs_fast_rect_block(s->haze, &s->rect, from, to, block);
    } else {
        vs_fast_tube_block(s->haze, &s->tube, from, to, block);
    }
}

static void set_line(vs_fast_line *line, const vs_ray_segment *segment) {
    line->extinction_per_m = segment->extinction_per_m;
    line->depth = segment->depth - segment->extinction_per_m * segment->from_m;
}

/* Where the line is nearest to the rectangle, by alternating projections; returns the distance. */
static double find_nearest(const vs_fast_rect *rect, double half_u_m, double half_v_m,
                           double from_m, double to_m, double *nearest_m) {
    double x = clamp(-(rect->at_u_m * rect->along_u + rect->at_v_m * rect->along_v +
                       rect->at_z_m * rect->along_z),
                     from_m, to_m);
    double du = 0, dv = 0, dz = 0;
    for (int i = 0; i < NEAREST_ROUNDS; i++) {
        double u = clamp(rect->at_u_m + x * rect->along_u, -half_u_m, half_u_m);
        double v = clamp(rect->at_v_m + x * rect->along_v, -half_v_m, half_v_m);
        x = clamp((u - rect->at_u_m) * rect->along_u + (v - rect->at_v_m) * rect->along_v -
                      rect->at_z_m * rect->along_z,
                  from_m, to_m);
        du = rect->at_u_m + x * rect->along_u - u;
        dv = rect->at_v_m + x * rect->along_v - v;
        dz = rect->at_z_m + x * rect->along_z;
    }
    *nearest_m = x;
    return sqrt(du * du + dv * dv + dz * dz);
}

/* A rectangle relative to a line, and the part of a segment in front of it. False: none. */
static bool lay_rect(const vs_camera_ray *ray, const vs_ray_segment *segment,
                     const vs_emitter *emitter, vs_fast_rect *rect, double *from_m, double *to_m) {
    const vs_rect *r = &emitter->rect;
    vs_vec3 d = vs_vec3_sub(ray->at_m, r->center_m);
    rect->at_u_m = vs_vec3_dot(d, r->u);
    rect->at_v_m = vs_vec3_dot(d, r->v);
    rect->at_z_m = vs_vec3_dot(d, r->normal);
    rect->along_u = vs_vec3_dot(ray->direction, r->u);
    rect->along_v = vs_vec3_dot(ray->direction, r->v);
    rect->along_z = vs_vec3_dot(ray->direction, r->normal);
    rect->half_u_m = r->half_u_m;
    rect->half_v_m = r->half_v_m;
    double pierced_m = -rect->at_z_m / lane_divisor(rect->along_z);
    *from_m = rect->along_z > 0 ? fmax(segment->from_m, pierced_m) : segment->from_m;
    *to_m = rect->along_z < 0 ? fmin(segment->to_m, pierced_m) : segment->to_m;
    if (!(*from_m < *to_m) || (rect->along_z == 0 && rect->at_z_m <= 0)) {
        return false;
    }
    double gap_m = find_nearest(rect, r->half_u_m, r->half_v_m, *from_m, *to_m, &rect->line.foot_m);
    rect->line.scale_m = hypot(gap_m, EDGE_SHARE * fmin(r->half_u_m, r->half_v_m));
    set_line(&rect->line, segment);
    return true;
}

/* The same for a tube, which has no back. */
static void lay_tube(const vs_camera_ray *ray, const vs_ray_segment *segment,
                     const vs_emitter *emitter, vs_fast_tube *tube) {
    vs_vec3 d = vs_vec3_sub(ray->at_m, emitter->at_m);
    tube->at_m = vs_vec3_dot(d, emitter->axis);
    tube->along = vs_vec3_dot(ray->direction, emitter->axis);
    tube->length_m = emitter->length_m;
    vs_vec3 off_m = vs_vec3_along(d, emitter->axis, -tube->at_m);
    vs_vec3 across = vs_vec3_along(ray->direction, emitter->axis, -tube->along);
    tube->across2 = vs_vec3_dot(across, across);
    tube->nearest_m = tube->across2 > PARALLEL ? -vs_vec3_dot(off_m, across) / tube->across2 : 0;
    vs_vec3 apart_m = vs_vec3_along(off_m, across, tube->nearest_m);
    double apart_m2 = vs_vec3_dot(apart_m, apart_m);
    tube->apart_m2 = fmax(apart_m2, VS_SHAFT_ELEMENT_APART_MIN_M * VS_SHAFT_ELEMENT_APART_MIN_M);
    /* the nearest place of the tube itself, by alternating projections */
    double x = clamp(tube->nearest_m, segment->from_m, segment->to_m);
    double gap_m = 0;
    for (int i = 0; i < NEAREST_ROUNDS; i++) {
        double u = clamp(tube->at_m + x * tube->along, 0, emitter->length_m);
        vs_vec3 at_m = vs_vec3_along(emitter->at_m, emitter->axis, u);
        x = clamp(vs_vec3_dot(vs_vec3_sub(at_m, ray->at_m), ray->direction), segment->from_m,
                  segment->to_m);
        gap_m = vs_vec3_length(vs_vec3_sub(vs_camera_ray_point(ray, x), at_m));
    }
    tube->line.foot_m = x;
    tube->line.scale_m = fmax(gap_m, VS_SHAFT_APART_MIN_M);
    set_line(&tube->line, segment);
}

/* Sets up a surface and the part of a segment that it may light. False: none. */
static bool lay(const vs_camera_ray *ray, const vs_ray_segment *segment, const vs_emitter *emitter,
                surface *s, double *from_m, double *to_m) {
    s->is_rect = emitter->kind == VS_EMITTER_RECT;
    *from_m = segment->from_m;
    *to_m = segment->to_m;
    if (s->is_rect) {
        return lay_rect(ray, segment, emitter, &s->rect, from_m, to_m);
    }
    lay_tube(ray, segment, emitter, &s->tube);
    return true;
}

void vs_fast_add_surface(const vs_medium *medium, const vs_fast_haze *haze,
                         const vs_camera_ray *ray, const vs_ray_segment *segment,
                         const vs_emitter *emitter, vs_bands *nits) {
    surface s = {.haze = haze};
    double from_m, to_m, sum[VS_FAST_BANDS] = {0};
    if (!lay(ray, segment, emitter, &s, &from_m, &to_m)) {
        return;
    }
    const vs_fast_line *line = s.is_rect ? &s.rect.line : &s.tube.line;
    double from = vs_fast_t_of(line, from_m), to = vs_fast_t_of(line, to_m);
    /* cut at t = 0, the nearest place, if that is in between */
    bool cut = from < 0 && to > 0;
    double part[2][2] = {{from, cut ? 0 : to}, {0, to}};
    vs_fast_integrate_parts(integrate_block, &s, haze, part, cut ? 2 : 1, TAIL_MAX, sum);
    vs_fast_add_nits(medium, haze, emitter, sum, segment->extinction_per_m * segment->open, nits);
}

bool vs_fast_lay_line(const vs_camera_ray *ray, const vs_ray_segment *segment,
                      const vs_emitter *emitter, vs_fast_line *line, double *from_m, double *to_m) {
    surface s;
    bool lit = lay(ray, segment, emitter, &s, from_m, to_m);
    *line = s.is_rect ? s.rect.line : s.tube.line;
    return lit;
}
