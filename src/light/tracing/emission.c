/* SPDX-License-Identifier: GPL-3.0-or-later */
/* By kind of emitter: a lamp's profile, the cosine law of a panel, the sine law of a tube, a beam
 * over its opening; light from outside through the openings it can enter by. */
#include "light/tracing/emission.h"

#include <math.h>

#include "light/lamps/light_sampling.h"
#include "veilstop/base/units.h"

/* ---- a spot's profile ---- */

vs_emission_source vs_emission_source_make(const vs_space *space, const vs_emitter *emitter) {
    vs_emission_source s = {.space = space, .emitter = emitter};
    if (emitter->kind == VS_EMITTER_POINT && emitter->profile == VS_PROFILE_SPOT) {
        double step = emitter->spot.cutoff_rad / VS_EMISSION_ANGLES;
        for (int i = 0; i < VS_EMISSION_ANGLES; i++) {
            double middle = (i + 0.5) * step;
            double ring = 2 * VS_PI * (cos(i * step) - cos((i + 1) * step));
            s.flux_sr += ring * vs_spot_profile(&emitter->spot, middle);
            s.cumulative[i + 1] = s.flux_sr;
        }
        for (int i = 0; i <= VS_EMISSION_ANGLES; i++) {
            s.cumulative[i] /= s.flux_sr;
        }
    }
    return s;
}

static double spot_cosine(const vs_emission_source *s, double share) {
    int low = 0, high = VS_EMISSION_ANGLES;
    while (high - low > 1) {
        int middle = (low + high) / 2;
        if (s->cumulative[middle] <= share) {
            low = middle;
        } else {
            high = middle;
        }
    }
    double part =
        (share - s->cumulative[low]) / (s->cumulative[low + 1] - s->cumulative[low] + 1e-300);
    double step = s->emitter->spot.cutoff_rad / VS_EMISSION_ANGLES;
    double near = cos(low * step), far = cos((low + 1) * step);
    return near + fmin(1, part) * (far - near);
}

/* ---- emitters in a room ---- */

static vs_vec3 place_on(const vs_rect *r, double u, double v) {
    vs_vec3 p = vs_vec3_along(r->center_m, r->u, (2 * u - 1) * r->half_u_m);
    return vs_vec3_along(p, r->v, (2 * v - 1) * r->half_v_m);
}

static double area_m2(const vs_rect *r) {
    return 4 * r->half_u_m * r->half_v_m;
}

static double from_point(const vs_emission_source *s, const double x[4], vs_vec3 *direction) {
    const vs_emitter *e = s->emitter;
    static const vs_vec3 up = {0, 0, 1};
    if (e->profile == VS_PROFILE_SPOT) {
        *direction = vs_vec3_tilted(e->axis, spot_cosine(s, x[0]), 2 * VS_PI * x[1]);
        return s->flux_sr;
    }
    *direction = vs_vec3_tilted(e->profile == VS_PROFILE_EVEN ? up : e->axis, 1 - 2 * x[0],
                                2 * VS_PI * x[1]);
    return 4 * VS_PI * vs_emitter_relative_candela(e, *direction);
}

/* Start, direction and lumens for all of the light. */
static double set_out(const vs_emission_source *s, const double x[4], vs_vec3 *at_m,
                      vs_vec3 *direction) {
    const vs_emitter *e = s->emitter;
    if (e->kind == VS_EMITTER_POINT) {
        *at_m = e->at_m;
        return from_point(s, x, direction);
    }
    if (e->kind == VS_EMITTER_LINE) {
        double cosine = 2 * x[0] - 1;
        *at_m = vs_vec3_along(e->at_m, e->axis, x[2] * e->length_m);
        *direction = vs_vec3_tilted(e->axis, cosine, 2 * VS_PI * x[1]);
        return 4 * VS_PI * e->length_m * sqrt(1 - cosine * cosine);
    }
    *at_m = place_on(&e->rect, x[2], x[3]);
    *direction = vs_vec3_tilted(e->rect.normal, sqrt(x[0]), 2 * VS_PI * x[1]);
    return VS_PI * area_m2(&e->rect);
}

