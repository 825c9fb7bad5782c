/* Ways are spread by an additive recurrence, whose discrepancy falls almost as 1/count.
 * Source: Niederreiter 1992, Random Number Generation and Quasi-Monte Carlo Methods, ch. 3
 * (Kronecker sequences); steps are powers of the plastic constant's kin. */
#include "light/cast.h"

#include <math.h>

#include "light/aim.h"
#include "light/march.h"
#include "veilstop/base/units.h"

#define WAYS     1500 /* of one emitter; measured: docs/accuracy.md */
#define PASS_MAX 16   /* openings and nets on one way */

/* Powers of the inverse of the root of x^5 = x + 1: badly approximable together. */
static const double step[4] = {0.8566748838545029, 0.7338918566271260, 0.6287067210378087,
                               0.5385972572236101};

static void spread(int n, double x[4]) {
    for (int i = 0; i < 4; i++) {
        double at = 0.5 + step[i] * (n + 1);
        x[i] = at - floor(at);
    }
}

static vs_vec3 turned(vs_vec3 axis, double cosine, double around) {
    vs_vec3 u, v;
    vs_frame_about(axis, &u, &v);
    double sine = sqrt(fmax(0, 1 - cosine * cosine));
    vs_vec3 way = vs_vec3_along(vs_vec3_scale(axis, cosine), u, sine * cos(2 * VS_PI * around));
    return vs_vec3_along(way, v, sine * sin(2 * VS_PI * around));
}

/* Lumens of a way dim along it, at each band's pace. */
static vs_bands dimmed(const vs_cast *cast, vs_bands lumens, double k, double length_m) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double rate = k * cast->medium->ratio.v[band] * cast->dimming.v[band];
        lumens.v[band] *= exp(-rate * length_m);
    }
    return lumens;
}

/* One piece of air: the way is cut where cells may change. */
static vs_bands through_air(const vs_cast *cast, size_t room, vs_vec3 at_m, vs_vec3 direction,
                            double length_m, vs_bands lumens) {
    double k = vs_medium_extinction_per_m(cast->medium, room);
    if (k == 0) {
        return lumens;
    }
    const vs_cell_grid *cells = &cast->mesh->cells[room];
    vs_vec3 size = vs_vec3_sub(cells->box.high_m, cells->box.low_m);
    double cell_m = fmin(size.x / (double)cells->count[0],
                         fmin(size.y / (double)cells->count[1], size.z / (double)cells->count[2]));
    int parts = (int)fmin(64, ceil(2 * length_m / cell_m));
    double part_m = length_m / parts;
    for (int i = 0; i < parts; i++) {
        vs_vec3 middle = vs_vec3_along(at_m, direction, (i + 0.5) * part_m);
        vs_bands *cell = &cast->cell_lm_m[vs_mesh_cell(cast->mesh, room, middle)];
        vs_bands half = dimmed(cast, lumens, k, part_m / 2);
        *cell = vs_bands_add(*cell, vs_bands_scale(half, part_m));
        lumens = dimmed(cast, half, k, part_m / 2);
    }
    return lumens;
}

static void follow(const vs_cast *cast, size_t room, vs_vec3 at_m, vs_vec3 direction,
                   vs_bands lumens) {
    const vs_space *space = cast->mesh->space;
    for (int pass = 0; pass < PASS_MAX && room != VS_SPACE_OUTSIDE; pass++) {
        vs_march next = vs_march_on(space, at_m, direction, room);
        lumens = through_air(cast, room, at_m, direction, next.length_m, lumens);
        at_m = vs_vec3_along(at_m, direction, next.length_m);
        size_t patch = VS_MESH_NONE;
        double stopped = 1;
        if (next.end == VS_MARCH_WALL) {
            patch = vs_mesh_face_patch(cast->mesh, room, next.face, at_m);
        } else if (next.end == VS_MARCH_SCREEN) {
            const vs_screen *screen = &space->screen[next.index];
            bool front = vs_vec3_dot(direction, screen->rect.normal) < 0;
            patch = vs_mesh_screen_patch(cast->mesh, next.index, front, at_m);
            stopped = 1 - screen->transmittance;
        } else if (next.end == VS_MARCH_PORTAL) {
            const vs_portal *portal = &space->portal[next.index];
            lumens = vs_bands_scale(lumens, portal->transmittance);
            room = vs_march_beyond(portal, room);
            continue;
        }
        if (patch != VS_MESH_NONE) {
            size_t sub = vs_mesh_sub(&cast->mesh->patch[patch], at_m);
            vs_bands *sum = &cast->sub_lm[patch * VS_MESH_SUBS + sub];
            *sum = vs_bands_add(*sum, vs_bands_scale(lumens, stopped));
        }
        if (stopped == 1) {
            return;
        }
        lumens = vs_bands_scale(lumens, 1 - stopped);
    }
}

