/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where to place a lamp: a spot moved on a circle about its aim at constant distance and height;
 * how its beam reads and how much veil it costs from each place. */
#ifndef VEILSTOP_SHOT_TURN_H
#define VEILSTOP_SHOT_TURN_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_TURN_PLACES 36 /* every 10 degrees */
/* [m] closer to the vertical through its aim, moving it changes nothing */
#define VS_TURN_RADIUS_MIN_M 0.05

typedef struct {
    double turned_rad; /* from its present place, anticlockwise seen from above [rad] */
    vs_vec3 at_m;
    size_t room;            /* VS_OUTSIDE: beyond the walls */
    bool stands;            /* inside, if its present place is */
    double from_camera_rad; /* angle in plan at the aim between camera and lamp: 0 front light, pi
                             * back light; 0 to pi [rad] */
    double over_stops;      /* the beam over what is behind it */
    vs_reads reads;
    size_t point;        /* where its veil lifts a black most; VS_NONE: the shot has no points */
    double veil_nits;    /* of the lamp at that point */
    double lift_percent; /* black there with the lamp over that without */
    double cost_stops;   /* the point's own luminance with that veil over that without */
    double net_stops;    /* over_stops - cost_stops */
    bool meets_wants;    /* of the shot */
} vs_turn_place;

typedef struct {
    size_t shot, light;
    vs_turn_place place[VS_TURN_PLACES]; /* the first is its present place */
    size_t best, worst; /* of the possible places that meet the wants (only those in the camera's
                         * room, if any are): the one with the largest net, and with the smallest
                         * net of those whose beam is not strong; VS_NONE: there is none */
} vs_turn;

/** Whether a light can be turned: a spot that is not straight above or below its aim. */
bool vs_turn_can(const vs_light *light);

/** Sweeps a lamp for one shot.
 *  predictor         of the scene
 *  light             one that the shot uses and that can be turned
 *  extinction_per_m  one per shot of the scene, in its camera's room; only those of the shot and of
 *                    shots it must look like are used
 *  Errors: VS_ERR_INPUT for another light, and those of vs_predict_shot.
 *  Method: the light is turned about the vertical through its aim, and with it the place in its
 *  beam that a want names (midway between lamp and aim if none does); everything else stays. Leaves
 *  out: whether a stand fits there, and whether the camera would see it.
 *  Checked: tests/unit/test_turn.c */
VS_WARN_UNUSED vs_status vs_turn_sweep(const vs_predictor *predictor, size_t shot, size_t light,
                                       const double *extinction_per_m, vs_turn *turn);

#ifdef __cplusplus
}
#endif
#endif