static size_t draw_inside(const vs_emission_source *s, const double x[4], double count,
                          vs_emission *out) {
    out->lumens = set_out(s, x, &out->at_m, &out->direction) / count;
    vs_vec3 off_m = vs_vec3_along(out->at_m, out->direction, 2 * VS_SPACE_SKIN_M);
    out->room = vs_space_room_at(s->space, off_m);
    return out->lumens > 0 && out->room != VS_SPACE_OUTSIDE;
}

/* ---- light from outside ---- */

/* Sun: all over its opening. */
static size_t draw_parallel(const vs_emission_source *s, const double x[4], double count,
                            vs_emission *out) {
    const vs_emitter *e = s->emitter;
    const vs_opening *opening = &s->space->opening[e->opening];
    double cosine = fabs(vs_vec3_dot(e->axis, opening->rect.normal));
    out->at_m = place_on(&opening->rect, x[0], x[1]);
    out->direction = e->axis;
    out->room = opening->room[0];
    vs_vec3 before_m = vs_vec3_along(out->at_m, e->axis, -0.01);
    vs_vec3 behind_m = vs_vec3_along(out->at_m, e->axis, 2 * VS_SPACE_SKIN_M / cosine);
    double open = vs_space_passage(s->space, before_m, behind_m).transmittance;
    out->lumens = open * area_m2(&opening->rect) * cosine / count;
    return out->lumens > 0;
}

/* A place on an emitter outside, and what it sends along: of its strength. */
static double send_to(const vs_emitter *e, const double x[4], vs_vec3 to_m, vs_vec3 *from_m) {
    double size = 1;
    *from_m = e->at_m;
    if (e->kind == VS_EMITTER_RECT) {
        *from_m = place_on(&e->rect, x[2], x[3]);
        size = area_m2(&e->rect);
    } else if (e->kind == VS_EMITTER_LINE) {
        *from_m = vs_vec3_along(e->at_m, e->axis, x[2] * e->length_m);
        size = e->length_m;
    }
    vs_vec3 direction = vs_vec3_unit(vs_vec3_sub(to_m, *from_m));
    double along = vs_vec3_dot(direction, e->axis);
    return size * (e->kind == VS_EMITTER_RECT   ? fmax(0, along)
                   : e->kind == VS_EMITTER_LINE ? sqrt(fmax(0, 1 - along * along))
                                                : vs_emitter_relative_candela(e, direction));
}

/* What comes in through one opening from an emitter outside. */
static size_t draw_through(const vs_emission_source *s, const vs_opening *opening,
                           const double x[4], double count, vs_emission *out) {
    vs_vec3 from_m;
    out->at_m = place_on(&opening->rect, x[0], x[1]);
    double candela = send_to(s->emitter, x, out->at_m, &from_m);
    vs_vec3 direction = vs_vec3_sub(out->at_m, from_m);
    double length_m = vs_vec3_length(direction);
    out->direction = vs_vec3_scale(direction, 1 / length_m);
    out->room = opening->room[0];
    vs_vec3 behind_m = vs_vec3_along(out->at_m, out->direction, 10 * VS_SPACE_SKIN_M);
    double open = candela > 0 && vs_space_room_at(s->space, behind_m) == opening->room[0]
                      ? vs_space_passage(s->space, from_m, behind_m).transmittance
                      : 0;
    double cosine = fabs(vs_vec3_dot(out->direction, opening->rect.normal));
    out->lumens = candela * open * cosine * area_m2(&opening->rect) / (length_m * length_m * count);
    return out->lumens > 0;
}

size_t vs_emission_draw(const vs_emission_source *s, const double even[4], double count,
                        vs_emission *out) {
    size_t drawn = 0;
    if (s->emitter->kind == VS_EMITTER_PARALLEL) {
        return draw_parallel(s, even, count, out);
    }
    if (s->emitter->room != VS_SPACE_OUTSIDE) {
        return draw_inside(s, even, count, out);
    }
    for (size_t i = 0; i < s->space->opening_count && drawn < VS_EMISSIONS_MAX; i++) {
        if (s->space->opening[i].room[1] == VS_SPACE_OUTSIDE) {
            drawn += draw_through(s, &s->space->opening[i], even, count, &out[drawn]);
        }
    }
    return drawn;
}
