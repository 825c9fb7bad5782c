/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Predictions against random walks of every order: shared by the measurements of docs/accuracy.md.
 */
#ifndef TESTS_WALKED_H
#define TESTS_WALKED_H

#include "veilstop/shot/trust.h"

#define WALKED_CLASSES 3 /* of depth, by the promised accuracy */
/* Optical depth of the longest path, and of a room's mean path: to 0.5 and 0.15; to 1; over. */
int walked_class(const vs_shot_prediction *prediction);
extern const char *const walked_class_name[WALKED_CLASSES];

/* Runs all walks of the shot under test, on two threads, and adds them up. */
void walked_run(vs_trust *trust);

/* A predicted luminance over that of walks; error: out, the walks' own, as a share of their
 * luminance. */
double walked_ratio(vs_bands predicted, const vs_tally *walks, double *error);

#endif
