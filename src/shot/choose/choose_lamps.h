/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Following the light of lamps to where it first lands, before anything is solved: each lamp once,
 * by as many threads as the caller runs, whatever the number of densities. */
#ifndef VEILSTOP_SHOT_CHOOSE_CHOOSE_LAMPS_H
#define VEILSTOP_SHOT_CHOOSE_CHOOSE_LAMPS_H

#include "shot/choose/choose_indirect.h"

/* For the lamps of the curves' shots, into the predictor's own solvers. Without a runner nothing is
 * done: it then happens where it is needed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_indirect_lamps_trace(vs_predictor *predictor,
                                                 const vs_indirect_curve *curve, size_t count);

#endif