static double profile_of(const vs_emitter *emitter, vs_vec3 direction) {
    vs_point_source point = {emitter->at_m, emitter->strength, emitter, emitter->profile,
                             emitter->axis};
    return vs_point_source_profile(&point, direction);
}

/* A way's start, direction and lumens for whole lights; the sum over all ways is the flux. */
static double set_out(const vs_emitter *e, const double x[4], vs_vec3 *at_m, vs_vec3 *way) {
    switch (e->kind) {
    case VS_EMITTER_POINT: {
        double lowest = e->profile == VS_PROFILE_SPOT ? cos(e->spot.cutoff_rad) : -1;
        vs_vec3 axis = e->profile == VS_PROFILE_EVEN ? (vs_vec3){0, 0, 1} : e->axis;
        *at_m = e->at_m;
        *way = turned(axis, 1 - x[0] * (1 - lowest), x[1]);
        return 2 * VS_PI * (1 - lowest) * profile_of(e, *way);
    }
    case VS_EMITTER_LINE: {
        double cosine = 2 * x[0] - 1;
        *at_m = vs_vec3_along(e->at_m, e->axis, x[2] * e->length_m);
        *way = turned(e->axis, cosine, x[1]);
        return 4 * VS_PI * e->length_m * sqrt(1 - cosine * cosine);
    }
    case VS_EMITTER_RECT: {
        const vs_rect *r = &e->rect;
        *at_m = vs_vec3_along(vs_vec3_along(r->center_m, r->u, (2 * x[2] - 1) * r->half_u_m), r->v,
                              (2 * x[3] - 1) * r->half_v_m);
        *way = turned(r->normal, sqrt(x[0]), x[1]);
        return VS_PI * 4 * r->half_u_m * r->half_v_m;
    }
    case VS_EMITTER_PARALLEL:
        break;
    }
    return 0;
}

static vs_vec3 place_on(const vs_rect *r, double u, double v) {
    vs_vec3 p = vs_vec3_along(r->center_m, r->u, (2 * u - 1) * r->half_u_m);
    return vs_vec3_along(p, r->v, (2 * v - 1) * r->half_v_m);
}

static vs_bands cast_inside(const vs_cast *cast, const vs_emitter *emitter) {
    vs_bands whole = vs_bands_grey(0);
    for (int n = 0; n < WAYS; n++) {
        double x[4];
        vs_vec3 at_m = {0, 0, 0}, way = at_m;
        spread(n, x);
        double share = set_out(emitter, x, &at_m, &way) / WAYS;
        if (share > 0) {
            vs_bands lumens = vs_bands_scale(emitter->strength, share);
            whole = vs_bands_add(whole, lumens);
            follow(
                cast,
                vs_space_room_at(cast->mesh->space, vs_vec3_along(at_m, way, 2 * VS_SPACE_SKIN_M)),
                at_m, way, lumens);
        }
    }
    return whole;
}

