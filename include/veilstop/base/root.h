/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roots of one function of one variable.
 * Source: GSL reference manual, "One Dimensional Root-Finding" (Brent 1973, ch. 4). */
#ifndef VEILSTOP_BASE_ROOT_H
#define VEILSTOP_BASE_ROOT_H

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef double (*vs_function)(double x, void *context);

/** A root of f between a and b by Brent's method.
 *  a, b                finite; f must have opposite signs there, or be zero at one
 *  relative, absolute  tolerance on x, >= 0 and not both 0
 *  root                out; NaN on error
 *  Errors: VS_ERR_DOMAIN without a change of sign or with bad bounds, VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_root_brent(vs_function f, void *context, double a, double b,
                                       double relative, double absolute, double *root);

#ifdef __cplusplus
}
#endif
#endif
