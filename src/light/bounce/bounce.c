/* SPDX-License-Identifier: GPL-3.0-or-later */
/* gather.h finds what a line of sight or a place sees; gathered.h evaluates it in a haze.
 * Equations: docs/physics.md, "Bounced light". */
#include "veilstop/light/bounce.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>

#include "light/bounce/fields.h"
#include "veilstop/light/shaft.h"

/* ---- keeping ---- */

vs_status vs_bounce_location_begin(vs_bounce_location *location, const vs_space *space,
                                   const vs_surfaces *surfaces) {
    size_t trap;
    location->kept = NULL;
    vs_status status = vs_surfaces_light_trap(space, surfaces, &trap);
    if (status != VS_OK || trap != VS_SPACE_OUTSIDE) {
        return status != VS_OK ? status : VS_ERR_DOMAIN;
    }
    vs_location_light *kept = calloc(1, sizeof *kept);
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    location->kept = kept;
    kept->surfaces = surfaces;
    return vs_mesh_init(&kept->mesh, space, surfaces, VS_MESH_FINE);
}

vs_status vs_bounce_location_part(vs_bounce_location *location, size_t part) {
    vs_location_light *kept = location->kept;
    switch (part) {
    case 0:
        return vs_radiosity_init(&kept->radiosity, &kept->mesh);
    case 1:
        return vs_air_init(&kept->air, &kept->mesh);
    default:
        return vs_coarse_init(&kept->coarse, &kept->mesh, kept->surfaces);
    }
}

vs_status vs_bounce_location_init(vs_bounce_location *location, const vs_space *space,
                                  const vs_surfaces *surfaces) {
    vs_status status = vs_bounce_location_begin(location, space, surfaces);
    for (size_t part = 0; part < VS_BOUNCE_PARTS && status == VS_OK; part++) {
        status = vs_bounce_location_part(location, part);
    }
    if (status != VS_OK) {
        vs_bounce_location_free(location);
    }
    return status;
}

void vs_bounce_location_free(vs_bounce_location *location) {
    vs_location_light *kept = location->kept;
    if (kept) {
        vs_coarse_free(&kept->coarse);
        vs_radiosity_free(&kept->radiosity);
        vs_air_free(&kept->air);
        vs_mesh_free(&kept->mesh);
    }
    free(kept);
    location->kept = NULL;
}

/* Keeps fields in a solver, if they were made. */
static vs_status keep(vs_bounce_solver *solver, vs_fields *fields, vs_status status) {
    solver->kept = status == VS_OK ? fields : NULL;
    if (status != VS_OK) {
        free(fields);
    }
    return status;
}

vs_status vs_bounce_solver_init(vs_bounce_solver *solver, const vs_bounce_location *location,
                                const vs_haze *haze, size_t emitter_count) {
    vs_fields *fields = calloc(1, sizeof *fields);
    return keep(solver, fields,
                fields ? vs_fields_init(fields, location->kept, haze, emitter_count)
                       : VS_ERR_MEMORY);
}

vs_status vs_bounce_solver_init_beside(vs_bounce_solver *solver, const vs_bounce_solver *first) {
    vs_fields *fields = calloc(1, sizeof *fields);
    return keep(solver, fields,
                fields ? vs_fields_init_beside(fields, first->kept) : VS_ERR_MEMORY);
}

vs_bounce vs_bounce_beside(const vs_bounce *bounce, vs_bounce_solver *solver) {
    vs_bounce beside = *bounce;
    beside.solver = solver;
    return beside;
}

void vs_bounce_solver_free(vs_bounce_solver *solver) {
    if (solver->kept) {
        vs_fields_free(solver->kept);
    }
    free(solver->kept);
    solver->kept = NULL;
}

vs_status vs_bounce_solver_trace(vs_bounce_solver *solver, const vs_emitter *emitter,
                                 size_t index) {
    vs_fields *fields = solver->kept;
    return fields->beside ? VS_ERR_DOMAIN : vs_fields_trace(fields, emitter, index);
}

void vs_bounce_solver_lend(vs_bounce_solver *solver, vs_bounce_solver *other) {
    vs_fields_lend(solver->kept, other->kept);
}

