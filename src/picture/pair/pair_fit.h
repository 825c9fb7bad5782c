/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Grades between two frames in their own code values: a CDL and a 3 x 4 matrix, fitted to means of
 * patches and measured over every pixel. */
#ifndef VEILSTOP_PICTURE_PAIR_PAIR_FIT_H
#define VEILSTOP_PICTURE_PAIR_PAIR_FIT_H

#include "picture/pair/pair_blocks.h"
#include "veilstop/picture/pair.h"

/* Fills the CDL, the matrix and the errors of a pair. Errors: VS_ERR_MEMORY, VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_pair_fit_grades(const vs_pair_frames *frames, vs_pair *pair);
/* Only error_before, and identity grades: for frames that do not match. */
VS_WARN_UNUSED vs_status vs_pair_no_grades(const vs_pair_frames *frames, vs_pair *pair);

#endif
