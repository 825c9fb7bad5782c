/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One camera of a shot in one haze: what every question about a line of sight is asked of. */
#ifndef VEILSTOP_SHOT_PREDICT_CAMERA_SETUP_H
#define VEILSTOP_SHOT_PREDICT_CAMERA_SETUP_H

#include "veilstop/camera/view.h"
#include "veilstop/shot/predict.h"

/* [1] tolerance of the light integrals behind a prediction */
#define VS_CAMERA_SETUP_RELATIVE 1e-5

typedef struct {
    vs_predictor *predictor;
    const vs_scene *scene;
    const vs_scene_shot *shot;
    const vs_camera *camera;
    vs_view view;
    vs_medium clear, hazed;
} vs_camera_setup;

/* A look at a shot whose lights the predictor has made ready. room_extinction_per_m is borrowed. */
vs_camera_setup vs_camera_setup_make(vs_predictor *predictor, const vs_scene_shot *shot,
                                     const double *room_extinction_per_m);

/* Solves for the bounced light of the lights that are ready, in clear air and in the haze. */
vs_status vs_camera_setup_solve_bounce(const vs_camera_setup *setup);

/* Veil of one light on a line of sight. */
vs_status vs_camera_setup_veil_of(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                  const vs_emitter *emitter, vs_bands *nits);
/* The same of every light of the scene. */
vs_status vs_camera_setup_veils(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                vs_bands *by_light);
/* Veil of what met a wall or more than one droplet first, where `once` is what
 * vs_camera_setup_veils gives; by_light, one a light of the scene: what of it began at each (light
 * given as `nits` began nowhere). */
vs_status vs_camera_setup_indirect_veil(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                        const vs_bands *once, vs_bands *by_light, vs_bands *nits);
/* Luminance of a matt surface of a reflectance at p, facing along normal, in the haze or without.
 */
vs_status vs_camera_setup_surface(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                  double reflectance, bool hazed, vs_bands *nits);
/* What a line of sight ends at: a matt surface, or something with a light of its own. */
typedef struct {
    vs_vec3 at_m, normal;
    double reflectance; /* 0: not a surface that reflects */
    vs_bands own_nits;  /* of a fed panel, of the skies behind a window; in the haze */
} vs_ray_target;

vs_ray_target vs_camera_setup_target(const vs_camera_setup *setup, const vs_camera_ray *ray);

/* Luminance of what a line of sight ends at: wall, blocker, fed panel, sky. */
vs_status vs_camera_setup_end(const vs_camera_setup *setup, const vs_camera_ray *ray,
                              vs_bands *nits);
/* The same without bounced light, within a relative tolerance; and all of the bounced light that is
 * seen along a line: its veil, and what it adds to the end of the line. */
vs_status vs_camera_setup_end_direct(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                     double relative, vs_bands *nits);
vs_status vs_camera_setup_indirect(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                   const vs_bands *once, vs_bands *nits);

#endif
