/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Surfaces' light on one another in a haze: form factors dimmed, and solved for eight lights at a
 * time. Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_RADIOSITY_SOLVE_H
#define VEILSTOP_LIGHT_TRANSPORT_RADIOSITY_SOLVE_H

#include "light/transport/radiosity.h"

/* Memory to solve in; one per thread. */
typedef struct {
    void *block;                   /* holds them all */
    float *weight;                 /* form factors dimmed in a haze */
    double *through, *through_air; /* the same of patches behind openings, and of air */
    double *taken;  /* patch: what haze takes of light that falls on it from all directions [1] */
    double *column; /* patch: area that all patches give back of its light [m2] */
    /* side of an opening x patch beyond it, of the patch's light: what comes to the opening, and
     * what rows see of it; side x LANES: one over the other, by which what rows see is scaled, so
     * that openings neither make light nor lose any */
    double *sent_m2, *seen_m2;
    size_t *side_from, *side_to; /* side: of its patches the first, and past the last */
    float *scale;
    double *source, *nits; /* patch x LANES */
    float *light, *behind; /* the same: nits being found; what comes from behind openings */
} vs_radiosity_work;

VS_WARN_UNUSED vs_status vs_radiosity_work_init(vs_radiosity_work *work,
                                                const vs_radiosity *radiosity);
void vs_radiosity_work_free(vs_radiosity_work *work);

/* Sets one band of a haze: extinction of each room [1/m]. */
void vs_radiosity_dim(const vs_radiosity *radiosity, const double *room_extinction_per_m,
                      double rate, vs_radiosity_work *work);

/* Solves work->nits for work->source: what each patch gives back of light that comes to it straight
 * and by way of droplets [cd/m2], for LANES lights. Each light converges by itself: its result does
 * not depend on the others.
 * Errors: VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_radiosity_solve(const vs_radiosity *radiosity, vs_radiosity_work *work);

#endif
