/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The haze in the form the fast integrals use: one entry for each band that differs. Private to
 * src/light. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_HAZE_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_HAZE_H

#include <stdbool.h>

#include "veilstop/light/airlight_fast.h"
#include "veilstop/light/camera_ray.h"

#define VS_FAST_BANDS (VS_BAND_COUNT * VS_AIRLIGHT_STEPS_MAX)

typedef struct {
    int colour_count; /* 1: all bands alike; or VS_BAND_COUNT */
    int step_count;   /* densities that are worked out together */
    int band_count;   /* sums: colour x step */
    int refine_band;  /* the one of them whose shape steers the refinement */
    bool table;       /* phase functions are tables, else Henyey-Greenstein */
    /* nodes crowd towards forward scattering: tan(angle/2) = forward_scale (1 + t)/(1 - t) */
    double forward_scale;
    double step[VS_AIRLIGHT_STEPS_MAX]; /* haze over that of the first */
    double ratio[VS_FAST_BANDS];        /* extinction over that at 549 nm in the first [1] */
    double g[VS_BAND_COUNT];            /* Henyey-Greenstein [1] */
    double peak[VS_BAND_COUNT];         /* Henyey-Greenstein: (1 - g^2)/(4 pi) [1/sr] */
    const double *value[VS_BAND_COUNT]; /* table [1/sr] */
    double last[VS_BAND_COUNT];         /* table: its last place, count - 1 */
    size_t *nodes;                      /* counts the places evaluated */
} vs_fast_haze;

/* step  step_count of them, the first 1.
 * False if one band has a table and another does not, as no real haze does. */
bool vs_fast_haze_make(const vs_medium *medium, const double *step, size_t step_count,
                       size_t *nodes, vs_fast_haze *haze);

/* The forward scale of a phase function: the width of its forward peak, as the tangent of half the
 * angle. */
double vs_fast_forward_scale(const vs_phase *phase);

/* Adds what sums stand for, step by step: x albedo, extinction ratio, an emitter's strength and
 * `scale`.  nits  one a step */
void vs_fast_add_nits(const vs_medium *medium, const vs_fast_haze *haze, const vs_emitter *emitter,
                      const double *sum, double scale, vs_bands *nits);

#endif
