/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See fields.h. */
#include "light/bounce/fields.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"

/* What it needs to find what is seen, which a solver beside another has of its own. */
static vs_status own_init(vs_fields *f) {
    vs_status status = vs_gather_init(&f->gather, f->mesh, &f->scattering, f->emitter_count);
    for (size_t i = 0; i < VS_GATHER_ROOMS_MAX && status == VS_OK; i++) {
        status = vs_room_view_init(&f->view[i], f->mesh);
    }
    return status;
}

static vs_status air_init(vs_air_fields *air, const vs_mesh *mesh, size_t emitter_count) {
    const vs_array arrays[] = {VS_ARRAY(air->field, emitter_count),
                               VS_ARRAY(air->tracing, emitter_count),
                               VS_ARRAY(air->room_extinction_per_m, mesh->space->room_count)};
    air->memory = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    return air->memory ? vs_even_light_init(&air->even, mesh) : VS_ERR_MEMORY;
}

/* What solvers beside this one read, too. */
static vs_status held_init(vs_fields *f, const vs_location_light *location) {
    const vs_array arrays[] = {VS_ARRAY(f->missing, f->emitter_count),
                               VS_ARRAY(f->traced, f->emitter_count),
                               VS_ARRAY(f->outlived, f->emitter_count)};
    f->memory = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    vs_status status = f->memory ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < VS_FIELDS_AIRS && status == VS_OK; i++) {
        status = air_init(&f->air[i], f->mesh, f->emitter_count);
    }
    return status == VS_OK ? vs_band_transport_init(&f->transport, &location->coarse,
                                                    &location->radiosity, &location->air)
                           : status;
}

static vs_status finished(vs_fields *f, vs_status status) {
    if (status != VS_OK) {
        vs_fields_free(f);
    }
    return status;
}

vs_status vs_fields_init(vs_fields *f, const vs_location_light *location, const vs_haze *haze,
                         size_t emitter_count) {
    memset(f, 0, sizeof *f); /* too large for a blank one on the stack */
    f->mesh = &location->mesh;
    f->haze = haze;
    f->emitter_count = emitter_count;
    vs_scattering_make(&f->scattering, haze);
    vs_status status = own_init(f);
    return finished(f, status == VS_OK ? held_init(f, location) : status);
}

vs_status vs_fields_init_beside(vs_fields *f, const vs_fields *others) {
    *f = *others;
    f->beside = true;
    memset(f->view, 0, sizeof f->view);
    memset(&f->gather, 0, sizeof f->gather);
    memset(&f->gathered, 0, sizeof f->gathered);
    return finished(f, own_init(f));
}

static void free_held(vs_fields *f) {
    for (size_t i = 0; i < VS_FIELDS_AIRS; i++) {
        for (size_t e = 0; f->air[i].field && e < f->emitter_count; e++) {
            vs_field_free(&f->air[i].field[e]);
        }
        vs_even_light_free(&f->air[i].even);
        free(f->air[i].memory);
    }
    for (size_t e = 0; f->traced && e < f->emitter_count; e++) {
        if (!f->traced[e].borrowed) {
            vs_tracing_free(&f->traced[e].walks);
        }
    }
    for (size_t e = 0; f->outlived && e < f->emitter_count; e++) {
        vs_tracing_free(&f->outlived[e]);
    }
    vs_band_transport_free(&f->transport);
    free(f->memory);
}

void vs_fields_free(vs_fields *f) {
    if (!f->beside) {
        free_held(f);
    }
    for (size_t i = 0; i < VS_GATHER_ROOMS_MAX; i++) {
        vs_room_view_free(&f->view[i]);
    }
    vs_gather_free(&f->gather);
    vs_gathered_free(&f->gathered);
    memset(f, 0, sizeof *f);
}

static bool is_air(const vs_air_fields *air, const vs_medium *medium) {
    bool same = air->used > 0 && air->ratio.v[0] == medium->ratio.v[0] &&
                air->ratio.v[1] == medium->ratio.v[1] && air->ratio.v[2] == medium->ratio.v[2];
    for (size_t r = 0; r < medium->space->room_count && same; r++) {
        same = air->room_extinction_per_m[r] == medium->room_extinction_per_m[r];
    }
    return same;
}

/* The fields kept for a haze, or else the place of those unused for the longest; NULL: all are
 * held. */
