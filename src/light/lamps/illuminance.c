/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light that arrives on a surface. Points and beams by the inverse square and cosine laws; the
 * visible parts of panels and tubes by closed forms, dimmed by their mean transmission.
 * Sources: the polygon's form factor (form_factor.h), sums over quadrilaterals (quads.h). */
#include <math.h>

#include "base/numerics/legendre_rules.h"
#include "light/geometry/quads.h"
#include "light/geometry/visible_polygon.h"
#include "veilstop/base/units.h"
#include "veilstop/light/form_factor.h"
#include "veilstop/light/illuminance.h"
#include "veilstop/light/shaft.h"

#define FINENESS_FIRST 0.5  /* [1] an element of a surface: size over distance */
#define FINENESS_LAST  0.03 /* with a building in between outside: points this fine */
#define STEP_IN_M      (2 * VS_SPACE_SKIN_M) /* off a wall, into the room a surface faces */
#define SPLIT_SIZE     0.7 /* [1] a part longer than this share of its distance is split */
#define SPLITS_MAX     5   /* halvings of a part, at most */
#define TUBE_ORDER     8   /* nodes of a Gauss rule along an interval of a tube */

/* The surface element. */
typedef struct {
    const vs_medium *medium;
    const vs_emitter *emitter;
    vs_vec3 at_m, normal;
    double extinction_per_m; /* of the room it shares with the emitter; NaN if they differ */
} element;

static double depth_to(const element *e, vs_vec3 from_m, double length_m) {
    return isnan(e->extinction_per_m)
               ? vs_space_optical_depth(e->medium->space, e->medium->room_extinction_per_m, from_m,
                                        e->at_m)
               : e->extinction_per_m * length_m;
}

/* Light of one point source on a surface element, by the inverse square and cosine laws. */
static void add_point_lux(const vs_medium *medium, const vs_point_source *source, vs_vec3 p_m,
                          vs_vec3 normal, vs_bands *lux) {
    vs_vec3 way_m = vs_vec3_sub(p_m, source->at_m);
    double length_m = fmax(vs_vec3_length(way_m), VS_SHAFT_APART_MIN_M);
    vs_vec3 direction = vs_vec3_scale(way_m, 1 / length_m);
    double cosine = -vs_vec3_dot(direction, normal);
    double profile = cosine > 0 ? vs_point_source_profile(source, direction) : 0;
    if (profile <= 0) {
        return;
    }
    vs_passage passage = vs_space_passage(medium->space, source->at_m, p_m);
    if (passage.transmittance == 0) {
        return;
    }
    double depth =
        vs_space_optical_depth(medium->space, medium->room_extinction_per_m, source->at_m, p_m);
    vs_bands dimmed = vs_bands_mul(source->candela, vs_medium_transmission(medium, depth));
    double geometry = passage.transmittance * profile * cosine / (length_m * length_m);
    *lux = vs_bands_add(*lux, vs_bands_scale(dimmed, geometry));
}

static vs_bands parallel_lux(const vs_medium *medium, const vs_emitter *emitter, vs_vec3 p_m,
                             vs_vec3 normal) {
    double cosine = -vs_vec3_dot(emitter->axis, normal);
    double open = cosine > 0 ? vs_shaft_parallel_transmittance(medium->space, emitter, p_m) : 0;
    if (open == 0) {
        return vs_bands_grey(0);
    }
    vs_vec3 origin_m = vs_shaft_parallel_origin(medium->space, emitter, p_m);
    double depth =
        vs_space_optical_depth(medium->space, medium->room_extinction_per_m, origin_m, p_m);
    vs_bands dimmed = vs_bands_mul(emitter->strength, vs_medium_transmission(medium, depth));
    return vs_bands_scale(dimmed, open * cosine);
}

/* Sums over samples of the light that arrives without haze and with it. */
typedef struct {
    const element *element;
    double clear;
    vs_bands hazed;
} element_sum;

