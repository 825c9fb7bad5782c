/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bursts at uneven times, for densities that even ones cannot hold. */
#ifndef VEILSTOP_SHOT_DAY_DWELL_UNEVEN_H
#define VEILSTOP_SHOT_DAY_DWELL_UNEVEN_H

#include "shot/day/dwell_bursts.h"

/* Bursts at uneven times for the first part of a shot that even ones cannot hold: each a series of
 * one in `out`.
 * from     the room as the shot begins
 * strays   out: how far the density strays from the target
 * end      out: the room at the end of them
 * returns  seconds of the shot that are covered; 0: impossible */

/* Bursts of different lengths, one in each slot of time that needs one.
 * every_s  of the slots; with takes, a whole number of cycles */
double vs_hold_by_slots(const vs_hold *h, const vs_rooms_trace *from, double length_s,
                        double every_s, vs_dwell_shot *out, double *strays, vs_rooms_trace *end);

/* The shortest bursts the hazer can make, each as soon as it will not take the density over the
 * target by more than a share.
 * over  [1] that share */
double vs_hold_by_peaks(const vs_hold *h, const vs_rooms_trace *from, double length_s, double over,
                        vs_dwell_shot *out, double *strays, vs_rooms_trace *end);

#endif
