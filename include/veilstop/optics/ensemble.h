/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Optics of droplets of many sizes at one wavelength: extinction per mass, albedo, asymmetry and
 * phase function of a single scattering.
 * Source: Bohren & Huffman 1983 (one sphere); van de Hulst 1957, Light Scattering by Small
 * Particles, 2.2 (independent droplets add up). */
#ifndef VEILSTOP_OPTICS_ENSEMBLE_H
#define VEILSTOP_OPTICS_ENSEMBLE_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/optics/sizes.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_ENSEMBLE_SIZE_MAX 2000.0 /* [1] larger size parameters are left out */

/** Droplets of one liquid in light of one wavelength. */
typedef struct {
    vs_sizes sizes;
    double n, k; /* refractive index n + ik relative to air [1], ranges of vs_mie_sphere */
    double density_kg_per_m3; /* of the liquid, over 0 */
    double wavelength_m;      /* in air, over 0 */
    bool quick; /* for large or widely spread droplets: takes only every second (third ...) sphere
                 * into the phase function where all would cost over 10 ms */
} vs_droplets;

/** Their optics. */
typedef struct {
    double extinction_m2_per_g; /* extinction cross-section of a gram of droplets */
    double albedo;              /* scattering over extinction [1] */
    double g;                   /* mean cosine of scattering [1] */
    size_t spheres;             /* number of sizes in the sums */
    /* Only from vs_ensemble_init, else NULL and 0: */
    double *phase_per_sr; /* table of phase.h, owned: integrates to 1 over 4 pi sr */
    size_t phase_count;
    double *series; /* phase [1/sr] = sum over m of series[m] cos(m angle), owned */
    size_t series_count;
} vs_ensemble;

/** Extinction, albedo and asymmetry alone; a fifth of the work of vs_ensemble_init or less.
 *  ensemble  out; all NaN and NULL on error; nothing to free
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.
 *  Method: the trapezoidal rule over a mapped ln d, which for smooth integrands that fall off at
 *  both ends converges exponentially (Trefethen & Weideman 2014, SIAM Rev. 56, 385). The limit is
 *  set by the resonances of large transparent spheres: about one per unit of x, narrower for larger
 *  spheres. So steps are as short as 0.015 in x where most of the light is scattered, and longer
 *  where little is. Tails are cut where the density of mass and scattering has fallen to 1e-7 of
 *  its greatest, that of the forward peak to 3e-5.
 *  Accuracy: extinction, albedo and g within 1e-4 of a brute-force sum for mass medians up to 2 um.
 *  Left out: size parameters over VS_ENSEMBLE_SIZE_MAX (0.3 mm in the light).
 *  Checked: tests/unit/test_ensemble.c */
VS_WARN_UNUSED vs_status vs_ensemble_sums(vs_ensemble *ensemble, const vs_droplets *droplets);

/** The above and the phase function.
 *  ensemble  out; owns its table
 *  Errors: as above; VS_ERR_CONVERGENCE where the phase function does not integrate to 1 within
 *  1e-4.
 *  Method: intensities of all spheres are added on grids of angles fine enough to represent each
 *  one's polynomial in cos(angle) exactly, transformed to a cosine series, and tabulated so finely
 *  that linear interpolation stays within VS_ENSEMBLE_TABLE_ERROR of the series. The table as it is
 *  read integrates to 1.
 *  Accuracy of the series against a brute-force sum: 0.1 % everywhere for mass medians up to 1 um,
 *  0.3 % at 2 um; the last 10 deg before 180 deg, where resonances show most, are the worst.
 *  Checked: tests/unit/test_ensemble.c */
VS_WARN_UNUSED vs_status vs_ensemble_init(vs_ensemble *ensemble, const vs_droplets *droplets);

/** Safe to call twice, or on a zeroed one. */
void vs_ensemble_free(vs_ensemble *ensemble);

#define VS_ENSEMBLE_TABLE_ERROR 5e-4 /* [1] relative, of linear interpolation in the table */

#ifdef __cplusplus
}
#endif
#endif
