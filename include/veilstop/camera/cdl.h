/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The ASC CDL: ten numbers (slope, offset and power per channel, one saturation) that most grading
 * tools read, their arithmetic, and a fit of them that maps one set of signals to another.
 * Source: ASC Color Decision List 1.2, as quoted in Academy S-2014-006 (node ASC_CDL, style Fwd).
 */
#ifndef VEILSTOP_CAMERA_CDL_H
#define VEILSTOP_CAMERA_CDL_H

#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    vs_bands slope;    /* [1] >= 0 */
    vs_bands offset;   /* [signal] */
    vs_bands power;    /* [1] > 0 */
    double saturation; /* [1] >= 0 */
} vs_cdl;

/** The CDL that changes nothing between 0 and 1. */
vs_cdl vs_cdl_identity(void);

/** Signals [1] through a CDL: clamp(in slope + offset)^power, then luma + saturation (out - luma)
 *  with BT.709 luma, clamped; both clamps to 0..1. NaN stays NaN.
 *  Checked: tests/unit/test_cdl.c against the rules of ASC CDL 1.2. */
vs_bands vs_cdl_apply(const vs_cdl *cdl, vs_bands in);

/** A pair of signals [1]: what is there and what it should become. */
typedef struct {
    vs_bands from, to;
} vs_cdl_sample;

/** An increasing scale on which the fit measures its errors: stops, for example. */
typedef double (*vs_cdl_scale)(double signal, void *context);

/** What a fit aims at.
 *  scale, context  errors are scale(result) - scale(to); NULL: the signals themselves
 *  tolerance     [1] of the squared errors, as for vs_fit_least_squares: 1e-5 is far below anything
 *                visible, 1e-10 is converged
 *  colour_least  [on the scale] root mean square of colour (channel less luma) below which the
 *                samples say little about saturation, so that it is drawn towards 1; 0: only where
 *                they leave it undetermined */
typedef struct {
    vs_cdl_scale scale;
    void *context;
    double tolerance, colour_least;
} vs_cdl_goal;

/** The CDL that brings `from` nearest to `to`, by least squares over all samples and channels.
 *  sample   array of `count`, finite; count >= 4
 *  cdl      out; never worse than the identity. A number that the samples leave undetermined (grey
 *           says nothing about saturation) keeps the value that changes nothing.
 *  rms      out, root mean square of the errors on that scale; may be NULL
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE where no start leads to a minimum; the
 *  CDL is the identity then.
 *  Method: each channel on its own, by Levenberg-Marquardt (base/fit.h) from the best straight line
 *  for each of six powers; then all ten numbers from there and from two other saturations. A channel
 *  is fitted by what comes out at its brightest signal, how steeply that rises there and its power,
 *  saturation by its logarithm, so that all stay positive. A clamp has no gradient: each descent
 *  begins with rounded clamps and a penalty for what lies beyond, and ends with hard ones; where the
 *  best leaves samples on a clamp, a simplex (base/minimum.h) continues from it.
 *  Checked: tests/unit/test_cdl.c and test_cdl_starts.c against fits from very many starts. */
VS_WARN_UNUSED vs_status vs_cdl_fit(const vs_cdl_sample *sample, size_t count,
                                    const vs_cdl_goal *goal, vs_cdl *cdl, double *rms);

#ifdef __cplusplus
}
#endif
#endif
