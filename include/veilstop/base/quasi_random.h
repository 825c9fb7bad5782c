/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Points that fill a box evenly: Sobol's sequence.
 * Source: GSL reference manual, "Quasi-Random Sequences" (Antonov & Saleev 1979). */
#ifndef VEILSTOP_BASE_QUASI_RANDOM_H
#define VEILSTOP_BASE_QUASI_RANDOM_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_SOBOL_DIMENSIONS_MAX 40 /* GSL's table ends there */

/** The first points of Sobol's sequence, without the origin.
 *  dimensions  1 to VS_SOBOL_DIMENSIONS_MAX
 *  point       out, count x dimensions, each coordinate in (0, 1)
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_statistics.c: each coordinate of the first 2^m - 1 points takes each
 *  multiple of 2^-m once. */
VS_WARN_UNUSED vs_status vs_sobol_points(size_t dimensions, size_t count, double *point);

#ifdef __cplusplus
}
#endif
#endif
