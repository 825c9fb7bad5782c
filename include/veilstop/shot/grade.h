/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The grade that takes the haze off a point of a shot, and its effect on the other points.
 * Equations: camera/grade.h; the haze of each point: shot/predict.h. */
#ifndef VEILSTOP_SHOT_GRADE_H
#define VEILSTOP_SHOT_GRADE_H

#include "veilstop/camera/grade.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    size_t point;   /* the point whose depth is graded for */
    double recover; /* [1] share of the haze taken out */
    vs_depth depth; /* there; veil in scene-linear light of the shot's camera */
    vs_linear_grade linear;
    vs_grade_cdl cdl; /* in the camera's curve */
    vs_grade_noise_cost noise;
    double latitude_stops;
    vs_bands offset_percent; /* by which the signal of black moves */
    double *error_stops;     /* one per point of the shot: the error there; NaN if hidden; owned */
} vs_shot_grade;

/** The first point of a shot that is not hidden; VS_NONE if there is none. */
size_t vs_shot_grade_default(const vs_shot_prediction *prediction);

/** Works out the grade for a point.
 *  prediction  of the shot, with its points
 *  point       not hidden
 *  recover     0 to 1
 *  out  free on VS_OK only
 *  The CDL is fitted over the range the shot uses: from its darkest point or five stops under grey,
 *  whichever is darker, but not below the camera's floor, to its brightest point or 2.5 stops over
 *  grey (white), whichever is brighter, as far as the hazed frame does not clip.
 *  Errors: VS_ERR_DOMAIN (no such point, hidden, F outside 0..1, a transmission under
 *  VS_GRADE_TRANSMISSION_LEAST), VS_ERR_UNREACHABLE if the haze leaves nothing below the camera's
 *  clip, VS_ERR_MEMORY.
 *  Left out: a net or pane on the way counts as haze.
 *  Checked: tests/unit/test_shot_grade.c */
VS_WARN_UNUSED vs_status vs_shot_grade_init(const vs_scene *scene,
                                            const vs_shot_prediction *prediction, size_t point,
                                            double recover, vs_shot_grade *out);
void vs_shot_grade_free(vs_shot_grade *grade);

/** The point other than its own at which a grade is furthest off, too dark or too bright; VS_NONE
 *  if no other is visible. */
size_t vs_shot_grade_harm(const vs_shot_grade *grade, size_t point_count);

/** The best share of the haze to take out, for a point's depth: the one with the smallest worst
 *  error over all visible points, each compared with itself without haze. */
typedef struct {
    double recover;     /* [1] 0 to 1 */
    double worst_stops; /* [stops] signed, at worst_point */
    size_t worst_point;
} vs_shot_grade_share;
/** Errors: VS_ERR_DOMAIN as vs_shot_grade_init.
 *  Method: 1000 shares.   Checked: tests/unit/test_shot_grade.c */
VS_WARN_UNUSED vs_status vs_shot_grade_best(const vs_scene *scene,
                                            const vs_shot_prediction *prediction, size_t point,
                                            vs_shot_grade_share *out);

#ifdef __cplusplus
}
#endif
#endif
