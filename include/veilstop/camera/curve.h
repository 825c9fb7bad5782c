/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Camera curves: from scene-linear light to signal and back. x = 0.18 is middle grey.
 * Sources: ITU-R BT.709-6, IEC 61966-2-1 (sRGB), Academy S-2016-001 (ACEScct), ITU-R BT.2100-2
 * (HLG, PQ) with the reference white of BT.2408 (203 cd/m2), and a log curve of the user's own. */
#ifndef VEILSTOP_CAMERA_CURVE_H
#define VEILSTOP_CAMERA_CURVE_H

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_SRGB_EXPONENT 2.4   /* [1] IEC 61966-2-1: 1.055 L^(1/2.4) - 0.055 */
#define VS_SRGB_OFFSET   0.055 /* [1] IEC 61966-2-1 */

/* A test compiles rows of its own in here, to show that a row is all a new curve needs. */
#ifndef VS_CURVE_EXTRA_ROWS
#define VS_CURVE_EXTRA_ROWS(X)
#endif

/* The curves that need no constants: X(member, name in files, encode, decode, node). encode and
 * decode are functions in src/camera/curve.c, which names the sources; node: the CLF node that is
 * exactly this curve (clf_file.c): LINEAR, MONCURVE, LOG, or TABLES where there is none. */
#define VS_CURVE_LIST(X)                                                                           \
    X(LINEAR, "linear", linear_encode, linear_decode, LINEAR)                                      \
    X(BT709, "bt709", bt709_encode, bt709_decode, TABLES)                                          \
    X(SRGB, "srgb", srgb_encode, srgb_decode, MONCURVE)                                            \
    X(ACESCCT, "acescct", acescct_encode, acescct_decode, LOG)                                     \
    X(HLG, "hlg", hlg_encode, hlg_decode, TABLES)                                                  \
    X(PQ, "pq", pq_encode, pq_decode, TABLES)                                                      \
    VS_CURVE_EXTRA_ROWS(X)

typedef enum {
#define VS_CURVE_MEMBER(member, ...) VS_CURVE_##member,
    VS_CURVE_LIST(VS_CURVE_MEMBER)
#undef VS_CURVE_MEMBER
        VS_CURVE_LOG, /* of the user's own */
    VS_CURVE_NAMED_COUNT = VS_CURVE_LOG
} vs_curve_kind;

typedef struct {
    vs_curve_kind kind;
    double a, b, c, d, e, f, cut; /* LOG only: y = c log10(a x + b) + d above cut, e x + f below */
} vs_curve;

/** Signal (1 = 100 %) of scene-linear light.
 *  curve   one that vs_curve_check passes
 *  x       scene-linear [1]; below 0 the curve's linear part applies or, where it has none (HLG,
 *          PQ), the signal of 0; NaN gives NaN
 *  Not clipped at the top: see vs_curve_top. HLG is fed E = 0.265 x, PQ 203 x cd/m2, so that x = 1
 *  is the reference white of BT.2408.
 *  Left out: colour primaries, and the rendering from scene to display (OOTF).
 *  Checked: tests/reference/curves.csv, against digits printed in the standards. */
double vs_curve_encode(const vs_curve *curve, double x);

/** Scene-linear x of a signal: the inverse of vs_curve_encode, for any signal.
 *  Where the published constants leave a gap at the curve's break (BT.709: 0.0810 to 0.0812) a
 *  signal inside it gives the x of the break, so that the inverse never falls.
 *  Checked: tests/unit/test_curve.c, there and back over the range of every curve. */
double vs_curve_decode(const vs_curve *curve, double signal);

/** Scene-linear x at which the curve reaches 100 %: 1 for linear, bt709 and srgb, 3.77 for hlg,
 *  49.3 for pq, 222.9 for acescct. */
double vs_curve_top(const vs_curve *curve);

/** The same curve as a LOG curve with constants. Errors: VS_ERR_DOMAIN for any but acescct and log;
 *  *log_curve is then zero. */
VS_WARN_UNUSED vs_status vs_curve_as_log(const vs_curve *curve, vs_curve *log_curve);

/** Whether a curve is usable. VS_ERR_DOMAIN for a LOG curve that is not finite, does not rise on
 *  both sides of its cut, has no logarithm at its cut, falls there by more than 1e-4 of the signal
 *  (printed constants are rounded), or reaches 100 % at or below middle grey. */
VS_WARN_UNUSED vs_status vs_curve_check(const vs_curve *curve);

/** The curve's own name in a scene file. Never NULL. */
const char *vs_curve_name(const vs_curve *curve);

/** The names of the VS_CURVE_NAMED_COUNT curves that need no constants, in the order of the
 *  enum. */
const char *const *vs_curve_names(void);

/** The curve with a name from a scene file. Errors: VS_ERR_INPUT for an unknown name, and for
 *  "log", which needs constants; *curve is then zero. */
VS_WARN_UNUSED vs_status vs_curve_named(const char *name, vs_curve *curve);

#ifdef __cplusplus
}
#endif
#endif
