/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Path tracing (Monte Carlo): light by random walks, with every order of scattering and reflection,
 * without bias and with its standard error. It measures what the predictions leave out; no closed
 * forms, no fits.
 * Sources: Chandrasekhar 1950, Radiative Transfer, ch. I; Veach 1997, Robust Monte Carlo Methods,
 * ch. 9 (weighting estimates); Kulla & Fajardo 2012 (distances along a ray). */
#ifndef VEILSTOP_LIGHT_PATH_TRACING_H
#define VEILSTOP_LIGHT_PATH_TRACING_H

#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/random.h"
#include "veilstop/base/status.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/surfaces.h"
#include "veilstop/optics/phase_sampling.h"

#ifdef __cplusplus
extern "C" {
#endif

/** In place of a number of vertices: no path that matters has so many. */
#define VS_PATH_TRACER_ALL_ORDERS ((size_t)1 << 20)

/** A location with its haze and lights, prepared for path tracing. Borrows everything it was made
 *  from; read-only while walking, so that threads may share it. */
typedef struct {
    const vs_medium *medium;
    const vs_surfaces *surfaces;
    const vs_emitter **emitter; /* the lights that shine */
    size_t *emitter_index;      /* their indices in the caller's array */
    size_t emitter_count;
    vs_phase_sampler phase_sampler[VS_BAND_COUNT];
    bool one_phase; /* the bands share one phase function */
    size_t vertex_limit;
} vs_path_tracer;

/** emitter     one per light; dark ones are left out
 *  vertex_limit  most vertices (at droplets and surfaces) of a path from light to eye:
 *              VS_PATH_TRACER_ALL_ORDERS; 1 gives once-scattered veils and directly lit surfaces
 *  Errors: VS_ERR_MEMORY; VS_ERR_DOMAIN where light is trapped (vs_surfaces_light_trap).
 *  The location is taken as given: matt grey surfaces; a fed panel shines like its emitter and
 *  reflects nothing else; a net reflects its reflectance of what it stops; outside there is no
 *  haze, and light that leaves returns only through an opening or by a blocker. */
VS_WARN_UNUSED vs_status vs_path_tracer_init(vs_path_tracer *paths, const vs_medium *medium,
                                             const vs_surfaces *surfaces, const vs_emitter *emitter,
                                             size_t emitter_count, size_t vertex_limit);
void vs_path_tracer_free(vs_path_tracer *paths);

/** The result of one walk; the mean over many is the answer [cd/m2]. */
typedef struct {
    vs_bands watched; /* light of the watched emitter with one vertex: scattered or reflected */
    vs_bands rest;    /* all other light */
} vs_path_light;

/** One walk for the veil along a line of sight: light scattered towards the camera on it.
 *  watched  index of an emitter in the caller's array, or SIZE_MAX
 *  The ends of lines are not included: what is seen there is up to the caller. */
vs_path_light vs_path_tracer_veil(const vs_path_tracer *paths, const vs_camera_ray *ray,
                                  size_t watched, vs_random *random);

/** One walk for the luminance of a matt surface of a reflectance at p, facing along the unit
 *  normal. p is inside a room or on a surface of it. */
vs_path_light vs_path_tracer_surface(const vs_path_tracer *paths, vs_vec3 p_m, vs_vec3 normal,
                                     double reflectance, size_t watched, vs_random *random);

/** A sum over walks. */
typedef struct {
    double count;
    vs_bands sum;
    double luminance, luminance_square;
} vs_tally;

void vs_tally_add(vs_tally *tally, vs_bands value);
/** Adds one tally to another; in a fixed order the sums are the same however the work was split. */
void vs_tally_join(vs_tally *tally, const vs_tally *more);
vs_bands vs_tally_mean(const vs_tally *tally);
/** Standard error of the mean's luminance; 0 without walks. */
double vs_tally_error(const vs_tally *tally);

#ifdef __cplusplus
}
#endif
#endif