/* place_m  on the emitter, relative to the element */
static void add_sample(element_sum *sum, vs_vec3 place_m, double weight) {
    const element *e = sum->element;
    double square = vs_vec3_dot(place_m, place_m), length_m = sqrt(square);
    double z = -vs_vec3_dot(place_m, e->emitter->rect.normal);
    double light = weight * z * vs_vec3_dot(place_m, e->normal) / (square * square);
    double depth = depth_to(e, vs_vec3_add(e->at_m, place_m), length_m);
    vs_bands through = vs_medium_transmission(e->medium, depth);
    sum->clear += light;
    sum->hazed = vs_bands_add(sum->hazed, vs_bands_scale(through, light));
}

static void add_quad(void *context, const vs_vec3 at[VS_RADON_POINTS],
                     const double area_m2[VS_RADON_POINTS]) {
    for (int i = 0; i < VS_RADON_POINTS; i++) {
        add_sample(context, at[i], area_m2[i]);
    }
}

static bool small_enough(const void *context, vs_vec3 middle, double longest_m, double nearest_m) {
    (void)context;
    (void)middle;
    return longest_m <= SPLIT_SIZE * nearest_m;
}

static bool any_haze(const vs_medium *medium) {
    for (size_t r = 0; r < medium->space->room_count; r++) {
        if (medium->room_extinction_per_m[r] > 0) {
            return true;
        }
    }
    return false;
}

/* Closed form x mean transmission, the mean by samples. */
static void add_dimmed(const element *e, double clear, const element_sum *sum, vs_bands *lux) {
    vs_bands share = sum->clear > 0 ? vs_bands_scale(sum->hazed, 1 / sum->clear) : vs_bands_grey(1);
    *lux = vs_bands_add(*lux, vs_bands_scale(vs_bands_mul(share, e->emitter->strength), clear));
}

static void add_polygon(const element *e, const vs_visible_polygon *polygon, vs_bands *lux) {
    const vs_rect *r = &e->emitter->rect;
    vs_vec3 corner[VS_VISIBLE_CORNERS_MAX];
    vs_vec3 center_m = vs_vec3_sub(r->center_m, e->at_m);
    element_sum sum = {.element = e};
    const vs_quad_sum quads = {small_enough, add_quad, &sum, SPLITS_MAX};
    for (int i = 0; i < polygon->count; i++) {
        corner[i] =
            vs_vec3_along(vs_vec3_along(center_m, r->u, polygon->u_m[i]), r->v, polygon->v_m[i]);
    }
    if (any_haze(e->medium)) {
        vs_quads_add(&quads, corner, polygon->count);
    }
    /* a luminance L lights the element with pi F L lux */
    double clear = polygon->transmittance * VS_PI *
                   vs_form_factor_of_polygon(corner, polygon->count, e->normal);
    add_dimmed(e, clear, &sum, lux);
}

/* Antiderivative of (a + b l)/(d^2 + l^2)^2. */
static double line_integral(double a, double b, double d, double l) {
    double square = d * d + l * l;
    return a * (l / (2 * d * d * square) + atan(l / d) / (2 * d * d * d)) - b / (2 * square);
}

/* An interval of a tube: its elements send strength x d/r and meet the surface at (a + b l)/r, with
 * d the distance of the tube's axis and l the place along it. */
