/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One camera of a shot in one haze: answers all questions about lines of sight. */
#ifndef VEILSTOP_SHOT_SIGHT_CAMERA_SETUP_H
#define VEILSTOP_SHOT_SIGHT_CAMERA_SETUP_H

#include "veilstop/camera/view.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/shot/predict.h"

/* [1] tolerance of the light integrals behind a prediction */
#define VS_CAMERA_SETUP_RELATIVE 1e-5

/* Places of a shot at which light is needed: for a point, for a wanted beam. */
enum { VS_NOTE_SURFACE, VS_NOTE_CLEAR, VS_NOTE_END, VS_NOTE_VEIL, VS_NOTES_OF_POINT };
enum { VS_NOTE_BEHIND, VS_NOTE_ALONG, VS_NOTES_OF_BEAM };
#define VS_NOTE_NONE SIZE_MAX

/* Densities at which direct light is worked out together: what lies where is found once. */
typedef struct {
    size_t count;
    double step[VS_AIRLIGHT_STEPS_MAX];        /* extinction over the first's, in every room */
    vs_medium medium[VS_AIRLIGHT_STEPS_MAX];   /* the first is the setup's */
    vs_bands *strength[VS_AIRLIGHT_STEPS_MAX]; /* one per light of the scene, in that haze */
    vs_bands *direct[VS_AIRLIGHT_STEPS_MAX];   /* out, as in vs_indirect_notes */
} vs_direct_steps;

/* The light of one shot in one haze, by place and light, indirect and direct apart: recorded as it
 * is computed, or read if known, which is far quicker. Lamps must be as they were then, or off. The
 * extras of a prediction cannot be read. */
typedef struct vs_indirect_notes {
    bool known;        /* to be read; else to be recorded */
    size_t points;     /* of the shot */
    vs_bands *note;    /* indirect light: place x light of the scene */
    bool direct_known; /* the same for `direct` */
    /* once-scattered veils [cd/m2] and illuminances [lx]: place x light; NULL: not recorded */
    vs_bands *direct;
    vs_direct_steps *steps; /* more densities for what is recorded as direct; NULL: none */
} vs_indirect_notes;

/* Number of places; the place of a point's or a wanted beam's light. */
static inline size_t vs_note_count(size_t points, size_t beams) {
    return points * VS_NOTES_OF_POINT + beams * VS_NOTES_OF_BEAM;
}
/* Whether a place's light is a veil; else it is light on a surface. */
static inline bool vs_note_is_veil(size_t points, size_t note) {
    size_t of_points = vs_note_count(points, 0);
    return note < of_points ? note % VS_NOTES_OF_POINT == VS_NOTE_VEIL
                            : (note - of_points) % VS_NOTES_OF_BEAM == VS_NOTE_ALONG;
}
static inline size_t vs_note_of_point(size_t point) {
    return point * VS_NOTES_OF_POINT;
}
static inline size_t vs_note_of_beam(const vs_indirect_notes *notes, size_t beam) {
    return notes ? vs_note_count(notes->points, beam) : VS_NOTE_NONE;
}

typedef struct {
    vs_predictor *predictor;
    const vs_scene *scene;
    const vs_scene_shot *shot;
    const vs_camera *camera;
    vs_view view;
    vs_medium clear, hazed;
    vs_indirect_notes *notes; /* NULL: none */
} vs_camera_setup;

/* The setup of a shot. Its lights must be prepared before use. room_extinction_per_m is
 * borrowed. */
vs_camera_setup vs_camera_setup_make(vs_predictor *predictor, const vs_scene_shot *shot,
                                     const double *room_extinction_per_m);

/* Prepares the shot's lights, in clear air and in the haze. */
vs_status vs_camera_setup_lights(const vs_camera_setup *setup);

/* Adds the contributions of lights' parts to those of the whole lights. */
void vs_camera_setup_fold_parts(const vs_scene *scene, vs_bands *by_light);

/* Solves for the bounced light of the prepared lights, in clear air and in the haze, unless it is
 * known from notes. */
vs_status vs_camera_setup_solve_bounce(const vs_camera_setup *setup);
/* The same for other emitters, one per light of the scene, without haze and in it. */
vs_status vs_camera_setup_solve(const vs_camera_setup *setup, const vs_emitter *clear_light,
                                const vs_emitter *hazed_light);

/* Veil of one light on a line of sight. */
vs_status vs_camera_setup_veil_of(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                  const vs_emitter *emitter, vs_bands *nits);
/* The same for every light of the scene. note, here and below: the place in the notes, or
 * VS_NOTE_NONE. */
vs_status vs_camera_setup_veils(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t note,
                                vs_bands *by_light);
/* Veil of light that met a surface or more than one droplet before; `once` is the result of
 * vs_camera_setup_veils; by_light, one per light of the scene: the part due to each (light given as
 * `nits` is due to none). */
vs_status vs_camera_setup_indirect_veil(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                        const vs_bands *once, size_t note, vs_bands *by_light,
                                        vs_bands *nits);
/* Luminance of a matt surface of a reflectance at p, facing along normal, in the haze or without.
 */
vs_status vs_camera_setup_surface(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                  double reflectance, bool hazed, size_t note, vs_bands *nits);
/* Light on a surface at p [lx] within a relative tolerance: straight from the lamps, plus uniform
 * light if the scene gives it; each light's share in the predictor's `direct`. */
vs_status vs_camera_setup_direct_lux(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                     bool hazed, double relative, size_t note, vs_bands *lux);
/* The same for bounced light, each light's in the predictor's `share`; in the haze, `direct` must
 * be that of the same place. */
vs_status vs_camera_setup_bounced_lux(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                      bool hazed, size_t note, vs_bands *lux);
/* The uniform radiance that a scene may give in place of computed bounce [cd/m2]. */
double vs_camera_setup_ambient_nits(const vs_scene *scene);
/* What a line of sight ends at: a matt surface, or something that shines. */
typedef struct {
    vs_vec3 at_m, normal;
    double reflectance;      /* 0: not a reflecting surface */
    vs_bands own_nits;       /* of a fed panel, of the skies behind a window; in the haze */
    vs_bands clear_own_nits; /* the same without haze */
} vs_ray_target;

vs_ray_target vs_camera_setup_target(const vs_camera_setup *setup, const vs_camera_ray *ray);

/* Luminance of what a line of sight ends at: wall, blocker, fed panel, sky. */
vs_status vs_camera_setup_end(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t note,
                              vs_bands *nits);
/* The same without bounced light, within a relative tolerance. */
vs_status vs_camera_setup_end_direct(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                     double relative, size_t note, vs_bands *nits);
/* All the bounced light seen along a line: its veil, and its part at the end of the line.
 * note  the first of two places, VS_NOTE_BEHIND and VS_NOTE_ALONG relative to it */
vs_status vs_camera_setup_indirect(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                   const vs_bands *once, size_t note, vs_bands *nits);

#endif
