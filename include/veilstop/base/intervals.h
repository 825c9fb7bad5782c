/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sets of numbers as intervals. */
#ifndef VEILSTOP_BASE_INTERVALS_H
#define VEILSTOP_BASE_INTERVALS_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** From low to high, both included. */
typedef struct {
    double low, high;
} vs_interval;

/** Intervals, ascending, that do not touch. Owns its items. */
typedef struct {
    vs_interval *item;
    size_t count, size;
} vs_intervals;

void vs_intervals_free(vs_intervals *set);

/** Whether x lies in one of them; false for NaN. */
bool vs_intervals_hold(const vs_intervals *set, double x);

/** The intersection of two sets. `out` is neither of them. */
VS_WARN_UNUSED vs_status vs_intervals_meet(const vs_intervals *a, const vs_intervals *b,
                                           vs_intervals *out);

/** Appends one behind the others.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_intervals_add(vs_intervals *set, double low, double high);

#ifdef __cplusplus
}
#endif
#endif
