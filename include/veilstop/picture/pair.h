/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two frames of one framing, without and with haze: the effect of the haze, band by band, how well
 * a single depth explains it, and the CDL that brings the second closest to the first.
 * Source: airlight, hazed = clear T + V (Koschmieder 1924), in scene-linear light; robust lines
 * (base/robust.h). */
#ifndef VEILSTOP_PICTURE_PAIR_H
#define VEILSTOP_PICTURE_PAIR_H

#include <stdbool.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/camera/cdl.h"
#include "veilstop/camera/curve.h"
#include "veilstop/camera/grade.h"
#include "veilstop/picture/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

/* [stops] a light meter's step: within this one depth explains a block */
#define VS_PAIR_EXPLAINED_STOPS 0.1

/** Whether two frames show one framing of one set. */
typedef enum {
    VS_PAIR_SAME,
    VS_PAIR_IDENTICAL,     /* code for code: no difference */
    VS_PAIR_OTHER_FRAMING, /* the same things, zoomed or panned */
    VS_PAIR_OTHER_SET      /* nothing in common, or haze that hides everything */
} vs_pair_match;

/** Code values out = m (red, green, blue, 1). */
typedef struct {
    double m[3][4];
} vs_pair_matrix;

typedef struct {
    vs_pair_match match; /* unless SAME, all grades are the identity */
    vs_depth depth;      /* transmission and veil of the one depth that fits most of the frame */
    double explained; /* [1] share of the frame that it explains within VS_PAIR_EXPLAINED_STOPS */
    int shift_x,
        shift_y; /* [pixels] by which the hazed frame lies right of and below the clear one */
    vs_cdl cdl;  /* in the frames' own code values */
    vs_pair_matrix matrix; /* the same, as a matrix */
    double error_before;   /* root mean square of hazed - clear, code values 0..1, whole frames */
    double error_after;    /* the same after applying the CDL to the hazed frame */
    double error_matrix;   /* after applying the matrix */
    bool held_back;        /* the CDL was weakened so as not to raise that error */
    vs_bands source;       /* [scene-linear] for the matte: the colour of the haze itself */
    double error_matte;    /* after x = (hazed - source)/matte + source; NaN without a matte */
} vs_pair;

/** Compares two frames.
 *  clear, hazed   of one size
 *  curve          with which both were encoded
 *  pair           out
 *  map            out, may be NULL: a picture of the frames' size, the hazed frame in dim grey,
 *                 orange where there is more haze than one depth explains, blue where there is
 *                 less; the caller frees it. Zero on error.
 *  matte          out, may be NULL: transmission pixel by pixel, 16 bits, 65535 = 1, smooth but
 *                 with the clear frame's edges, assuming haze of one colour and brightness that
 *                 differs only in thickness; the caller frees it. Zero on error. Neither picture is
 *                 made for frames that do not match.
 *  clear_faults, hazed_faults  get one line for each fault of a frame
 *  Errors: VS_ERR_INPUT with a fault (sizes differ, no tones to measure by, haze that raised
 *  contrast: frames swapped), VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Method: the shift, whole pixels up to a quarter of the frame, by the correlation of gradients
 *  from thumbnails up; means of small blocks in linear light, clipped pixels left out; a robust
 *  line per band, restricted to 0 < T <= 1 and V >= 0. CDL and matrix by least squares over the
 *  means of 784 patches, drawn towards each channel's own line if the frames have little colour,
 *  then measured wherever the frames overlap; a grade worse than none is weakened until it is not.
 *  Leaves out: shifts by fractions of a pixel, rotation, zoom; exposure changes between the frames
 *  pass for haze.
 *  Checked: tests/unit/test_pair.c */
VS_WARN_UNUSED vs_status vs_pair_compare(const vs_picture *clear, const vs_picture *hazed,
                                         const vs_curve *curve, vs_pair *pair, vs_picture *map,
                                         vs_picture *matte, vs_faults *clear_faults,
                                         vs_faults *hazed_faults);

#ifdef __cplusplus
}
#endif
#endif
