/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sizes that represent a distribution of droplets: nodes and weights over diameter, dense where
 * most light is scattered and sharp resonances must be resolved, sparse in the tails. */
#ifndef VEILSTOP_OPTICS_NODES_H
#define VEILSTOP_OPTICS_NODES_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/optics/sizes.h"

/** The sum over nodes of weight x f(x) stands for the integral of n(d) f(x) over d, x = pi d over
 *  the wavelength, up to a common factor. Owns its arrays. */
typedef struct {
    double *size, *weight; /* size parameters [1]; weights */
    size_t count;
    double size_max; /* [1] largest size parameter among them */
    double work;     /* [1] sum of squares of the terms each sphere needs */
    double *memory;
} vs_nodes;

/** Errors: VS_ERR_DOMAIN for a distribution that scatters nothing at this wavelength or is not
 *  valid,
 *  VS_ERR_MEMORY.  Method and accuracy: veilstop/optics/ensemble.h. */
VS_WARN_UNUSED vs_status vs_nodes_init(vs_nodes *nodes, const vs_sizes *sizes, double wavelength_m);
void vs_nodes_free(vs_nodes *nodes);

#endif
