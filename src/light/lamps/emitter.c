/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Strengths by closed forms, profiles, and points that represent surfaces.
 * Sources: docs/physics.md, "light: lamps" (spot, tube); Siegel & Howell, configuration factors
 * B-3; ANSI/IES LM-63. */
#include "veilstop/light/emitter.h"

#include <stdlib.h>

#include "base/growable.h"
#include "veilstop/base/quadrature.h"
#include "veilstop/base/units.h"
#include "veilstop/light/colour.h"

#define LN_2  0.693147180559945309 /* [1] ln 2 */
#define LN_10 2.302585092994045684 /* [1] ln 10 */
/* [1] ln 1000: docs/physics.md, "light: lamps": the cutoff */
#define LN_1000       6.907755278982137052
#define LUMEN_NODES   64 /* the profile is smooth up to its cutoff */
#define HALVINGS_MAX  12 /* a piece's side is at least 1/4096 of the emitter's */
#define POINTS_A_SIDE 3  /* Gauss-Legendre points along each side of a piece */

/* Gauss-Legendre nodes and weights on [-1, 1], n = 3: Abramowitz & Stegun 1964, table 25.4. */
static const double point_node[POINTS_A_SIDE] = {-0.774596669241483377, 0, 0.774596669241483377};
static const double point_weight[POINTS_A_SIDE] = {5.0 / 9, 8.0 / 9, 5.0 / 9};

vs_spot vs_spot_make(double beam_rad, double field_rad) {
    vs_spot spot;
    spot.half_rad = beam_rad / 2;
    spot.exponent = isnan(field_rad) ? 2 : log(LN_10 / LN_2) / log(field_rad / beam_rad);
    spot.tenth_rad = spot.half_rad * pow(LN_10 / LN_2, 1 / spot.exponent);
    spot.cutoff_rad = fmin(VS_PI / 2, spot.half_rad * pow(LN_1000 / LN_2, 1 / spot.exponent));
    spot.half_cosine = cos(spot.half_rad);
    spot.cutoff_cosine = cos(spot.cutoff_rad);
    spot.sine_scale = 4 / (spot.half_rad * spot.half_rad);
    return spot;
}

double vs_spot_profile(const vs_spot *spot, double angle_rad) {
    if (angle_rad > spot->cutoff_rad) {
        return 0;
    }
    double ratio = angle_rad / spot->half_rad;
    double power = spot->exponent == 2 ? ratio * ratio : pow(ratio, spot->exponent);
    return exp(-LN_2 * power);
}

vs_status vs_spot_lumens_per_candela(const vs_spot *spot, double *lumens) {
    double node[LUMEN_NODES], weight[LUMEN_NODES], sum = 0;
    *lumens = NAN;
    vs_status status = vs_gauss_legendre(LUMEN_NODES, node, weight);
    if (status != VS_OK) {
        return status;
    }
    for (int i = 0; i < LUMEN_NODES; i++) {
        double angle_rad = spot->cutoff_rad * (1 + node[i]) / 2;
        sum += weight[i] * vs_spot_profile(spot, angle_rad) * sin(angle_rad);
    }
    *lumens = 2 * VS_PI * sum * spot->cutoff_rad / 2;
    return VS_OK;
}

double vs_rect_corner_factor(double a_m, double b_m, double c_m) {
    double a = a_m / c_m, b = b_m / c_m;
    double root_a = sqrt(1 + a * a), root_b = sqrt(1 + b * b);
    return (a / root_a * atan(b / root_a) + b / root_b * atan(a / root_b)) / (2 * VS_PI);
}

/* Illuminance on axis at a distance, per nit of a panel [lx per cd/m2]. */
static double panel_lux_per_nit(double width_m, double height_m, double distance_m) {
    return VS_PI * 4 * vs_rect_corner_factor(width_m / 2, height_m / 2, distance_m);
}

/* Illuminance facing the middle of a line, per (cd/m) of it [lx m/cd]: each element sends
 * sin(angle) = d/r of its intensity and meets the surface at a cosine of d/r, so that the integral
 * is that of d^2/r^4 along the line. */
static double line_lux_per_strength(double length_m, double distance_m) {
    double half = length_m / 2, d = distance_m;
    return half / (half * half + d * d) + atan(half / d) / d;
}

static vs_status spot_candela(const vs_light *light, const vs_spot *spot, double *candela) {
    if (light->strength != VS_STRENGTH_LUMENS) {
        double square_m2 = light->lux_at_m * light->lux_at_m;
        *candela = light->strength == VS_STRENGTH_LUX ? light->value * square_m2 : light->value;
        return VS_OK;
    }
    double lumens;
    vs_status status = vs_spot_lumens_per_candela(spot, &lumens);
    *candela = light->value / lumens;
    return status;
}

