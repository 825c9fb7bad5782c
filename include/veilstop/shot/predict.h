/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What haze does to a shot: for each point how much of it is left and how much veil lies over it,
 * by lamp; contrasts, beams and separations. What docs/output.md tells, in memory. */
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

/** The scene's location with its openings as some of the shots set them. */
typedef struct {
    const double *open; /* of those shots; NULL: as the scene stands */
    vs_scene_geometry geometry;
    vs_bounce_location location; /* where indirect light is computed */
} vs_predictor_place;

/** A scene made ready to be asked many times; one a thread. */
typedef struct {
    const vs_scene *scene;
    bool beside; /* haze and places are another's */
    vs_haze haze;
    vs_predictor_place *place; /* the first is the scene as it stands */
    size_t place_count, in_hand;
    const vs_scene_geometry *geometry; /* of the place in hand */
    vs_airlight work;
    vs_emitter *clear_light, *hazed_light; /* one a light of the scene, for the shot in hand */
    double *clear_air;                     /* zero, one a room */
    double *thin_air; /* one a room: the haze in which places along beams are compared [1/m] */
    vs_bounce_solver *bounces;            /* as solved so far, one a place */
    vs_bounce clear_bounce, hazed_bounce; /* of the shot in hand */
    struct vs_kept_views *views;          /* what rays and surfaces see of it, opaque */
    vs_bands *share, *once, *direct;      /* one a light: room to work in */
    double *dim; /* one a light: a factor on its output, 0 or over, 1 at first; the owner's to set
                  * between questions */
    const vs_runner *runner; /* the owner's to lend: vs_choose spreads its work by it; NULL: none */
} vs_predictor;

/** scene  borrowed, must outlive the predictor.
 *  Errors: VS_ERR_MEMORY, VS_ERR_DOMAIN and VS_ERR_CONVERGENCE from the fluid's optics. */
VS_WARN_UNUSED vs_status vs_predictor_init(vs_predictor *predictor, const vs_scene *scene);
void vs_predictor_free(vs_predictor *predictor);

/** The same step by step: begin; then the parts, each once, in any order or several at a time on
 *  threads of their own; then end. Where any fails, vs_predictor_free it.  part  0 to
 *  VS_PREDICTOR_PARTS - 1.  Errors: as vs_predictor_init. */
#define VS_PREDICTOR_PARTS 2
VS_WARN_UNUSED vs_status vs_predictor_begin(vs_predictor *predictor, const vs_scene *scene);
VS_WARN_UNUSED vs_status vs_predictor_make_part(vs_predictor *predictor, size_t part);
VS_WARN_UNUSED vs_status vs_predictor_end(vs_predictor *predictor);

/** A predictor for one more thread: as `first`, whose haze and geometry it reads, and which must
 *  outlive it.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_predictor_init_beside(vs_predictor *predictor,
                                                  const vs_predictor *first);

/** Sets the openings as a shot of the scene has them: what is asked next sees the place so. Every
 *  prediction does this by itself.  Errors: VS_ERR_DOMAIN where no shot of the scene sets them so.
 */
VS_WARN_UNUSED vs_status vs_predictor_set_openings(vs_predictor *predictor,
                                                   const vs_scene_shot *shot);

/** One point of a shot. Luminances in cd/m2. */
typedef struct {
    double distance_m;
    bool hidden; /* something opaque stands before it, at hidden_at_m: what is seen is that */
    double hidden_at_m;
    bool in_frame;
    vs_bands transmission; /* of haze, nets and panes on the way; 0 if hidden */
    vs_bands clear_nits, surface_nits, veil_nits, hazed_nits;
    double change_stops;
    double black_percent, black_lift_percent;
    bool clipped;                /* the hazed point is at or over what the camera holds */
    vs_bands *veil_by_light;     /* once-scattered, one a light of the scene */
    vs_bands *indirect_by_light; /* of indirect_veil, that which began at each light */
    vs_bands indirect_veil;
} vs_point_prediction;

typedef struct {
    size_t a, b; /* points of the shot */
    double clear_stops, hazed_stops, lost_stops;
} vs_contrast_prediction;

