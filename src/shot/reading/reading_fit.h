/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The two models fitted to readings. */
#ifndef VEILSTOP_SHOT_READING_READING_FIT_H
#define VEILSTOP_SHOT_READING_READING_FIT_H

#include "shot/reading/reading_day.h"

/* A fitted model: logarithms of ratios to the scene's figures, and their deviations. Arrays are the
 * caller's, one value per room; NaN where nothing is known. */
typedef struct {
    double output_log, output_sd;
    double *loss_log, *loss_sd;   /* of the room's own losses */
    double *last_per_m, *last_sd; /* [1/m] at a room's last point */
    double misfit;     /* [1] sum of squares of all residuals, prior knowledge included */
    double chi_square; /* of the readings alone */
    size_t starts;     /* fitted densities that the plan does not give */
} vs_reading_story;

/* Fits output and losses (plan), or losses and the densities at the start (decay).
 * Errors: VS_ERR_MEMORY, VS_ERR_CONVERGENCE. */
vs_status vs_reading_fit(const vs_reading_day *day, bool as_plan, vs_reading_story *story);

#endif
