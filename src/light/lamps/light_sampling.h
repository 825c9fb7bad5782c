/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Aiming a random path at a light: a place on it seen from a point, and the interval of a straight
 * way on which droplets may be lit by it. What is drawn comes with its density, so that estimates
 * can be weighed against one another. */
#ifndef VEILSTOP_LIGHT_LAMPS_LIGHT_SAMPLING_H
#define VEILSTOP_LIGHT_LAMPS_LIGHT_SAMPLING_H

#include <stdbool.h>

#include "veilstop/base/random.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"

/* What one place on a light sends to a point. */
typedef struct {
    vs_vec3 at_m;   /* the place; of a parallel beam: where it comes through its opening */
    vs_vec3 toward; /* unit vector from the point to it */
    vs_bands lux;   /* square to `toward`, over the density drawn with; nothing in between */
    double per_sr;  /* RECT: density of the direction drawn [1/sr]; else 0: no direction hits it */
} vs_light_sample;

/* Draws a place on the emitter as seen from p. False: nothing of it shines there. */
bool vs_light_sample_draw(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m,
                          vs_random *random, vs_light_sample *sample);

/* Transmittance of what is between p in a room and the place aimed at; *depth: the optical depth at
 * 549 nm of the haze there. */
double vs_light_sample_transmittance(const vs_medium *medium, const vs_emitter *emitter,
                                     vs_vec3 p_m, size_t room, const vs_light_sample *sample,
                                     double *depth);

/* Density with which vs_light_sample_draw draws a direction that hits a RECT [1/sr]. */
double vs_light_sample_rect_per_sr(const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 direction);

/* A POINT's candela in a direction from it, over its strength. */
double vs_emitter_relative_candela(const vs_emitter *emitter, vs_vec3 direction);

/* About what the emitter sends to p, square to the way [lx]; over 0 where it sends anything. */
double vs_light_sample_about_lux(const vs_emitter *emitter, const vs_space *space, vs_vec3 p_m);

/* The interval of a straight way that an emitter may light. Along it a distance is drawn, half of
 * the time even in the angle at the emitter (Kulla & Fajardo 2012), half as haze scatters. */
typedef struct {
    double from_m, to_m; /* to_m <= from_m: none */
    double near_m;       /* of the way, nearest to the emitter */
    double apart_m;      /* from the emitter there; 0: a parallel beam, drawn as haze scatters */
    double from_rad, to_rad; /* at the emitter */
    double about;            /* about what it gives to all of the interval [lx m]; 0: none */
} vs_distance_sampler;

vs_distance_sampler vs_distance_sampler_make(const vs_emitter *emitter, const vs_space *space,
                                             vs_vec3 start_m, vs_vec3 direction, double length_m);
double vs_distance_sampler_draw(const vs_distance_sampler *distances, double extinction_per_m,
                                vs_random *random);
/* Density of what vs_distance_sampler_draw draws [1/m]. */
double vs_distance_sampler_per_m(const vs_distance_sampler *distances, double extinction_per_m,
                                 double at_m);

/* A distance within length_m drawn as haze scatters, and its density. */
double vs_free_path_draw(double extinction_per_m, double length_m, double share);
double vs_free_path_per_m(double extinction_per_m, double length_m, double at_m);

#endif
