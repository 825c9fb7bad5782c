/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What haze does to a shot: for each point how much of its light is left and how much veil lies
 * over it, by lamp; contrasts, beams and separations. The contents of docs/output.md, in memory. */
#ifndef VEILSTOP_SHOT_PREDICT_H
#define VEILSTOP_SHOT_PREDICT_H

#include <stdbool.h>

#include "veilstop/base/runner.h"
#include "veilstop/light/airlight.h"
#include "veilstop/light/bounce.h"
#include "veilstop/optics/haze.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/reads.h"
#include "veilstop/shot/scene.h"
#include "veilstop/shot/scene_emitters.h"
#include "veilstop/shot/scene_geometry.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The scene's location with the openings as set by some of the shots. */
typedef struct {
    const double *open; /* of those shots; NULL: as in the scene */
    vs_scene_geometry geometry;
    vs_bounce_location location; /* for indirect light */
} vs_predictor_place;

/** A scene prepared for many predictions; one per thread. */
typedef struct {
    const vs_scene *scene;
    bool beside; /* haze and places belong to another predictor */
    vs_haze haze;
    vs_predictor_place *place; /* the first has the scene's own openings */
    size_t place_count, in_hand;
    const vs_scene_geometry *geometry; /* of the current place */
    vs_airlight work;
    vs_emitter *clear_light, *hazed_light; /* one per light of the scene, for the current shot */
    double *clear_air;                     /* zero, one per room */
    double *thin_air; /* one per room: the haze in which places along beams are compared [1/m] */
    vs_bounce_solver *bounces;            /* solutions so far, one per place */
    vs_bounce clear_bounce, hazed_bounce; /* of the current shot */
    struct vs_kept_views *views;          /* cached views of it, opaque */
    struct vs_kept_places *places;        /* cached places of beams, opaque */
    vs_bands *share, *once, *direct;      /* workspace, one per light */
    double *dim; /* one per light: a factor on its output, 0 or over, initially 1; the owner may set
                  * it between predictions */
    /* The owner's to lend: vs_choose and vs_predictor_trace spread their work by it; NULL: none. */
    const vs_runner *runner;
} vs_predictor;

/** scene  borrowed, must outlive the predictor.
 *  Errors: VS_ERR_MEMORY, VS_ERR_DOMAIN and VS_ERR_CONVERGENCE from the fluid's optics. */
VS_WARN_UNUSED vs_status vs_predictor_init(vs_predictor *predictor, const vs_scene *scene);
/** The same, as many parts of it at a time as the runner has workers. The predictor keeps the runner.
 *  runner  NULL: one after another */
VS_WARN_UNUSED vs_status vs_predictor_init_by(vs_predictor *predictor, const vs_scene *scene,
                                              const vs_runner *runner);
void vs_predictor_free(vs_predictor *predictor);

/** The same step by step: begin; then the parts, each once, in any order or concurrently on several
 *  threads; then end. If any fails, call vs_predictor_free.  part  0 to VS_PREDICTOR_PARTS - 1.
 *  Errors: as vs_predictor_init. */
#define VS_PREDICTOR_PARTS (VS_BOUNCE_PARTS + 1)
VS_WARN_UNUSED vs_status vs_predictor_begin(vs_predictor *predictor, const vs_scene *scene);
VS_WARN_UNUSED vs_status vs_predictor_make_part(vs_predictor *predictor, size_t part);
VS_WARN_UNUSED vs_status vs_predictor_end(vs_predictor *predictor);

/** Follows the light of the lamps of some shots to where it first lands, each once, before anything
 *  is solved; otherwise that happens where it is needed. Uses the predictor's runner.
 *  shot  indices, count of them.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_predictor_trace(vs_predictor *predictor, const size_t *shot,
                                            size_t count);

/** A predictor for one more thread: shares the haze and geometry of `first`, which must outlive it,
 *  and what lamps it has followed so far.
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_predictor_init_beside(vs_predictor *predictor,
                                                  const vs_predictor *first);

/** Sets the openings as a shot of the scene has them, for what is asked next. Every prediction does
 *  this by itself.
 *  Errors: VS_ERR_DOMAIN if no shot of the scene sets them like this. */
VS_WARN_UNUSED vs_status vs_predictor_set_openings(vs_predictor *predictor,
                                                   const vs_scene_shot *shot);

/** Index of the place with the openings as a shot sets them; place_count if there is none. */
size_t vs_predictor_place_of(const vs_predictor *predictor, const vs_scene_shot *shot);