static void add_interval(const element *e, const vs_visible_polygon *polygon, vs_bands *lux) {
    const vs_emitter *tube = e->emitter;
    vs_vec3 from_m = vs_vec3_sub(tube->at_m, e->at_m);
    double foot_m = -vs_vec3_dot(from_m, tube->axis);
    vs_vec3 off_m = vs_vec3_along(from_m, tube->axis, foot_m);
    double d = fmax(vs_vec3_length(off_m), VS_SHAFT_APART_MIN_M);
    double a = vs_vec3_dot(off_m, e->normal), b = vs_vec3_dot(tube->axis, e->normal);
    double low = polygon->u_m[0] + tube->length_m / 2 - foot_m;
    double high = polygon->u_m[1] + tube->length_m / 2 - foot_m;
    element_sum sum = {.element = e};
    const vs_legendre_rule *rule = &vs_legendre_rules[TUBE_ORDER];
    double y_low = low / hypot(low, d), y_high = high / hypot(high, d);
    for (int i = 0; i < rule->count && any_haze(e->medium); i++) {
        double y = (y_low + y_high) / 2 + (y_high - y_low) / 2 * rule->node[i];
        double across = sqrt(1 - y * y), l = d * y / across;
        vs_vec3 q_m = vs_vec3_along(tube->at_m, tube->axis, foot_m + l);
        double light = rule->weight[i] * (a + b * l) * across;
        vs_bands through = vs_medium_transmission(e->medium, depth_to(e, q_m, d / across));
        sum.clear += light;
        sum.hazed = vs_bands_add(sum.hazed, vs_bands_scale(through, light));
    }
    double clear = d * (line_integral(a, b, d, high) - line_integral(a, b, d, low));
    add_dimmed(e, polygon->transmittance * fmax(0, clear), &sum, lux);
}

/* False if there is no closed form because the visible polygons are unknown. */
static bool surface_lux(const element *e, size_t room, vs_bands *lux) {
    const vs_emitter *emitter = e->emitter;
    bool is_line = emitter->kind == VS_EMITTER_LINE;
    const vs_rect *rect = &emitter->rect;
    vs_visible_polygons visible;
    *lux = vs_bands_grey(0);
    if (!is_line && vs_vec3_dot(vs_vec3_sub(e->at_m, rect->center_m), rect->normal) <= 0) {
        return true;
    }
    if (!vs_visible_polygons_from(e->medium->space, rect, is_line, vs_emitter_whole_room(emitter),
                                  e->at_m, room, e->normal, &visible)) {
        return false;
    }
    for (int i = 0; i < visible.count; i++) {
        if (is_line) {
            add_interval(e, &visible.polygon[i], lux);
        } else {
            add_polygon(e, &visible.polygon[i], lux);
        }
    }
    return true;
}

static vs_status sum_of_points(vs_point_sources *work, const element *e, double fineness,
                               vs_bands *lux) {
    vs_status status = vs_emitter_points(e->emitter, e->at_m, e->at_m, fineness, work);
    *lux = vs_bands_grey(0);
    for (size_t i = 0; i < work->count && status == VS_OK; i++) {
        add_point_lux(e->medium, &work->item[i], e->at_m, e->normal, lux);
    }
    return status;
}

vs_status vs_illuminance(vs_point_sources *work, const vs_medium *medium, const vs_emitter *emitter,
                         vs_vec3 p_m, vs_vec3 normal, double relative, vs_bands *lux) {
    vs_bands before = vs_bands_grey(NAN), now;
    *lux = vs_bands_grey(NAN);
    if (!(relative >= 1e-10 && relative <= 0.1)) {
        return VS_ERR_DOMAIN;
    }
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        *lux = parallel_lux(medium, emitter, p_m, normal);
        return VS_OK;
    }
    size_t room = vs_space_room_at(medium->space, vs_vec3_along(p_m, normal, STEP_IN_M));
    bool shared = room == vs_emitter_whole_room(emitter);
    element e = {medium, emitter, p_m, normal,
                 shared ? vs_medium_extinction_per_m(medium, room) : (double)NAN};
    if (emitter->kind != VS_EMITTER_POINT && surface_lux(&e, room, lux)) {
        return VS_OK;
    }
    for (double fineness = FINENESS_FIRST;; fineness /= 2) {
        vs_status status = sum_of_points(work, &e, fineness, &now);
        if (status != VS_OK) {
            return status;
        }
        if (emitter->kind == VS_EMITTER_POINT || vs_bands_converged(before, now, relative) ||
            fineness < FINENESS_LAST) {
            break;
        }
        before = now;
    }
    *lux = now;
    return VS_OK;
}
