/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure over the day, such as the density of the haze in a room: its peak, its highest average
 * over a length of time, the time it first reaches a level. All exact, for piecewise linear
 * curves. */
#ifndef VEILSTOP_SAFETY_DAY_CURVE_H
#define VEILSTOP_SAFETY_DAY_CURVE_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Linear between samples; borrowed arrays. Two samples at the same time make a step. The figure is
 *  0 before the first sample and `after` past the last. */
typedef struct {
    const double *at_s; /* non-decreasing */
    const double *value;
    size_t count;
    double after;
} vs_day_curve;

/** The highest value and, if `at_s` is not NULL, the time at which it first occurs [s]; 0 and NaN
 *  without samples.  Checked: tests/unit/test_day_curve.c */
double vs_day_curve_peak(const vs_day_curve *curve, double *at_s);

/** The highest mean over any period of this length, which may extend past the samples on both
 *  sides.
 *  length_s  0 or over; 0 gives the peak. NaN gives NaN.
 *  Method: the period slides from before the samples to their end; between the moments at which one
 *  of its ends meets a sample its integral is a quadratic, whose maximum is taken exactly.
 *  Checked: tests/unit/test_day_curve.c, by cases worked by hand and by a fine sum. */
double vs_day_curve_highest_mean(const vs_day_curve *curve, double length_s);

/** When the figure first is at or above a level [s]: NaN if never, or if the level is NaN.
 *  Checked: tests/unit/test_day_curve.c */
double vs_day_curve_reaches_s(const vs_day_curve *curve, double level);

#ifdef __cplusplus
}
#endif
#endif
