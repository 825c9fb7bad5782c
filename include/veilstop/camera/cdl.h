/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The ASC CDL: ten numbers (slope, offset, power a channel, one saturation) that most grading
 * tools read, their arithmetic, and the ten that turn one set of signals into another best.
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
 *  with luma of BT.709 weights, clamped; both clamps to 0..1. NaN stays NaN.
 *  Checked: tests/unit/test_cdl.c against the rules of ASC CDL 1.2. */
vs_bands vs_cdl_apply(const vs_cdl *cdl, vs_bands in);

/** A pair of signals [1]: what is there, what it should become. */
typedef struct {
    vs_bands from, to;
} vs_cdl_sample;

/** A scale on which the fit counts its errors, rising with the signal: stops, say. */
typedef double (*vs_cdl_scale)(double signal, void *context);

/** What a fit aims at.
 *  scale, context  errors are scale(result) - scale(to); NULL: the signals themselves
 *  tolerance     [1] of the squared errors, as for vs_fit_least_squares: 1e-5 is far below anything
 *                seen, 1e-10 is converged
 *  colour_least  [on the scale] root mean square of colour (channel less luma) under which the
 *                samples say little about saturation, so that it is drawn towards 1; 0: only what
 *                they leave open */
typedef struct {
    vs_cdl_scale scale;
    void *context;
    double tolerance, colour_least;
} vs_cdl_goal;

/** The CDL that brings `from` nearest to `to`, by least squares over all samples and channels.
 *  sample   array of `count`, finite; count >= 4
 *  cdl      out; never further off than the identity. Where samples leave a number open (grey
 *           says nothing about saturation) it stays at what changes nothing.
 *  rms      out, root mean square of the errors on that scale; may be NULL
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE where no start leads to a minimum; the
 *  CDL is the identity then.
 *  Method: each channel by itself, Levenberg-Marquardt (base/fit.h) from the best straight line of
 *  six powers; then all ten numbers from there and from two other saturations. Slope, power and
 *  saturation by their logarithm, so that they stay positive. A clamp has no slope to follow: each
 *  descent begins with clamps rounded and what lies beyond counted, and ends with hard ones; where
 *  the best leaves samples on a clamp a simplex (base/minimum.h) goes on from it.
 *  Checked: tests/unit/test_cdl.c and test_cdl_starts.c against fits from very many starts. */
VS_WARN_UNUSED vs_status vs_cdl_fit(const vs_cdl_sample *sample, size_t count,
                                    const vs_cdl_goal *goal, vs_cdl *cdl, double *rms);

#ifdef __cplusplus
}
#endif
#endif
