/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of unobstructed rectangles and tubes: eight points of a line at a time, each lit by the
 * whole emitter. Private to src/light. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_AREA_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_AREA_H

#include "base/lanes.h"
#include "light/airlight/airlight_fast_integrate.h"
#include "light/geometry/visible_polygon.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/shaft.h"

/* An interval of line: distance = foot + scale 2t/(1 - t^2). */
typedef struct {
    double foot_m, scale_m;
    double depth; /* optical depth at 549 nm to the camera = depth + extinction x distance */
    double extinction_per_m; /* at 549 nm, here and on to the emitter */
} vs_fast_line;

/* Distance at t, and its derivative. */
LANES_INLINE double vs_fast_distance_m(const vs_fast_line *line, double t) {
    return line->foot_m + line->scale_m * 2 * t / (1 - t * t);
}

LANES_INLINE double vs_fast_per_t_m(const vs_fast_line *line, double t) {
    double inverse = 1 / (1 - t * t);
    return line->scale_m * 2 * (1 + t * t) * inverse * inverse;
}

/* t of a distance: tan(v/2), tan v = (distance - foot)/scale. */
LANES_INLINE double vs_fast_t_of(const vs_fast_line *line, double distance_m) {
    /* NOLINTNEXTLINE(clang-analyzer-core.UndefinedBinaryOperatorResult): lines are laid whole */
    double tangent = (distance_m - line->foot_m) / line->scale_m;
    return tangent / (1 + sqrt(1 + tangent * tangent));
}

/* A Lambertian rectangle seen from the line's points. Its solid angle at a point is dw = cos phi
 * dphi dpsi: psi the angle about one side from the plane's normal, phi that over the plane
 * perpendicular to the side. */
typedef struct {
    vs_fast_line line;
    double at_u_m, at_v_m, at_z_m;    /* the line's start in the rectangle's frame */
    double along_u, along_v, along_z; /* its direction there */
    double half_u_m, half_v_m;
} vs_fast_rect;

/* A thin Lambertian line seen from the line's points. phi is the angle, at the point, between the
 * tube's element and the plane perpendicular to the tube: its light is cos phi dphi/distance. */
typedef struct {
    vs_fast_line line;
    double at_m, along; /* the line's start and direction along the tube */
    double nearest_m;   /* where the line is nearest to the tube's axis */
    double apart_m2;    /* squared distance there */
    double across2;     /* squared distance grows by across2 x (distance from there)^2 */
    double length_m;
} vs_fast_tube;

/* Integral over distance, between two values of t, of phase x transmission x the emitter's solid
 * angle (rectangle) or cos phi dphi/distance (tube). */
void vs_fast_rect_block(const vs_fast_haze *haze, const vs_fast_rect *rect, double from, double to,
                        vs_fast_block *block);
void vs_fast_tube_block(const vs_fast_haze *haze, const vs_fast_tube *tube, double from, double to,
                        vs_fast_block *block);

/* Eight places on an emitter as seen from a point of the line. */
typedef struct {
    double x_m[LANES], y_m[LANES], z_m[LANES]; /* direction there, not 0 */
    double size[LANES];                        /* [m2 or m] x transmittance */
} vs_fast_places;

/* An emitter as seen from a point of the line: its normal or direction, whether it is a tube, the
 * line's direction, the extinction at the emitter's end [1/m] and its changes on the way: at
 * openings `off` from the point along their normal, by off x (extinction beyond - before). */
typedef struct {
    vs_vec3 axis, direction;
    bool is_line;
    double extinction_per_m;
    vs_vec3 normal[VS_VISIBLE_OPENINGS_MAX];
    double off_change[VS_VISIBLE_OPENINGS_MAX]; /* [1] */
    int change_count;
} vs_fast_view;

/* Adds the places' light, band by band: phase x transmission x profile x size / way^2. */
void vs_fast_add_places(const vs_fast_haze *haze, const vs_fast_view *view,
                        const vs_fast_places *places, double *sum);

#endif
