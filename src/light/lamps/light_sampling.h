/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light sampling: a random place on a light as seen from a point, and a random distance in the
 * interval of a ray that it lights (equiangular sampling). Each sample comes with its density, so
 * that estimates can be weighted against one another. */
#ifndef VEILSTOP_LIGHT_LAMPS_LIGHT_SAMPLING_H
#define VEILSTOP_LIGHT_LAMPS_LIGHT_SAMPLING_H

#include <stdbool.h>

#include "veilstop/base/random.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"

/* The light from one place on an emitter to a point. */
typedef struct {
    vs_vec3 at_m;   /* the place; of a parallel beam: where it comes through its opening */
    vs_vec3 toward; /* unit vector from the point to it */
    vs_bands lux;   /* square to `toward`, divided by the sampling density; unobstructed */
    double per_sr;  /* RECT: density of the direction [1/sr]; else 0: no direction can hit it */
} vs_light_sample;

/* Samples a place on the emitter as seen from p. False: it does not shine there. */
bool vs_light_sample_draw(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m,
                          vs_random *random, vs_light_sample *sample);

/* Transmittance between p in a room and the sampled place; *depth: the optical depth at
 * 549 nm of the haze there. */
double vs_light_sample_transmittance(const vs_medium *medium, const vs_emitter *emitter,
                                     vs_vec3 p_m, size_t room, const vs_light_sample *sample,
                                     double *depth);

/* Density with which vs_light_sample_draw draws a direction that hits a RECT [1/sr]. */
double vs_light_sample_rect_per_sr(const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 direction);

/* A POINT's candela in a direction from it, over its strength. */
double vs_emitter_relative_candela(const vs_emitter *emitter, vs_vec3 direction);

/* Rough estimate of the emitter's light at p, normal to its direction [lx]; over 0 if there is
 * any. */
double vs_light_sample_about_lux(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m);

/* The interval of a ray that an emitter may light. Distances in it are drawn half of the time by
 * equiangular sampling (Kulla & Fajardo 2012), half with the density of scattering. */
typedef struct {
    double from_m, to_m;     /* to_m <= from_m: none */
    double near_m;           /* along the ray, nearest to the emitter */
    double apart_m;          /* from the emitter there; 0: a parallel beam, sampled by scattering */
    double from_rad, to_rad; /* at the emitter */
    double about;            /* rough estimate of its light over the interval [lx m]; 0: none */
} vs_distance_sampler;

vs_distance_sampler vs_distance_sampler_make(const vs_emitter *emitter, const vs_space *space,
                                             vs_vec3 start_m, vs_vec3 direction, double length_m);
double vs_distance_sampler_draw(const vs_distance_sampler *distances, double extinction_per_m,
                                vs_random *random);
/* Density of what vs_distance_sampler_draw draws [1/m]. */
double vs_distance_sampler_per_m(const vs_distance_sampler *distances, double extinction_per_m,
                                 double at_m);

/* A free path within length_m, and its density. */
double vs_free_path_draw(double extinction_per_m, double length_m, double share);
double vs_free_path_per_m(double extinction_per_m, double length_m, double at_m);

#endif
