/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where margins that depend on one variable (a density, a dimming) are zero or over: sets of
 * intervals, found by a scan, a search at each hump and dip, and Brent's method at each crossing.
 */
#ifndef VEILSTOP_SHOT_CHOOSE_MARGINS_H
#define VEILSTOP_SHOT_CHOOSE_MARGINS_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/shot/choose.h"

/* Functions of x. `asked` flags the margins that are needed; the others may be left. A margin may
 * be infinite, or NaN if unknown, which counts as far below zero. */
typedef struct {
    size_t count;
    vs_status (*at)(void *context, double x, const bool *asked, double *margin);
    void *context;
} vs_margins;

/* Margins on a grid. */
typedef struct {
    size_t places, count;
    double *x;      /* places, ascending */
    double *margin; /* places x count */
} vs_margin_scan;

/* x  places values, ascending, copied.  Errors: those of the margins, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_margin_scan_init(vs_margin_scan *scan, const vs_margins *margins,
                                             const double *x, size_t places);
void vs_margin_scan_free(vs_margin_scan *scan);

/* The set in which margin `which` is zero or over. out is emptied first; free it also on error.
 * Left out: a hump or dip narrower than the grid that none of its places shows. */
VS_WARN_UNUSED vs_status vs_margin_feasible(const vs_margins *margins, const vs_margin_scan *scan,
                                            size_t which, vs_intervals *out);

/* Moves each end of a set between low and high to where margin `which` really crosses zero. The set
 * was found with `nearly`, a cheap approximation of these margins that also gives their slope. An
 * end near which they do not cross stays. */
VS_WARN_UNUSED vs_status vs_margin_polish(const vs_margins *margins, const vs_margins *nearly,
                                          size_t which, double low, double high, vs_intervals *set);

/* The x in a set (NULL: the whole grid) at which the smallest of the margins asked for is largest.
 * The set must not be empty. */
VS_WARN_UNUSED vs_status vs_margin_best(const vs_margins *margins, const vs_margin_scan *scan,
                                        const bool *asked, const vs_intervals *within, double *x);

#endif
