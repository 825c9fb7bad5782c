/* SPDX-License-Identifier: GPL-3.0-or-later */
/* --match and --focal: the camera of a photo from pixels and places. */
#ifndef VEILSTOP_ASK_MATCH_H
#define VEILSTOP_ASK_MATCH_H

#include "ask/scene_write.h"
#include "veilstop/report/match.h"

#define VS_ASK_MATCH                                                                               \
    {"match", "PAIRS",                                                                             \
     "where the photo was taken: \"X,Y=corner:floor-west-north; ..\", 4 or more"},                 \
        {"focal", "MM", "its focal length is known, on the shot's sensor: three pairs do"}, {      \
        "write", "FILE", "the scene with that camera, and with the light of --read-points"         \
    }

/* Reads the pairs and finds the camera; VS_EXIT_INPUT after a message that says why there is none.
 * width, height  [pixels] of the photo */
vs_exit vs_ask_match_read(const vs_ask_args *args, const vs_ask_scene *scene, size_t shot,
                          size_t width, size_t height, vs_report_match *match);

/* The shot in question: the only one, or that of --shot. */
vs_exit vs_ask_one_shot(const vs_ask_args *args, const vs_ask_scene *scene, size_t *shot);

/* Adds the edits that put the camera in place of the shot's. */
#define VS_ASK_MATCH_EDITS 8
void vs_ask_match_edits(const vs_ask_scene *scene, const vs_report_match *match,
                        vs_ask_edits *edits);

#endif