typedef struct {
    size_t light;
    vs_vec3 near_m; /* NaN: nobody said where, and no part of the beam is in frame */
    double beam_nits, background_nits, over_stops;
    double edge_stops; /* NaN: the light has no edge to look past, or none within 60 degrees */
    vs_reads reads;
    double reads_from_m, reads_to_m; /* NaN: nowhere at least soft */
    size_t crossing;                 /* another beam that reads on the same line; VS_NONE: none */
    double crossing_nits;            /* of it, once scattered; a part of background_nits */
} vs_beam_prediction;

typedef struct {
    size_t near_point, far_point;
    double stops;
} vs_separation_prediction;

/** How many degrees round a light in the picture its own veil stays over a tenth of middle grey,
 *  and over grey: the mean of left, right, above and below. */
typedef struct {
    bool seen;        /* in frame, nothing before it, and used by the shot; else 0 and 0 */
    double tenth_rad; /* [rad] */
    double grey_rad;  /* [rad] */
} vs_glow_prediction;

typedef struct {
    const vs_scene_shot *shot;
    double *room_extinction_per_m; /* one a room */
    vs_density density;            /* in the camera's room */
    double grey_nits;
    vs_bands veil_tint; /* of the sum of the points' veils, luminance 1; grey where there is none */
    double longest_depth;     /* optical depth of the longest sight line */
    double longest_way_depth; /* the same, or that of the longest way from a light to a point */
    double room_depth; /* extinction x 4 volume / surface of the camera's room: its mean path */
    vs_point_prediction *point;
    vs_contrast_prediction *contrast;
    size_t contrast_count;
    vs_beam_prediction *beam; /* one a want of kind BEAM, in order; then those nobody asked for */
    size_t beam_count;        /* wanted */
    size_t extra_beam_count;  /* spots and suns that cross the frame, with extras */
    vs_separation_prediction *separation;
    size_t separation_count;
    vs_glow_prediction *glow; /* one a light of the scene */
} vs_shot_prediction;

/** A shot's prediction with room for all of it and nothing in it.
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_shot_prediction_blank(const vs_scene *scene, size_t shot,
                                                  vs_shot_prediction *out);

/** Predicts one shot.
 *  shot                   index into the scene's shots
 *  room_extinction_per_m  at 549 nm, one a room; NULL: as the shot says
 *  out  free on VS_OK only
 *  Contrasts and separations are those of the wants; a shot that wants none gets every pair.
 *  Errors: VS_ERR_INPUT where the shot's density is open, VS_ERR_DOMAIN, VS_ERR_MEMORY,
 *  VS_ERR_CONVERGENCE.  Equations: docs/physics.md.  Checked: tests/unit/test_predict.c */
VS_WARN_UNUSED vs_status vs_predict_shot(vs_predictor *predictor, size_t shot,
                                         const double *room_extinction_per_m,
                                         vs_shot_prediction *out);
void vs_shot_prediction_free(vs_shot_prediction *prediction);

/** What of a shot is asked: by its wants, or more. */
struct vs_indirect_notes;
typedef struct {
    const bool *want; /* one a want of the shot: those whose points, pairs, beams and glows are
                       * needed; NULL: all */
    bool points;      /* every point, and the pairs of points */
    bool extras;      /* edges of beams and where they read; beams and glows that nobody wants */
    struct vs_indirect_notes *notes; /* of the library itself; NULL */
} vs_predict_part;

/** The same for a part of a shot, quicker; the rest of `out` is left zero. */
VS_WARN_UNUSED vs_status vs_predict_part_of_shot(vs_predictor *predictor, size_t shot,
                                                 const vs_predict_part *part,
                                                 const double *room_extinction_per_m,
                                                 vs_shot_prediction *out);

/** Works out the figures of camera and pairs (changes, blacks, contrasts, separations, beams over
 *  their backgrounds) from the luminances of points and beams in a prediction. */
void vs_shot_prediction_derive(const vs_scene *scene, vs_shot_prediction *prediction);

#ifdef __cplusplus
}
#endif
#endif