static double panel_nits(const vs_light *light) {
    switch (light->strength) {
    case VS_STRENGTH_LUX:
        return light->value / panel_lux_per_nit(light->width_m, light->height_m, light->lux_at_m);
    case VS_STRENGTH_LUMENS:
        return light->value / (VS_PI * light->width_m * light->height_m);
    case VS_STRENGTH_FED:
        return 0;
    default:
        return light->value;
    }
}

static double tube_candela_per_m(const vs_light *light, double length_m) {
    if (light->strength == VS_STRENGTH_LUX) {
        return light->value / line_lux_per_strength(length_m, light->lux_at_m);
    }
    /* flux of sin(angle) over the sphere: 2 pi times the integral of sin^2 = pi^2 */
    return light->value / (VS_PI * VS_PI * length_m);
}

/* ---- the emitters, by their names in the table of kinds (light_kind.h) ---- */

static vs_status emit_lamp(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                           double *strength) {
    (void)emitter;
    (void)space;
    *strength = light->strength == VS_STRENGTH_LUMENS ? light->value / (4 * VS_PI) : light->value;
    return VS_OK;
}

static vs_status emit_spot(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                           double *strength) {
    (void)space;
    emitter->profile = VS_PROFILE_SPOT;
    emitter->axis = vs_vec3_unit(vs_vec3_sub(light->aim_m, light->at_m));
    emitter->spot = vs_spot_make(light->beam_rad, light->field_rad);
    return spot_candela(light, &emitter->spot, strength);
}

static vs_status emit_photometry(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                                 double *strength) {
    (void)space;
    emitter->profile = VS_PROFILE_PHOTOMETRY;
    emitter->axis = vs_vec3_unit(vs_vec3_sub(light->aim_m, light->at_m));
    emitter->frame = vs_photometric_frame_make(light->at_m, light->aim_m, light->roll_rad);
    emitter->table = &light->table;
    *strength = 1;
    return VS_OK;
}

static vs_status emit_panel(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                            double *strength) {
    (void)space;
    emitter->kind = VS_EMITTER_RECT;
    emitter->rect = vs_rect_facing(light->at_m, light->aim_m, light->width_m, light->height_m);
    emitter->axis = emitter->rect.normal;
    *strength = panel_nits(light);
    return VS_OK;
}

static vs_status emit_tube(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                           double *strength) {
    (void)space;
    vs_vec3 along_m = vs_vec3_sub(light->aim_m, light->at_m);
    emitter->kind = VS_EMITTER_LINE;
    emitter->length_m = vs_vec3_length(along_m);
    emitter->axis = vs_vec3_unit(along_m);
    emitter->rect = (vs_rect){.center_m = vs_vec3_along(light->at_m, along_m, 0.5),
                              .u = emitter->axis,
                              .half_u_m = emitter->length_m / 2};
    *strength = tube_candela_per_m(light, emitter->length_m);
    return VS_OK;
}

/* A sky is its opening, facing the room it shines into. */
static vs_status emit_sky(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                          double *strength) {
    const vs_opening *opening = &space->opening[light->through];
    const vs_box *room = &space->room[opening->room[0]];
    vs_vec3 middle_m = vs_vec3_scale(vs_vec3_add(room->low_m, room->high_m), 0.5);
    emitter->kind = VS_EMITTER_RECT;
    emitter->rect = opening->rect;
    emitter->at_m = opening->rect.center_m;
    if (vs_vec3_dot(vs_vec3_sub(middle_m, emitter->at_m), emitter->rect.normal) < 0) {
        emitter->rect.normal = vs_vec3_scale(emitter->rect.normal, -1);
        emitter->rect.u = vs_vec3_scale(emitter->rect.u, -1);
    }
    emitter->axis = emitter->rect.normal;
    *strength = light->value * opening->transmittance;
    return VS_OK;
}

static vs_status emit_sun(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                          double *strength) {
    (void)space;
    emitter->kind = VS_EMITTER_PARALLEL;
    emitter->axis = light->travel;
    *strength = light->value;
    return VS_OK;
}

typedef vs_status emit(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                       double *strength);
#define EMIT(member, word, traits, keys, emitter, reader) emit_##emitter,
static emit *const emit_kind[VS_LIGHT_KIND_COUNT] = {VS_LIGHT_LIST(EMIT)};

