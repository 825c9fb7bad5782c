/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the sums over the terms of a sphere share, for one sphere at a time or eight. */
#ifndef VEILSTOP_OPTICS_RECURRENCE_H
#define VEILSTOP_OPTICS_RECURRENCE_H

#include <math.h>
#include <stddef.h>

/* Where a downward recurrence starts, so that its initial guess has died out at the terms wanted
 * and, for D_n, at the turning point n = |z|: over 6 cbrt(z) steps above that an error shrinks by
 * about exp(-28), whatever z, and over the 8 more by at least as much again where z is small. */
static inline size_t vs_recurrence_start(double argument, size_t terms) {
    return (size_t)fmax(argument + 6 * cbrt(argument), (double)terms) + 8;
}

/* (2n + 1)/(n (n + 1)): between a_n and b_n; and of every term of the amplitudes. */
static inline double vs_term_across(double n) {
    return (2 * n + 1) / (n * (n + 1));
}

/* n (n + 2)/(n + 1): between a_n and a_{n+1}. */
static inline double vs_term_along(double n) {
    return n * (n + 2) / (n + 1);
}

#endif
