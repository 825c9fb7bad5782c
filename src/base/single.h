/* SPDX-License-Identifier: GPL-3.0-or-later */
/* lanes.h in single precision, which is enough for geometry and exponentials. Each is held against
 * libm by tests/unit/test_lanes.c. */
#ifndef VEILSTOP_BASE_SINGLE_H
#define VEILSTOP_BASE_SINGLE_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/vector.h"

#define SINGLE_LOG2_E    1.44269504f     /* [1] 1/ln 2 */
#define SINGLE_LN_2_HIGH 0x1.62ep-1f     /* [1] ln 2, first 12 bits: exact times an integer */
#define SINGLE_LN_2_LOW  0x1.0bfbe8p-15f /* [1] ln 2 less that */
#define SINGLE_ROUNDER   0x1.8p23f       /* [1] added, it leaves a whole number */
#define SINGLE_EXP_MIN   (-87.0f)        /* [1] below, exp gives 1e-38 instead of 0 */
#define SINGLE_TINY      1e-30f          /* [1] in place of a divisor of 0 */
#define SINGLE_FAR       1e30f           /* [1] over any length */
#define SINGLE_TAN_22_5  0.41421356f     /* [1] tan(pi/8) = sqrt 2 - 1 */
#define SINGLE_QUARTER   0.78539816f     /* [1] pi/4 */
#define SINGLE_PI        3.14159265f     /* [1] pi */

LANES_INLINE float single_max(float a, float b) {
    return a > b ? a : b;
}

LANES_INLINE float single_min(float a, float b) {
    return a < b ? a : b;
}

/* exp x for x to 80, within 4e-7: x = n ln 2 + r, then Chebyshev interpolation of degree 6, our
 * own.
 */
LANES_INLINE float single_exp(float x) {
    x = single_max(x, SINGLE_EXP_MIN);
    float shifted = x * SINGLE_LOG2_E + SINGLE_ROUNDER;
    float n = shifted - SINGLE_ROUNDER;
    float r = (x - n * SINGLE_LN_2_HIGH) - n * SINGLE_LN_2_LOW;
    float r2 = r * r, r4 = r2 * r2;
    float low = (1 + r) + r2 * (0.5f + r * 0.16666415477f);
    float high = 0.04166621827f + r * 0.00837512889f + r2 * 0.00139485808f;
    uint32_t bits;
    float scale;
    memcpy(&bits, &shifted, sizeof bits); /* n sits in its lowest bits */
    bits = (bits << 23) + ((uint32_t)127 << 23);
    memcpy(&scale, &bits, sizeof scale);
    return (low + r4 * high) * scale;
}

/* atan(y/x) for x > 0, within 3e-7: rotated by -45 degrees where it exceeds 22.5, then Chebyshev
 * interpolation of degree 4 in the square, our own. */
LANES_INLINE float single_atan(float y, float x) {
    float up = y < 0 ? -y : y, small = single_min(up, x), large = single_max(up, x);
    float steep = small > SINGLE_TAN_22_5 * large ? 1.0f : 0.0f;
    float a = (small - steep * large) / (large + steep * small), s = a * a;
    float series = ((0.0798496291f * s - 0.1385147843f) * s + 0.1997440479f) * s - 0.3333279694f;
    float angle = a * (series * s + 1) + steep * SINGLE_QUARTER;
    angle = up > x ? 2 * SINGLE_QUARTER - angle : angle;
    return y < 0 ? -angle : angle;
}

/* The sum of the lanes, in one fixed order. */
LANES_INLINE float single_sum(const float *lane) {
    return ((lane[0] + lane[4]) + (lane[2] + lane[6])) +
           ((lane[1] + lane[5]) + (lane[3] + lane[7]));
}

#endif
