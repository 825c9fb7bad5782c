/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arithmetic eight numbers at a time: branch-free functions of one double that the compiler turns
 * into vector code inside a loop over LANES. Fixed order, no contraction, no call of libm, so that
 * every IEEE 754 machine gives the same figures. Sources: Abramowitz & Stegun 1964, 4.1 to 4.6
 * (series). Each is held against libm by tests/unit/test_lanes.c. */
#ifndef VEILSTOP_BASE_LANES_H
#define VEILSTOP_BASE_LANES_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/vector.h"
#include "veilstop/base/units.h"

#define LANES_LN_2      0.693147180559945309 /* [1] ln 2 */
#define LANES_LOG2_E    1.442695040888963407 /* [1] 1/ln 2 */
#define LANES_LN_2_HIGH 0x1.62e42fefa38p-1   /* [1] ln 2, first 41 bits: exact times an integer */
#define LANES_LN_2_LOW  0x1.ef35793c7673p-45 /* [1] ln 2 less that */
#define LANES_ROUNDER   0x1.8p52             /* [1] added, it leaves a whole number */
#define LANES_EXP_MIN   (-708.0)             /* [1] below, exp gives 3e-308 instead of 0 */
#define LANES_EXP_MAX   709.0                /* [1] above, exp(709) */
#define LANES_TINY      1e-300               /* [1] in place of a divisor of 0 */
#define LANES_ROOT_2    1.414213562373095049 /* [1] sqrt 2 */
#define LANES_TAN_22_5  0.414213562373095049 /* [1] tan(pi/8) = sqrt 2 - 1 */

LANES_INLINE uint64_t lane_bits(double x) {
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

LANES_INLINE double lane_from_bits(uint64_t bits) {
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

LANES_INLINE double lane_max(double a, double b) {
    return a > b ? a : b;
}

LANES_INLINE double lane_min(double a, double b) {
    return a < b ? a : b;
}

/* For a divisor that may be 0: the quotient is then huge but finite. */
LANES_INLINE double lane_divisor(double x) {
    return x == 0 ? LANES_TINY : x;
}

/* exp x, within 2e-14: x = n ln 2 + r, |r| <= ln 2 / 2, Taylor to r^11 (4.2.1). Does not pass NaN
 * on: arguments here are finite. */
LANES_INLINE double lane_exp(double x) {
    x = lane_min(lane_max(x, LANES_EXP_MIN), LANES_EXP_MAX);
    double shifted = x * LANES_LOG2_E + LANES_ROUNDER;
    double n = shifted - LANES_ROUNDER;
    double r = (x - n * LANES_LN_2_HIGH) - n * LANES_LN_2_LOW;
    double r2 = r * r, r4 = r2 * r2;
    double low = (1 + r) + r2 * (1.0 / 2 + r * (1.0 / 6));
    double middle = (1.0 / 24 + r * (1.0 / 120)) + r2 * (1.0 / 720 + r * (1.0 / 5040));
    double high = (1.0 / 40320 + r * (1.0 / 362880)) + r2 * (1.0 / 3628800 + r * (1.0 / 39916800));
    double series = low + r4 * (middle + r4 * high);
    /* n sits in the lowest bits of the sum; shifted up it is the exponent of 2^n */
    return series * lane_from_bits((lane_bits(shifted) << 52) + ((uint64_t)1023 << 52));
}

/* c[0] + c[1] x + ... + c[count - 1] x^(count - 1), by Horner. */
LANES_INLINE double lane_series(const double *c, int count, double x) {
    double sum = c[count - 1];
    for (int i = count - 2; i >= 0; i--) {
        sum = sum * x + c[i];
    }
    return sum;
}

/* ln x for a normal x > 0, within 1e-14 absolute: x = 2^n m, sqrt 1/2 <= m < sqrt 2,
 * ln m = 2 artanh f, f = (m - 1)/(m + 1) (4.1.27), to f^17. */
LANES_INLINE double lane_log(double x) {
    static const double c[] = {1.0,      1.0 / 3,  1.0 / 5,  1.0 / 7, 1.0 / 9,
                               1.0 / 11, 1.0 / 13, 1.0 / 15, 1.0 / 17};
    uint64_t bits = lane_bits(x);
    /* the exponent as a number: its bits in the mantissa of 2^52, less 2^52 */
    double n = lane_from_bits((bits >> 52) | 0x4330000000000000u) - 0x1p52 - 1023;
    double m = lane_from_bits((bits & 0x000fffffffffffffu) | 0x3ff0000000000000u);
    n = m > LANES_ROOT_2 ? n + 1 : n;
    m = m > LANES_ROOT_2 ? m * 0.5 : m;
    double f = (m - 1) / (m + 1);
    return n * LANES_LN_2 + 2 * f * lane_series(c, 9, f * f);
}

/* atan2(y, x) for y >= 0, not both 0, within 1e-14: the ratio of the smaller to the larger, rotated
 * by -45 degrees where it exceeds tan 22.5, then the series (4.4.42) to a^31. */
LANES_INLINE double lane_atan2_upper(double y, double x) {
    static const double c[] = {1.0,      -1.0 / 3,  1.0 / 5,  -1.0 / 7,  1.0 / 9,  -1.0 / 11,
                               1.0 / 13, -1.0 / 15, 1.0 / 17, -1.0 / 19, 1.0 / 21, -1.0 / 23,
                               1.0 / 25, -1.0 / 27, 1.0 / 29, -1.0 / 31};
    double ax = x < 0 ? -x : x;
    double small = lane_min(y, ax), large = lane_max(y, ax);
    double steep = small > LANES_TAN_22_5 * large ? 1 : 0;
    double a = (small - steep * large) / (large + steep * small);
    double angle = a * lane_series(c, 16, a * a) + steep * (VS_PI / 4);
    angle = y > ax ? VS_PI / 2 - angle : angle;
    return x < 0 ? VS_PI - angle : angle;
}

/* atan(y/x) for x > 0. */
LANES_INLINE double lane_signed_atan(double y, double x) {
    double angle = lane_atan2_upper(y < 0 ? -y : y, x);
    return y < 0 ? -angle : angle;
}

/* arcsin^2(sqrt s)/s and its logarithm on 0 to 1/2, within 2e-9: Chebyshev interpolation of degree
 * 9, our own. */
LANES_INLINE double lane_arcsine_square(double s) {
    static const double c[] = {0.99999999929305339,  0.33333361547407925,  0.17775936896955816,
                               0.11474688768772996,  0.075474697097450166, 0.10271818050480488,
                               -0.12498970610931888, 0.4762811146720427,   -0.58181365699370857,
                               0.42401507679516764};
    return lane_series(c, 10, s);
}

LANES_INLINE double lane_arcsine_square_log(double s) {
    static const double c[] = {-3.1517950028980406e-10, 0.33333345912268669,  0.12221401420699661,
                               0.067577790172465194,    0.041453905173312808, 0.049993811527546506,
                               -0.05341858242318992,    0.21418559301840476,  -0.25940256879992935,
                               0.19058118727478313};
    return lane_series(c, 10, s);
}

/* The sum of the lanes, in one fixed order. */
LANES_INLINE double lanes_sum(const double *lane) {
    return ((lane[0] + lane[4]) + (lane[2] + lane[6])) +
           ((lane[1] + lane[5]) + (lane[3] + lane[7]));
}

#endif
