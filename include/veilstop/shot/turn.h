/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where to stand a lamp: a spot moved on a circle about its aim at its distance and height, what
 * its beam reads and what veil it costs from each place. */
#ifndef VEILSTOP_SHOT_TURN_H
#define VEILSTOP_SHOT_TURN_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_TURN_PLACES 36 /* every 10 degrees */
/* [m] closer to vertically over its aim, moving it changes nothing */
#define VS_TURN_RADIUS_MIN_M 0.05

typedef struct {
    double turned_rad; /* from where it stands, seen from above anticlockwise [rad] */
    vs_vec3 at_m;
    size_t room;            /* VS_OUTSIDE: beyond the walls */
    bool stands;            /* inside if it stands inside now */
    double from_camera_rad; /* between the ways to camera and lamp at the aim, in plan: 0 front
                             * light, pi back light; 0 to pi [rad] */
    double over_stops;      /* the beam over what is behind it */
    vs_reads reads;
    size_t point;        /* where its veil lifts a black most; VS_NONE: the shot has none */
    double veil_nits;    /* of the lamp there */
    double lift_percent; /* black there with the lamp over that without */
    double cost_stops;   /* the point's own luminance with that veil over that without */
    double net_stops;    /* over_stops - cost_stops */
    bool meets_wants;    /* of the shot */
} vs_turn_place;

typedef struct {
    size_t shot, light;
    vs_turn_place place[VS_TURN_PLACES]; /* the first is where it stands */
    size_t best, worst; /* of the places that stand and meet the wants (those in the camera's room,
                         * where any lies there): the largest net, and the smallest of those whose
                         * beam is not strong; VS_NONE: there is none */
} vs_turn;

/** Whether a light can be turned: a spot that does not stand straight over or under its aim. */
bool vs_turn_can(const vs_light *light);

/** Sweeps a lamp for one shot.
 *  predictor         of the scene
 *  light             one the shot uses, that can be turned
 *  extinction_per_m  one a shot of the scene, in its camera's room: those of the shot and of the
 *                    shots that it is to be like are used
 *  Errors: VS_ERR_INPUT for another light, and those of vs_predict_shot.
 *  Method: the light turned about the vertical through its aim, and with it the place in its beam
 *  that a want looks at (the middle between lamp and aim, where none does); all else stays.
 *  Leaves out: whether a stand fits there, and what the camera sees of it.
 *  Checked: tests/unit/test_turn.c */
VS_WARN_UNUSED vs_status vs_turn_sweep(const vs_predictor *predictor, size_t shot, size_t light,
                                       const double *extinction_per_m, vs_turn *turn);

#ifdef __cplusplus
}
#endif
#endif
