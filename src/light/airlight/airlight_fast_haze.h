/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The haze as the fast integrals read it: one entry for each band that differs. Inside src/light.
 */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_HAZE_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_HAZE_H

#include <stdbool.h>

#include "veilstop/light/camera_ray.h"

typedef struct {
    int band_count;  /* 1: all bands alike; or VS_BAND_COUNT */
    int refine_band; /* the band whose shape steers the refinement */
    bool table;      /* phase functions are tables, else Henyey-Greenstein */
    /* nodes crowd towards straight on: tan(angle/2) = forward_scale (1 + t)/(1 - t) */
    double forward_scale;
    double ratio[VS_BAND_COUNT];        /* extinction over that at 549 nm [1] */
    double g[VS_BAND_COUNT];            /* Henyey-Greenstein [1] */
    double peak[VS_BAND_COUNT];         /* Henyey-Greenstein: (1 - g^2)/(4 pi) [1/sr] */
    const double *value[VS_BAND_COUNT]; /* table [1/sr] */
    double last[VS_BAND_COUNT];         /* table: its last place, count - 1 */
    size_t *nodes;                      /* counts the places looked at */
} vs_fast_haze;

/* False where one band has a table and another has none: no haze is made like that. */
bool vs_fast_haze_make(const vs_medium *medium, size_t *nodes, vs_fast_haze *haze);

/* The forward scale of a phase function: how wide its forward peak is, as the half-angle tangent.
 */
double vs_fast_forward_scale(const vs_phase *phase);

/* Scattering coefficient of a band in a segment of a line [1/m]. */
double vs_fast_scattering_per_m(const vs_medium *medium, const vs_ray_segment *segment, int band);

#endif
