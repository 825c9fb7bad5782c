/* Camera curves: scene-linear light to signal and back. x = 0.18 is middle grey.
 * Sources: ITU-R BT.709-6, IEC 61966-2-1 (sRGB), Academy S-2016-001 (ACEScct), ITU-R BT.2100-2
 * (HLG, PQ) with the reference white of BT.2408 (203 cd/m2), and a log curve of the user's own. */
#ifndef VEILSTOP_CAMERA_CURVE_H
#define VEILSTOP_CAMERA_CURVE_H

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum {
    VS_CURVE_LINEAR,
    VS_CURVE_BT709,
    VS_CURVE_SRGB,
    VS_CURVE_ACESCCT,
    VS_CURVE_HLG,
    VS_CURVE_PQ,
    VS_CURVE_LOG
} vs_curve_kind;

typedef struct {
    vs_curve_kind kind;
    double a, b, c, d, e, f, cut; /* LOG only: y = c log10(a x + b) + d above cut, e x + f below */
} vs_curve;

/** Signal, 1 = 100 %, of scene-linear x. Not clipped at the top; x below 0 follows the curve's
 *  linear part or, where it has none, gives the signal of 0. */
double vs_curve_encode(const vs_curve *curve, double x);

/** Scene-linear x of a signal: the inverse of vs_curve_encode. */
double vs_curve_decode(const vs_curve *curve, double signal);

/** Whether a curve is usable: LOG finite, rising on both sides of its cut and not falling at it. */
VS_WARN_UNUSED vs_status vs_curve_check(const vs_curve *curve);

/** The curve's own name in a scene file. */
const char *vs_curve_name(const vs_curve *curve);

#ifdef __cplusplus
}
#endif
#endif
