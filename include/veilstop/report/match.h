/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The camera of a photo in a scene's terms, with its uncertainty. */
#ifndef VEILSTOP_REPORT_MATCH_H
#define VEILSTOP_REPORT_MATCH_H

#include "veilstop/camera/match.h"
#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A camera found. */
typedef struct {
    vs_match_pair pair[VS_MATCH_PAIRS_MAX];
    size_t count;
    vs_match match;
    double width_px, height_px; /* of the photo */
    bool focal_known;
    vs_camera camera; /* the shot's, as it stood when the photo was taken */
    size_t index;     /* of the named camera it stands for, in the scene */
} vs_report_match;

/** Tells it in lines for people. */
void vs_report_match_text(vs_text *out, const vs_style *style, const vs_report_match *match);
/** The same as a key "camera" of an open object. */
void vs_report_match_json(vs_json *json, const vs_report_match *match);

#ifdef __cplusplus
}
#endif
#endif