/** One point of a shot. Luminances in cd/m2. */
typedef struct {
    double distance_m;
    bool hidden; /* something opaque before it, at hidden_at_m, is seen instead */
    double hidden_at_m;
    const char *hidden_by; /* a thing, a wall's room, or the opening the line leaves by */
    bool hidden_by_wall;
    bool in_frame;
    vs_bands transmission; /* of haze, nets and panes on the line; 0 if hidden */
    vs_bands clear_nits, surface_nits, veil_nits, hazed_nits;
    double change_stops;
    double black_percent, black_lift_percent;
    bool clipped;                /* the hazed point is at or above the camera's clip */
    vs_bands *veil_by_light;     /* once-scattered, one per light of the scene */
    vs_bands *indirect_by_light; /* the part of indirect_veil due to each light */
    vs_bands indirect_veil;
} vs_point_prediction;

typedef struct {
    size_t a, b; /* points of the shot */
    double clear_stops, hazed_stops, lost_stops;
} vs_contrast_prediction;

typedef struct {
    size_t light;
    vs_vec3 near_m; /* NaN: not given, and no part of the beam is in frame */
    double beam_nits, background_nits, over_stops;
    double edge_stops; /* NaN: the beam has no edge, or none within 60 degrees */
    vs_reads reads;
    double reads_from_m, reads_to_m; /* NaN: nowhere at least soft */
    size_t crossing;                 /* another beam that reads on the same line; VS_NONE: none */
    double crossing_nits;            /* its light, scattered once; part of background_nits */
} vs_beam_prediction;

typedef struct {
    size_t near_point, far_point;
    double stops;
} vs_separation_prediction;

/** The angle around a light in the picture within which its own veil is over a tenth of middle
 *  grey, and over grey: the mean of left, right, above and below. */
typedef struct {
    bool seen;        /* in frame, unobstructed and used by the shot; else 0 and 0 */
    double tenth_rad; /* [rad] */
    double grey_rad;  /* [rad] */
} vs_glow_prediction;

typedef struct {
    const vs_scene_shot *shot;
    double *room_extinction_per_m; /* one per room */
    vs_density density;            /* in the camera's room */
    double grey_nits;
    vs_bands veil_tint;   /* of the sum of the points' veils, luminance 1; grey if there is none */
    double longest_depth; /* optical depth of the longest sight line */
    double longest_way_depth; /* the larger of that and the longest path from a light to a point */
    double room_depth; /* extinction x 4 volume / surface of the camera's room: its mean chord */
    vs_point_prediction *point;
    vs_contrast_prediction *contrast;
    size_t contrast_count;
    vs_beam_prediction *beam; /* one per want of kind BEAM, in order; then those no want names */
    size_t beam_count;        /* wanted */
    size_t extra_beam_count;  /* with extras: spots and suns that cross the frame */
    vs_separation_prediction *separation;
    size_t separation_count;
    vs_glow_prediction *glow; /* one per light of the scene */
} vs_shot_prediction;

/** An allocated but empty prediction of a shot.
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_shot_prediction_blank(const vs_scene *scene, size_t shot,
                                                  vs_shot_prediction *out);

/** Predicts one shot.
 *  shot                   index into the scene's shots
 *  room_extinction_per_m  at 549 nm, one per room; NULL: as the shot gives
 *  out  free on VS_OK only
 *  Contrasts and separations are those of the wants; a shot without such wants gets every pair.
 *  Errors: VS_ERR_INPUT if the shot's density is open, VS_ERR_DOMAIN, VS_ERR_MEMORY,
 *  VS_ERR_CONVERGENCE.  Equations: docs/physics.md.  Checked: tests/unit/test_predict.c */
VS_WARN_UNUSED vs_status vs_predict_shot(vs_predictor *predictor, size_t shot,
                                         const double *room_extinction_per_m,
                                         vs_shot_prediction *out);
void vs_shot_prediction_free(vs_shot_prediction *prediction);

/** Which part of a shot to predict: by its wants, or more. */
struct vs_indirect_notes;
typedef struct {
    const bool *want; /* one per want of the shot: those whose points, pairs, beams and glows are
                       * needed; NULL: all */
    bool points;      /* every point, and the pairs of points */
    bool extras;      /* edges of beams and where they read; beams and glows that no want names */
    struct vs_indirect_notes *notes; /* for the library's own use; NULL */
} vs_predict_part;

/** The same for a part of a shot, quicker; the rest of `out` is left zero. */
VS_WARN_UNUSED vs_status vs_predict_part_of_shot(vs_predictor *predictor, size_t shot,
                                                 const vs_predict_part *part,
                                                 const double *room_extinction_per_m,
                                                 vs_shot_prediction *out);

/** Derives the camera's figures and those of pairs (changes, blacks, contrasts, separations, beams
 *  over their backgrounds) from the luminances of points and beams in a prediction. */
void vs_shot_prediction_derive(const vs_scene *scene, vs_shot_prediction *prediction);

#ifdef __cplusplus
}
#endif
#endif
