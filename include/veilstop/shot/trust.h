/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a prediction can be trusted: the same lines of sight by random walks, with every order of
 * scattering and reflection and with standard errors, beside the prediction. Walks:
 * light/path_tracing.h. */
#ifndef VEILSTOP_SHOT_TRUST_H
#define VEILSTOP_SHOT_TRUST_H

#include <stdint.h>

#include "veilstop/light/path_tracing.h"
#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

/** One point by walks, luminances in cd/m2. Given clear luminances have no error. */
typedef struct {
    vs_tally clear, surface, veil, hazed;
} vs_trust_point;

/** One wanted beam by walks: its once-scattered light, and all the rest seen there. */
typedef struct {
    vs_tally beam, background;
} vs_trust_beam;

/** A shot under test. The work is divided into chunks that may run on any threads in any order; the
 *  figures depend on walks and seed alone. */
typedef struct {
    vs_predictor *predictor;       /* borrowed; must not be used otherwise meanwhile */
    vs_shot_prediction prediction; /* owned */
    vs_path_tracer clear, hazed;
    vs_trust_point *point; /* filled by vs_trust_finish */
    vs_trust_beam *beam;
    double walks; /* per point and per beam */
    void *memory; /* lines of sight, chunks */
} vs_trust;

#define VS_TRUST_WALKS_MIN 100.0 /* walks: fewer give no standard error; our choice */
#define VS_TRUST_WALKS_MAX 1e10  /* walks: days of them; our choice */

/* optical depth across a room: a walk is scattered about as often as its square, so beyond this it
 * would take too long; our choice */
#define VS_TRUST_DEPTH_MAX 300.0

/** The largest optical depth across a room, corner to corner, and the room that has it. */
double vs_trust_depth(const vs_scene *scene, const double *room_extinction_per_m, size_t *room);

/** predictor  its lights are prepared for the shot and must stay so
 *  room_extinction_per_m  as for vs_predict_shot
 *  walks  for each point and each wanted beam, VS_TRUST_WALKS_MIN to VS_TRUST_WALKS_MAX; a point
 *         takes one walk for its veil and one each for its surface in haze and in clear air
 *  Errors: those of vs_predict_shot and vs_path_tracer_init; VS_ERR_DOMAIN; VS_ERR_UNREACHABLE
 *  if vs_trust_depth is over VS_TRUST_DEPTH_MAX. On an error only the prediction is kept. */
VS_WARN_UNUSED vs_status vs_trust_init(vs_trust *trust, vs_predictor *predictor, size_t shot,
                                       const double *room_extinction_per_m, double walks,
                                       uint64_t seed);
void vs_trust_free(vs_trust *trust);

size_t vs_trust_chunk_count(const vs_trust *trust);

/** Runs one chunk. Different chunks may run at the same time. */
void vs_trust_run_chunk(const vs_trust *trust, size_t chunk);

/** Sums up the chunks, after all of them have run. */
void vs_trust_finish(vs_trust *trust);

#ifdef __cplusplus
}
#endif
#endif
