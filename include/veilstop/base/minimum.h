/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Minima: of one variable inside a bracket, of several by a simplex.
 * Source: GSL reference manual, "One Dimensional Minimization" (Brent 1973, ch. 5). */
#ifndef VEILSTOP_BASE_MINIMUM_H
#define VEILSTOP_BASE_MINIMUM_H

#include <stddef.h>

#include "veilstop/base/root.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_MINIMUM_RELATIVE_MIN 1e-7 /* [1] finer steps are lost in rounding */

/** A place and the function's value there. */
typedef struct {
    double x, value;
} vs_minimum;

/** The minimum of f between a and b, by Brent's method.
 *  a, middle, b  finite, ascending; f(middle) below f(a) and f(b)
 *  relative      tolerance on x, VS_MINIMUM_RELATIVE_MIN or over: rounding hides a smooth minimum
 *                within the square root of a double's precision
 *  stop_under    the search ends at the first place whose value is under this; -INFINITY: never
 *  out           NaN on error
 *  Errors: VS_ERR_DOMAIN where a, middle and b are no bracket or f is not finite there,
 *  VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Left out: other minima in the bracket.  Checked: tests/unit/test_minimum.c */
VS_WARN_UNUSED vs_status vs_minimum_brent(vs_function f, void *context, double a, double middle,
                                          double b, double relative, double stop_under,
                                          vs_minimum *out);

/** A function of several numbers, `count` of them in the call it serves. */
typedef double (*vs_function_of_many)(const double *x, void *context);

/** Minimises by the Nelder-Mead simplex: slow, but not stopped by corners as gradient methods are.
 *  x        in: starting point; out: the best point met, never worse than the start
 *  step     of each number, over 0: the first simplex
 *  most     evaluations, approximately
 *  value    out, the function there
 *  Errors: VS_ERR_DOMAIN (count 0, not finite at the start), VS_ERR_MEMORY; x is then unchanged.
 *  Source: GSL, nmsimplex2.   Checked: tests/unit/test_minimum.c */
VS_WARN_UNUSED vs_status vs_minimum_simplex(vs_function_of_many f, void *context, size_t count,
                                            const double *step, int most, double *x, double *value);

#ifdef __cplusplus
}
#endif
#endif
