/* Shared by the fits through readings: looks at the card without haze that several readings share.
 */
#ifndef VEILSTOP_SRC_SHOT_READING_FIT_H
#define VEILSTOP_SRC_SHOT_READING_FIT_H

#include "veilstop/shot/reading.h"

/* Each shared look is a parameter of unit deviation; a look used once is noise of its reading. */
typedef struct {
    size_t *of; /* one a point: its shared look, or VS_NONE */
    size_t count;
} vs_clear_looks;

vs_status vs_clear_looks_init(vs_clear_looks *looks, const vs_decay_point *point, size_t count);
void vs_clear_looks_free(vs_clear_looks *looks);

/* Residual of point i against an extinction, in standard deviations.
 * look_error  one a shared look: its error in its own deviations */
double vs_clear_looks_residual(const vs_clear_looks *looks, const vs_decay_point *point, size_t i,
                               double extinction_per_m, const double *look_error);

#endif