static vs_air_fields *find_air(vs_fields *f, const vs_medium *medium) {
    vs_air_fields *oldest = NULL;
    for (size_t i = 0; i < VS_FIELDS_AIRS; i++) {
        vs_air_fields *air = &f->air[i];
        if (is_air(air, medium)) {
            return air;
        }
        oldest = air->held == 0 && (!oldest || air->used < oldest->used) ? air : oldest;
    }
    for (size_t r = 0; oldest && r < medium->space->room_count; r++) {
        oldest->room_extinction_per_m[r] = medium->room_extinction_per_m[r];
    }
    for (size_t e = 0; oldest && e < f->emitter_count; e++) {
        oldest->tracing[e] = 0;
    }
    if (oldest) {
        oldest->ratio = medium->ratio;
        f->dimmed = oldest == f->dimmed ? NULL : f->dimmed;
    }
    return oldest;
}

/* Lets an emitter's walks go; to those that borrowed them they stay. */
static void forget_walks(vs_fields *f, size_t e) {
    const vs_tracing blank = {0};
    vs_traced *traced = &f->traced[e];
    if (traced->lent) {
        vs_tracing_free(&f->outlived[e]);
        f->outlived[e] = traced->walks;
    } else if (!traced->borrowed) {
        vs_tracing_free(&traced->walks);
    }
    traced->walks = blank;
    traced->borrowed = traced->lent = traced->good = false;
}

vs_status vs_fields_trace(vs_fields *f, const vs_emitter *emitter, size_t e) {
    vs_traced *traced = &f->traced[e];
    if (traced->good && vs_tracing_alike(&traced->emitter, emitter)) {
        return VS_OK;
    }
    forget_walks(f, e);
    vs_status status = vs_tracing_init(&traced->walks, f->mesh, emitter);
    if (status == VS_OK) {
        traced->emitter = *emitter;
        traced->good = true;
        traced->number++;
    }
    return status;
}

void vs_fields_lend(vs_fields *f, vs_fields *others) {
    for (size_t e = 0; e < f->emitter_count; e++) {
        bool free_to = !f->outlived[e].lit_room; /* none that others still use */
        if (f->traced[e].good && free_to && !others->traced[e].good) {
            others->traced[e] = f->traced[e];
            others->traced[e].borrowed = true;
            others->traced[e].lent = false;
            f->traced[e].lent = true;
        }
    }
}

/* The missing emitters' fields, eight at a time. */
static vs_status solve(vs_fields *f, const vs_medium *medium, vs_air_fields *air, size_t missing) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < missing && status == VS_OK; i++) {
        vs_field *field = &air->field[f->missing[i]];
        vs_field_free(field);
        status = vs_field_init(field, f->mesh, &f->traced[f->missing[i]].walks);
    }
    if (missing > 0 && status == VS_OK && f->dimmed != air) {
        vs_band_transport_dim(&f->transport, medium, &f->scattering);
        f->dimmed = air;
    }
    for (size_t first = 0; first < missing && status == VS_OK; first += LANES) {
        size_t count = missing - first < LANES ? missing - first : LANES;
        const vs_tracing *walks[LANES];
        vs_field *field[LANES];
        for (size_t l = 0; l < count; l++) {
            walks[l] = &f->traced[f->missing[first + l]].walks;
            field[l] = &air->field[f->missing[first + l]];
        }
        status = vs_band_transport_solve(&f->transport, medium, &f->scattering, walks, field, count,
                                         &air->even);
    }
    return status;
}

vs_status vs_fields_in(vs_fields *f, const vs_medium *medium, const vs_emitter *emitter,
                       vs_air_fields **out) {
    vs_air_fields *air = find_air(f, medium);
    vs_status status = air ? VS_OK : VS_ERR_MEMORY;
    size_t missing = 0;
    *out = NULL;
    for (size_t e = 0; e < f->emitter_count && status == VS_OK; e++) {
        if (vs_bands_luminance(emitter[e].strength) == 0) {
            continue;
        }
        status = vs_fields_trace(f, &emitter[e], e);
        if (status == VS_OK && air->tracing[e] != f->traced[e].number) {
            air->tracing[e] = 0;
            f->missing[missing++] = e;
        }
    }
    if (status == VS_OK) {
        status = solve(f, medium, air, missing);
    }
    for (size_t i = 0; i < missing && status == VS_OK; i++) {
        air->tracing[f->missing[i]] = f->traced[f->missing[i]].number;
    }
    if (status == VS_OK) {
        air->used = ++f->clock;
        air->held++;
        *out = air;
    }
    return status;
}