/* Sun: ways begin all over its opening. */
static vs_bands cast_parallel(const vs_cast *cast, const vs_emitter *emitter) {
    const vs_space *space = cast->mesh->space;
    const vs_portal *portal = &space->portal[emitter->portal];
    vs_bands whole = vs_bands_grey(0);
    double area_m2 = 4 * portal->rect.half_u_m * portal->rect.half_v_m;
    double cosine = fabs(vs_vec3_dot(emitter->axis, portal->rect.normal));
    for (int n = 0; n < WAYS; n++) {
        double x[4];
        spread(n, x);
        vs_vec3 at_m = place_on(&portal->rect, x[0], x[1]);
        vs_vec3 before_m = vs_vec3_along(at_m, emitter->axis, -0.01);
        vs_vec3 behind_m = vs_vec3_along(at_m, emitter->axis, 2 * VS_SPACE_SKIN_M / cosine);
        double open = vs_space_passage(space, before_m, behind_m).transmittance;
        vs_bands lumens = vs_bands_scale(emitter->strength, open * area_m2 * cosine / WAYS);
        whole = vs_bands_add(whole, lumens);
        follow(cast, portal->room[0], at_m, emitter->axis, lumens);
    }
    return whole;
}

/* What of an emitter outside comes in by one opening. */
static vs_bands cast_through(const vs_cast *cast, const vs_emitter *emitter,
                             const vs_portal *portal) {
    const vs_space *space = cast->mesh->space;
    vs_bands whole = vs_bands_grey(0);
    double area_m2 = 4 * portal->rect.half_u_m * portal->rect.half_v_m;
    for (int n = 0; n < WAYS; n++) {
        double x[4];
        spread(n, x);
        vs_vec3 at_m = place_on(&portal->rect, x[0], x[1]), from_m = emitter->at_m;
        double strength = 1;
        if (emitter->kind == VS_EMITTER_RECT) {
            from_m = place_on(&emitter->rect, x[2], x[3]);
            strength = 4 * emitter->rect.half_u_m * emitter->rect.half_v_m;
        } else if (emitter->kind == VS_EMITTER_LINE) {
            from_m = vs_vec3_along(emitter->at_m, emitter->axis, x[2] * emitter->length_m);
            strength = emitter->length_m;
        }
        vs_vec3 way = vs_vec3_sub(at_m, from_m);
        double length_m = vs_vec3_length(way);
        way = vs_vec3_scale(way, 1 / length_m);
        double along = vs_vec3_dot(way, emitter->axis);
        double profile = emitter->kind == VS_EMITTER_RECT   ? fmax(0, along)
                         : emitter->kind == VS_EMITTER_LINE ? sqrt(fmax(0, 1 - along * along))
                                                            : profile_of(emitter, way);
        vs_vec3 behind_m = vs_vec3_along(at_m, way, 10 * VS_SPACE_SKIN_M);
        double open = profile > 0 && vs_space_room_at(space, behind_m) == portal->room[0]
                          ? vs_space_passage(space, from_m, behind_m).transmittance
                          : 0;
        double cosine = fabs(vs_vec3_dot(way, portal->rect.normal));
        vs_bands lumens =
            vs_bands_scale(emitter->strength, strength * profile * open * cosine * area_m2 /
                                                  (length_m * length_m * WAYS));
        if (open > 0) {
            whole = vs_bands_add(whole, lumens);
            follow(cast, portal->room[0], at_m, way, lumens);
        }
    }
    return whole;
}

vs_bands vs_cast_light(const vs_cast *cast, const vs_emitter *emitter) {
    const vs_space *space = cast->mesh->space;
    if (emitter->kind == VS_EMITTER_PARALLEL) {
        return cast_parallel(cast, emitter);
    }
    if (emitter->room != VS_SPACE_OUTSIDE) {
        return cast_inside(cast, emitter);
    }
    vs_bands whole = vs_bands_grey(0);
    for (size_t i = 0; i < space->portal_count; i++) {
        if (space->portal[i].room[1] == VS_SPACE_OUTSIDE) {
            whole = vs_bands_add(whole, cast_through(cast, emitter, &space->portal[i]));
        }
    }
    return whole;
}
