/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phase function sampling: scattering angles drawn at random with the density of a phase function.
 * Sources: Henyey & Greenstein 1941 (its distribution inverts in closed form); a table's is
 * inverted exactly, cell by cell. */
#ifndef VEILSTOP_OPTICS_PHASE_SAMPLING_H
#define VEILSTOP_OPTICS_PHASE_SAMPLING_H

#include "veilstop/base/status.h"
#include "veilstop/optics/phase.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A phase function prepared for sampling. Borrows the phase; owns its sums. */
typedef struct {
    const vs_phase *phase;
    double whole;       /* [1] integral over 4 pi sr: 1, or close to it for a table */
    double *cumulative; /* TABLE: share of light up to each value of the table, 0 to 1; else NULL */
} vs_phase_sampler;

/** phase  borrowed, must outlive the sampler.
 *  Errors: VS_ERR_MEMORY, VS_ERR_DOMAIN for a table that is zero everywhere. */
VS_WARN_UNUSED vs_status vs_phase_sampler_init(vs_phase_sampler *sampler, const vs_phase *phase);
void vs_phase_sampler_free(vs_phase_sampler *sampler);

/** Cosine of the scattering angle below which `share` of the light is scattered.
 *  share  uniform in [0, 1): the angles then have the density of the phase function
 *  Method: Henyey-Greenstein: closed form; table: the share of the light in each cell has a
 *  closed form in w, which Newton's method inverts to rounding.
 *  Checked: tests/unit/test_phase_sampling.c. */
double vs_phase_sampler_cosine(const vs_phase_sampler *sampler, double share);

/** Density of what vs_phase_sampler_cosine draws [1/sr]: the phase function over its integral. */
double vs_phase_sampler_per_sr(const vs_phase_sampler *sampler, double cos_angle);

#ifdef __cplusplus
}
#endif
#endif