static vs_status tint(const vs_light *light, double white_kelvin, vs_bands *tint) {
    if (light->colour == VS_COLOUR_KELVIN) {
        return vs_colour_tint(light->kelvin, white_kelvin, tint);
    }
    *tint = light->colour == VS_COLOUR_TINT ? light->tint : vs_bands_grey(1);
    return VS_OK;
}

int vs_emitter_corners(const vs_emitter *emitter, vs_vec3 corner[4]) {
    corner[0] = emitter->at_m;
    if (emitter->kind == VS_EMITTER_LINE) {
        corner[1] = vs_vec3_along(emitter->at_m, emitter->axis, emitter->length_m);
        return 2;
    }
    if (emitter->kind == VS_EMITTER_RECT) {
        vs_rect_corners(&emitter->rect, corner);
        return 4;
    }
    return 1;
}

/* Whether an end or a corner of an emitter is beyond a wall of the room of its middle. */
static bool reaches_through_wall(const vs_emitter *emitter, const vs_space *space) {
    vs_vec3 end[4];
    int count = vs_emitter_corners(emitter, end);
    for (int i = 0; i < count; i++) {
        if (vs_space_room_at(space, end[i]) != emitter->room) {
            return true;
        }
    }
    return false;
}

vs_vec3 vs_emitter_middle(const vs_emitter *emitter) {
    return emitter->kind == VS_EMITTER_LINE ? emitter->rect.center_m : emitter->at_m;
}

size_t vs_emitter_whole_room(const vs_emitter *emitter) {
    return emitter->through_wall ? VS_SPACE_OUTSIDE : emitter->room;
}

vs_status vs_emitter_init(vs_emitter *emitter, const vs_light *light, const vs_space *space,
                          double white_kelvin) {
    const vs_emitter blank = {.opening = VS_SPACE_OUTSIDE, .room = VS_SPACE_OUTSIDE};
    *emitter = blank;
    emitter->kind = VS_EMITTER_POINT;
    emitter->profile = VS_PROFILE_EVEN;
    emitter->at_m = light->at_m;
    bool through = vs_light_kind_is(light->kind, VS_LIGHT_BY_OPENING);
    if (through) {
        emitter->opening = light->through;
        emitter->room = space->opening[light->through].room[0];
    }
    double strength = 0;
    vs_bands colour = vs_bands_grey(1);
    vs_status status = (unsigned)light->kind < VS_LIGHT_KIND_COUNT
                           ? emit_kind[light->kind](emitter, light, space, &strength)
                           : VS_ERR_DOMAIN;
    if (status == VS_OK) {
        status = tint(light, white_kelvin, &colour);
    }
    if (status != VS_OK) {
        return status;
    }
    if (!through) {
        emitter->room = vs_space_room_at(space, emitter->at_m);
        emitter->through_wall = reaches_through_wall(emitter, space);
    }
    emitter->strength = vs_bands_scale(colour, strength * light->dimmer);
    return VS_OK;
}

double vs_point_source_profile(const vs_point_source *source, vs_vec3 direction) {
    double along = vs_vec3_dot(direction, source->axis);
    switch (source->profile) {
    case VS_PROFILE_EVEN:
        return 1;
    case VS_PROFILE_COSINE:
        return fmax(0, along);
    case VS_PROFILE_SINE:
        return sqrt(fmax(0, 1 - along * along));
    case VS_PROFILE_SPOT: {
        /* atan2 keeps its digits on the axis, where acos of a cosine loses half of them */
        double across = vs_vec3_length(vs_vec3_cross(direction, source->axis));
        return vs_spot_profile(&source->emitter->spot, atan2(across, along));
    }
    case VS_PROFILE_PHOTOMETRY:
        return vs_photometric_candela(source->emitter->table, &source->emitter->frame, direction);
    }
    return 0;
}

void vs_point_sources_init(vs_point_sources *sources) {
    sources->item = NULL;
    sources->count = sources->size = 0;
}

void vs_point_sources_free(vs_point_sources *sources) {
    free(sources->item);
    vs_point_sources_init(sources);
}

static vs_status add_point(vs_point_sources *sources, vs_point_source point) {
    vs_point_source *item =
        vs_growable_reserve(sources->item, sources->count, &sources->size, sizeof *sources->item);
    if (!item) {
        return VS_ERR_MEMORY;
    }
    sources->item = item;
    sources->item[sources->count++] = point;
    return VS_OK;
}