vs_status vs_bounce_solve(vs_bounce_solver *solver, const vs_medium *medium,
                          const vs_emitter *emitter, vs_bounce *bounce) {
    vs_fields *fields = solver->kept;
    const vs_bounce fresh = {.solver = solver, .emitter_count = fields->emitter_count};
    vs_air_fields *air;
    *bounce = fresh;
    if (fields->beside) {
        return VS_ERR_DOMAIN;
    }
    bounce->strength = calloc(fields->emitter_count + 1, sizeof *bounce->strength);
    vs_status status =
        bounce->strength ? vs_fields_in(fields, medium, emitter, &air) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        vs_bounce_free(bounce);
        return status;
    }
    bounce->air = air;
    for (size_t e = 0; e < fields->emitter_count; e++) {
        bounce->strength[e] = emitter[e].strength;
    }
    return VS_OK;
}

void vs_bounce_free(vs_bounce *bounce) {
    const vs_bounce blank = {0};
    if (bounce->air) {
        ((vs_air_fields *)bounce->air)->held--;
    }
    free(bounce->strength);
    *bounce = blank;
}

/* ---- asking ---- */

/* A view keeps a vs_gather. */
static vs_status view_init(vs_bounce_view *view, const vs_fields *fields) {
    view->kept = calloc(1, sizeof(vs_gather));
    return view->kept ? vs_gather_init(view->kept, fields->mesh, &fields->scattering,
                                       fields->emitter_count)
                      : VS_ERR_MEMORY;
}

static vs_status finished(vs_bounce_view *view, vs_status status) {
    if (status == VS_OK) {
        vs_gather_tighten(view->kept);
    } else {
        vs_bounce_view_free(view);
    }
    return status;
}

vs_status vs_bounce_view_ray(vs_bounce_view *view, vs_bounce_solver *solver,
                             const vs_camera_ray *ray) {
    vs_fields *f = solver->kept;
    vs_status status = view_init(view, f);
    status = status == VS_OK ? vs_gather_ray(view->kept, f->view, ray) : status;
    return finished(view, status);
}

vs_status vs_bounce_view_place(vs_bounce_view *view, vs_bounce_solver *solver, vs_vec3 p_m,
                               vs_vec3 normal) {
    vs_fields *f = solver->kept;
    vs_status status = view_init(view, f);
    status = status == VS_OK ? vs_gather_place(view->kept, f->view, p_m, normal) : status;
    return finished(view, status);
}

size_t vs_bounce_view_bytes(const vs_bounce_view *view) {
    return view->kept ? sizeof(vs_gather) + vs_gather_bytes(view->kept) : 0;
}

void vs_bounce_view_free(vs_bounce_view *view) {
    if (view->kept) {
        vs_gather_free(view->kept);
    }
    free(view->kept);
    view->kept = NULL;
}

/* Each emitter's light as its strength has it. */
static vs_status ask(const vs_bounce *bounce, const vs_medium *medium, vs_gather *gather,
                     vs_bands *light) {
    vs_fields *f = bounce->solver->kept;
    const vs_air_fields *air = bounce->air;
    vs_status status = vs_gathered_make(&f->gathered, gather, medium, &air->even);
    if (status == VS_OK) {
        status = vs_gather_lights(gather, f->traced, bounce->strength);
    }
    if (status == VS_OK) {
        vs_gathered_lights(&f->gathered, air->field, bounce->strength, light);
    }
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        light[e] = status == VS_OK ? vs_bands_mul(light[e], bounce->strength[e]) : vs_bands_grey(0);
    }
    return status;
}

static bool shines(const vs_bounce *bounce, size_t e) {
    return vs_bands_luminance(bounce->strength[e]) > 0;
}

vs_status vs_bounce_view_veil(const vs_bounce *bounce, const vs_medium *medium,
                              vs_bounce_view *view, const vs_bands *once, vs_bands *nits) {
    const vs_fields *f = bounce->solver->kept;
    vs_status status = ask(bounce, medium, view->kept, nits);
    for (size_t e = 0; e < bounce->emitter_count && status == VS_OK; e++) {
        if (shines(bounce, e)) {
            vs_bands more = vs_gathered_straight_on(&f->gathered, e);
            nits[e] = vs_bands_add(nits[e], vs_bands_mul(once[e], more));
        }
    }
    return status;
}

vs_status vs_bounce_view_veil_apart(const vs_bounce *bounce, const vs_medium *medium,
                                    vs_bounce_view *view, vs_bands *nits, vs_bands *more) {
    const vs_fields *f = bounce->solver->kept;
    vs_status status = ask(bounce, medium, view->kept, nits);
    for (size_t e = 0; e < bounce->emitter_count; e++) {
        bool lit = status == VS_OK && shines(bounce, e);
        more[e] = lit ? vs_gathered_straight_on(&f->gathered, e) : vs_bands_grey(0);
    }
    return status;
}

