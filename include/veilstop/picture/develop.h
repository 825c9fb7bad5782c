/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scene light to code values: for a display, in the camera's own curve, or linear for checks.
 * Sources: ITU-R BT.709-6 (display), camera/curve.h (the camera's). */
#ifndef VEILSTOP_PICTURE_DEVELOP_H
#define VEILSTOP_PICTURE_DEVELOP_H

#include "veilstop/base/status.h"
#include "veilstop/camera/camera.h"
#include "veilstop/picture/frame.h"
#include "veilstop/picture/picture.h"
#include "veilstop/picture/png.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum {
    VS_DEVELOP_DISPLAY, /* BT.709 signals, highlights rolled off to the camera's clip */
    VS_DEVELOP_LOG,     /* the camera's own curve */
    VS_DEVELOP_LINEAR   /* 16-bit code = 65535 x/8: for checks */
} vs_develop_as;

/* What a PNG says of itself where no code point does, in its comment. */
#define VS_DEVELOP_NOTE_DISPLAY "BT.709 signals, highlights rolled off to the camera's clip"
#define VS_DEVELOP_NOTE_LINEAR  "scene-linear light over 8, BT.709 primaries"
#define VS_DEVELOP_NOTE_ACESCCT "ACEScct code values, BT.709 primaries"
#define VS_DEVELOP_NOTE_LOG     "code values of the camera's log curve, BT.709 primaries"

#define VS_DEVELOP_LINEAR_TOP 8.0 /* [scene-linear] full scale of LINEAR; our choice */

/** Scene-linear x to display light, 0 to 1: linear up to 0.25, then logarithmic with a continuous
 *  slope, such that the camera's clip is white.
 *  Checked: tests/unit/test_develop.c */
double vs_develop_rolled_off(const vs_camera *camera, double x);

/** The meaning of the code values, for a PNG's header: H.273 code points if there are any, and a
 *  gamma for readers without cICP; a camera's log curve has only a note. */
vs_png_colour vs_develop_colour(const vs_camera *camera, vs_develop_as as);

/** The signal [1] of a luminance [cd/m2] in one band. */
double vs_develop_signal(const vs_camera *camera, vs_develop_as as, double nits);

/** Scene-linear x of a signal [1]: the inverse of vs_develop_signal up to the camera's clip.
 *  Checked: tests/unit/test_develop.c, there and back. */
double vs_develop_linear(const vs_camera *camera, vs_develop_as as, double signal);

/** Converts a picture in light to code values, at a position in another picture.
 *  nits     a plane of width x height
 *  picture  must have room for it at x, y; with 8 bits DISPLAY and LOG are dithered by a fixed
 *           pattern of half a code value, so that dark gradients show no steps
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_develop(const vs_camera *camera, vs_develop_as as,
                                    const vs_frame_plane *nits, size_t width, size_t height,
                                    vs_picture *picture, size_t x, size_t y);

#ifdef __cplusplus
}
#endif
#endif
