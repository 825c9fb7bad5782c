/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure over the day, such as the density of the haze in a room: its peak, its highest average
 * over a length of time, when it first reaches a level. Plain geometry of straight lines. */
#ifndef VEILSTOP_SAFETY_DAY_CURVE_H
#define VEILSTOP_SAFETY_DAY_CURVE_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Straight lines between samples; borrowed arrays. Two samples at one time are a step. The figure
 *  is 0 before the first sample and `after` past the last. */
typedef struct {
    const double *at_s; /* never falling */
    const double *value;
    size_t count;
    double after;
} vs_day_curve;

/** The highest value, and where `at_s` is not NULL when it is first had [s]; 0 and NaN without a
 *  sample.  Checked: tests/unit/test_day_curve.c */
double vs_day_curve_peak(const vs_day_curve *curve, double *at_s);

/** The highest mean over any stretch of time of this length, which may reach out of the samples on
 *  both sides.
 *  length_s  0 or over; 0 gives the peak. NaN gives NaN.
 *  Method: the stretch is slid from before the samples to their end; between the moments at which
 *  one of its ends meets a sample, its integral is a quadratic, whose maximum is taken exactly.
 *  Checked: tests/unit/test_day_curve.c, by hand-worked cases and a fine sum. */
double vs_day_curve_highest_mean(const vs_day_curve *curve, double length_s);

/** When the figure first is at or over a level [s]: NaN where it never is, as for a level of NaN.
 *  Checked: tests/unit/test_day_curve.c */
double vs_day_curve_reaches_s(const vs_day_curve *curve, double level);

#ifdef __cplusplus
}
#endif
#endif
