/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot's wants, evaluated on a prediction. */
#ifndef VEILSTOP_SHOT_WANT_H
#define VEILSTOP_SHOT_WANT_H

#include <stdbool.h>

#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    double value;  /* in the unit of the want's limit; NaN if unknown */
    bool at_most;  /* else at least */
    double margin; /* (limit - value)/limit, or (value - limit)/limit; NaN with the value */
    bool met;
} vs_want_result;

/** The first point of a want that something opaque hides; VS_NONE: none, or no point is asked about.
 */
size_t vs_want_hidden_point(const vs_shot_prediction *prediction, size_t want);

/** Evaluates one want of a predicted shot against its limit.
 *  want    index into the shot's wants
 *  camera  of the shot
 *  like    LIKE: the prediction of the other shot; NULL: the value is NaN
 *  Values: contrast lost [stops], black lift [percent], beam over background [stops], separation
 *  [stops], visible range [m], difference of veils [stops], glow over a tenth of grey [rad].
 *  A limit of 0 is met by a value of 0; its margin is then minus the value. A want about a hidden
 *  point is never met: its value is of what hides it, its margin VS_WANT_HIDDEN_MARGIN at most. */
#define VS_WANT_HIDDEN_MARGIN (-1.0) /* [1] our choice: as missed as a value of nothing */
vs_want_result vs_want_evaluate(const vs_shot_prediction *prediction, size_t want,
                                const vs_camera *camera, const vs_shot_prediction *like);

/** Index of a want's beam among those of its shot's prediction.  want  of a beam */
size_t vs_want_beam_place(const vs_scene_shot *shot, size_t want);

#ifdef __cplusplus
}
#endif
#endif
