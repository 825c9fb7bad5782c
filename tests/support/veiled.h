/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random veils and the signals that a CDL has to match: by these its fits are judged. */
#ifndef VEILSTOP_TESTS_VEILED_H
#define VEILSTOP_TESTS_VEILED_H

#include "check.h"
#include "veilstop/camera/grade.h"

#define VEILED_LEVELS  24
#define VEILED_COLOURS 7
#define VEILED_COUNT   (VEILED_LEVELS * VEILED_COLOURS)

typedef struct {
    vs_camera camera;
    vs_depth depth;
    double recover, low, high;
    vs_grade_cdl fit;                   /* the library's fit */
    vs_cdl_sample sample[VEILED_COUNT]; /* greys and half saturated colours, even in stops */
} veiled;

/* A random camera in one of the named curves, haze of transmission from `thickest` up, and the fit.
 * False where the hazed frame clips all of it. */
bool veiled_random(veiled *v, random_stream *r, vs_curve_kind kind, double thickest);
/* The sum of squared errors [stops^2] that a CDL leaves over the samples, its floor added. */
double veiled_cost(const veiled *v, const vs_cdl *cdl);
/* A CDL from ten numbers: logarithms of slopes, offsets, logarithms of powers and of saturation. */
vs_cdl veiled_cdl(const double *number);
/* Ten random numbers for a start. */
void veiled_start(const veiled *v, random_stream *r, double *number);

#endif
