/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sets made of boxes, in scene-linear light, and what a camera sees of them through haze. */
#ifndef VEILSTOP_TESTS_SETS_H
#define VEILSTOP_TESTS_SETS_H

#include <stddef.h>

#include "check.h"
#include "veilstop/camera/curve.h"
#include "veilstop/camera/grade.h"
#include "veilstop/picture/picture.h"

#define MARGIN 40 /* [pixels] what a shift brings in from outside the frame */

/* A picture larger than the frame by MARGIN on every side. */
typedef struct {
    size_t width, height;
    vs_bands *x;
} light;

extern const vs_depth no_haze;

/* Boxes over boxes, shaded and grained: edges, flats and texture, as sets have. Free x. */
light make_set(size_t width, size_t height, random_stream *r);
/* Places that moved: blobs of other colours over a share of the frame. */
void move_people(light *l, double share, random_stream *r);
/* Haze of one source, grey, blue going first. */
vs_depth random_haze(random_stream *r);
/* The frame cut out at a shift, through haze whose transmission may differ along x, with noise of
 * `noise` codes of 8 bits, quantised to `bits`. */
vs_picture shoot(const light *l, const vs_curve *curve, const vs_depth *left, const vs_depth *right,
                 int shift, double noise, int bits, random_stream *r);

#endif