/* Distance from p to the segment from a to b. */
static double distance_to_segment_m(vs_vec3 p, vs_vec3 a, vs_vec3 b) {
    vs_vec3 run = vs_vec3_sub(b, a);
    double square = vs_vec3_dot(run, run);
    double t = square > 0 ? vs_vec3_dot(vs_vec3_sub(p, a), run) / square : 0;
    return vs_vec3_length(vs_vec3_sub(p, vs_vec3_along(a, run, fmin(1, fmax(0, t)))));
}

/* The data needed at every level of halving an emitter. */
typedef struct {
    const vs_emitter *emitter;
    vs_vec3 a, b;
    double fineness;
    vs_point_sources *sources;
} division;

static bool fine_enough(const division *d, vs_vec3 center_m, double size_m, int halvings) {
    double gap_m = distance_to_segment_m(center_m, d->a, d->b) - size_m / 2;
    return halvings == HALVINGS_MAX || size_m <= d->fineness * gap_m;
}

static vs_status divide_line(const division *d, double from_m, double to_m, int halvings) {
    const vs_emitter *e = d->emitter;
    double middle_m = (from_m + to_m) / 2, length_m = to_m - from_m;
    if (!fine_enough(d, vs_vec3_along(e->at_m, e->axis, middle_m), length_m, halvings)) {
        vs_status status = divide_line(d, from_m, middle_m, halvings + 1);
        return status == VS_OK ? divide_line(d, middle_m, to_m, halvings + 1) : status;
    }
    vs_status status = VS_OK;
    for (int i = 0; i < POINTS_A_SIDE && status == VS_OK; i++) {
        double run_m = middle_m + point_node[i] * length_m / 2;
        vs_point_source point = {vs_vec3_along(e->at_m, e->axis, run_m),
                                 vs_bands_scale(e->strength, point_weight[i] * length_m / 2), e,
                                 VS_PROFILE_SINE, e->axis};
        status = add_point(d->sources, point);
    }
    return status;
}

static vs_status add_rect_points(const division *d, const vs_rect *segment) {
    const vs_emitter *e = d->emitter;
    double quarter_m2 = segment->half_u_m * segment->half_v_m;
    for (int i = 0; i < POINTS_A_SIDE * POINTS_A_SIDE; i++) {
        int iu = i % POINTS_A_SIDE, iv = i / POINTS_A_SIDE;
        vs_vec3 at_m =
            vs_vec3_along(segment->center_m, segment->u, point_node[iu] * segment->half_u_m);
        at_m = vs_vec3_along(at_m, segment->v, point_node[iv] * segment->half_v_m);
        double share_m2 = point_weight[iu] * point_weight[iv] * quarter_m2;
        vs_point_source point = {at_m, vs_bands_scale(e->strength, share_m2), e, VS_PROFILE_COSINE,
                                 e->axis};
        vs_status status = add_point(d->sources, point);
        if (status != VS_OK) {
            return status;
        }
    }
    return VS_OK;
}

static vs_status divide_rect(const division *d, vs_rect segment, int halvings) {
    double size_m = 2 * fmax(segment.half_u_m, segment.half_v_m);
    if (fine_enough(d, segment.center_m, size_m, halvings)) {
        return add_rect_points(d, &segment);
    }
    /* the longer side is halved: pieces become square whatever the panel's shape */
    vs_rect half = segment;
    bool along_u = segment.half_u_m >= segment.half_v_m;
    double *side_m = along_u ? &half.half_u_m : &half.half_v_m;
    vs_vec3 way = along_u ? segment.u : segment.v;
    *side_m /= 2;
    double shift_m = *side_m;
    int next = halvings + !along_u; /* a square takes two halvings to be half its size */
    half.center_m = vs_vec3_along(segment.center_m, way, -shift_m);
    vs_status status = divide_rect(d, half, next);
    if (status != VS_OK) {
        return status;
    }
    half.center_m = vs_vec3_along(segment.center_m, way, shift_m);
    return divide_rect(d, half, next);
}

vs_status vs_emitter_points(const vs_emitter *emitter, vs_vec3 a, vs_vec3 b, double fineness,
                            vs_point_sources *sources) {
    division d = {emitter, a, b, fineness, sources};
    sources->count = 0;
    switch (emitter->kind) {
    case VS_EMITTER_POINT: {
        vs_point_source point = {emitter->at_m, emitter->strength, emitter, emitter->profile,
                                 emitter->axis};
        return add_point(sources, point);
    }
    case VS_EMITTER_LINE:
        return divide_line(&d, 0, emitter->length_m, 0);
    case VS_EMITTER_RECT:
        return divide_rect(&d, emitter->rect, 0);
    case VS_EMITTER_PARALLEL:
        return VS_OK;
    }
    return VS_ERR_DOMAIN;
}
