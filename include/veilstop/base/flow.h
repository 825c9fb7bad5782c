/* Linear systems x' = A x with constant A, followed exactly over any stretch of time.
 * Source: Moler & Van Loan 2003, SIAM Rev. 45, 3 (methods 1 and 3). */
#ifndef VEILSTOP_BASE_FLOW_H
#define VEILSTOP_BASE_FLOW_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_FLOW_SIZE_MAX 256 /* amounts: far more rooms than a day uses; our choice */

/** The exponentials exp(A h), exp(2 A h), exp(4 A h), ... of one matrix, made once, and room to
 *  multiply in: used by one thread at a time. */
typedef struct {
    size_t size;    /* of the state */
    size_t levels;  /* exponentials kept */
    double step;    /* h, the shortest of them [time] */
    double *memory; /* A, the exponentials, and work space */
} vs_flow;

/** Prepares the ladder.
 *  rate  size x size, row by row [1/time], finite; borrowed, not kept
 *  size  1 to VS_FLOW_SIZE_MAX
 *  Errors: VS_ERR_DOMAIN for a size out of range or rates not finite or over 1e6 in sum of a row,
 *  VS_ERR_MEMORY.
 *  Method: scaling and squaring: the first rung by its Taylor series, h so short that |A| h <= 1/2
 *  and at most 1; each further rung is the square of the one before. */
VS_WARN_UNUSED vs_status vs_flow_init(vs_flow *flow, const double *rate, size_t size);
void vs_flow_free(vs_flow *flow);

/** Replaces x(0) by x(time) = exp(A time) x(0).
 *  time  0 or over, finite; any other gives NaN throughout
 *  x     in and out, `size` values
 *  Method: the rungs that add up to the time, then the Taylor series for what is left under h.
 *  Checked: tests/unit/test_rooms.c, against closed forms and GSL's adaptive odeiv2. */
void vs_flow_advance(vs_flow *flow, double time, double *x);

/** Row `row` of A times x: how fast that component changes [1/time]. */
double vs_flow_slope(const vs_flow *flow, size_t row, const double *x);

#ifdef __cplusplus
}
#endif
#endif