vs_status vs_bounce_veil(const vs_bounce *bounce, const vs_medium *medium, const vs_camera_ray *ray,
                         const vs_bands *once, vs_bands *nits) {
    vs_fields *f = bounce->solver->kept;
    vs_bounce_view view = {&f->gather};
    vs_status status = vs_gather_ray(&f->gather, f->view, ray);
    return status == VS_OK ? vs_bounce_view_veil(bounce, medium, &view, once, nits) : status;
}

/* ---- on a surface ---- */

/* Places on an emitter, from which its direct light comes to a surface: along a rectangle's sides, or
 * one for others. */
#define PLACES 4
/* [1] over it nothing of the light itself is left, which a share of it must not make a number of none */
#define DEPTH_MOST 300.0

/* The place, and what its light counts there without the haze, 1 where it is the only one. */
static vs_vec3 place_of(const vs_space *space, const vs_emitter *e, int place, vs_vec3 p_m,
                        vs_vec3 normal, double *counts) {
    const vs_rect *rect = &e->rect;
    *counts = 1;
    if (e->kind == VS_EMITTER_PARALLEL) {
        return vs_shaft_parallel_origin(space, e, p_m);
    }
    if (e->kind != VS_EMITTER_RECT) {
        return vs_emitter_middle(e);
    }
    double u = (2 * (place % PLACES) + 1.0) / PLACES - 1,
           v = (2 * (place / PLACES) + 1.0) / PLACES - 1;
    vs_vec3 from_m = vs_vec3_along(rect->center_m, rect->u, u * rect->half_u_m);
    from_m = vs_vec3_along(from_m, rect->v, v * rect->half_v_m);
    vs_vec3 d = vs_vec3_sub(from_m, p_m);
    double square = vs_vec3_dot(d, d);
    double facing = -fmax(0, vs_vec3_dot(d, normal)) * fmin(0, vs_vec3_dot(d, rect->normal));
    *counts = square > 0 ? facing / (square * square) : 0;
    return from_m;
}

/* What forward scattering adds to an emitter's direct light, as a share of it: it grows with the
 * depth on its way. The mean over places, each weighted by the light that comes from it. */
static vs_bands straight_on(const vs_fields *f, const vs_emitter *emitter, bool narrow,
                            const vs_medium *medium, vs_vec3 p_m, vs_vec3 normal) {
    const vs_split_phase *split = vs_split_of(&f->scattering, narrow);
    const int places = emitter->kind == VS_EMITTER_RECT ? PLACES * PLACES : 1;
    vs_bands sum = vs_bands_grey(0);
    double whole = 0;
    for (int i = 0; i < places; i++) {
        double counts;
        vs_vec3 from_m = place_of(medium->space, emitter, i, p_m, normal, &counts);
        double depth =
            vs_space_optical_depth(medium->space, medium->room_extinction_per_m, from_m, p_m);
        double weight = places > 1 ? counts * exp(-depth) : counts;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double gained = depth * medium->ratio.v[band] * (1 - split->dimming.v[band]);
            sum.v[band] += weight * expm1(fmin(gained, DEPTH_MOST));
        }
        whole += weight;
    }
    return whole * DBL_MAX > 1 ? vs_bands_scale(sum, 1 / whole) : sum; /* next to nothing at all */
}

vs_status vs_bounce_view_lux(const vs_bounce *bounce, const vs_medium *medium, vs_bounce_view *view,
                             const vs_bands *direct, vs_bands *lux) {
    const vs_fields *f = bounce->solver->kept;
    const vs_gather *gather = view->kept;
    vs_status status = ask(bounce, medium, view->kept, lux);
    for (size_t e = 0; e < bounce->emitter_count && direct && status == VS_OK; e++) {
        if (shines(bounce, e) && gather->segment.count > 0) {
            vs_bands more = straight_on(f, &f->traced[e].emitter, gather->light[e].once, medium,
                                        gather->at_m, gather->toward);
            lux[e] = vs_bands_add(lux[e], vs_bands_mul(direct[e], more));
        }
    }
    return status;
}

vs_status vs_bounce_lux(const vs_bounce *bounce, const vs_medium *medium, vs_vec3 p_m,
                        vs_vec3 normal, const vs_bands *direct, vs_bands *lux) {
    vs_fields *f = bounce->solver->kept;
    vs_bounce_view view = {&f->gather};
    vs_status status = vs_gather_place(&f->gather, f->view, p_m, normal);
    return status == VS_OK ? vs_bounce_view_lux(bounce, medium, &view, direct, lux) : status;
}
