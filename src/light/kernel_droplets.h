/* Droplets that one place sees, lit by a lamp: their light by band, eight at a time. Inside
 * src/light. */
#ifndef VEILSTOP_LIGHT_KERNEL_DROPLETS_H
#define VEILSTOP_LIGHT_KERNEL_DROPLETS_H

#include "light/lanes.h"
#include "veilstop/light/sight.h"

#define VS_LIT_DROPLETS_MAX 64 /* a multiple of LANES */

typedef struct {
    size_t count;
    double weight[VS_LIT_DROPLETS_MAX]; /* all that is alike in the bands: the quadrature's,
                                           openness */
    double lux[VS_BAND_COUNT][VS_LIT_DROPLETS_MAX]; /* on the droplet, nothing in between */
    double depth[VS_LIT_DROPLETS_MAX];              /* at 549 nm: lamp to droplet to place */
    double first_cosine[VS_LIT_DROPLETS_MAX];       /* of the scattering angle at the droplet */
    double second_cosine[VS_LIT_DROPLETS_MAX];      /* and at the place, if it is a droplet too */
} vs_lit_droplets;

/* Adds to sum, and empties the list: weight x lux x extinction's share of the band x phase there x
 * exp(-t) x what all orders are over the second; with scattered_again times phase at the place. */
void vs_lit_droplets_add(vs_lit_droplets *droplets, const vs_medium *medium, bool scattered_again,
                         vs_bands *sum);

#endif
