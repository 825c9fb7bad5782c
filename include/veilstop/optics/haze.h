/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fluid, and the haze its droplets make: the optics of one gram in the air, by band. How much
 * haze there is does not belong here: extinction [1/m] = mass [g/m3] x extinction [m2/g]. */
#ifndef VEILSTOP_OPTICS_HAZE_H
#define VEILSTOP_OPTICS_HAZE_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/optics/index.h"
#include "veilstop/optics/phase.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_FLUID_CLASS_COUNT 3
typedef enum { VS_FLUID_GLYCOL, VS_FLUID_GLYCEROL, VS_FLUID_OIL } vs_fluid_class;
/** Their words in files, in the order of the enum. */
extern const char *const vs_fluid_class_words[VS_FLUID_CLASS_COUNT];

/* The ranges of a fluid, enforced by the file reader and by vs_haze_init. Larger droplets do not
 * stay airborne, smaller ones scatter next to nothing. */
#define VS_FLUID_INDEX_MIN         1.0   /* [1] n must exceed it */
#define VS_FLUID_INDEX_MAX         3.0   /* [1] */
#define VS_FLUID_GSD_MIN           1.0   /* [1] all droplets alike */
#define VS_FLUID_GSD_MAX           2.5   /* [1] */
#define VS_FLUID_MEDIAN_MIN_M      5e-9  /* [m] count median diameter */
#define VS_FLUID_MASS_MEDIAN_MIN_M 20e-9 /* [m] mass median diameter */
#define VS_FLUID_MASS_MEDIAN_MAX_M 20e-6 /* [m] */
#define VS_FLUID_DENSITY_MAX       5.0   /* [g/ml] */

/** A fluid as a data sheet or a file describes it. Borrowed strings. The ranges are those
 *  vs_haze_init accepts. */
typedef struct {
    const char *name; /* may be NULL */
    vs_fluid_class class_;
    double density_g_per_ml;     /* over 0 to VS_FLUID_DENSITY_MAX */
    double nonvolatile_fraction; /* [1] of the liquid's mass that stays as droplets, 0 to 1 */
    double half_life_s;          /* by evaporation alone; INFINITY: none */
    bool measured;               /* a grey Henyey-Greenstein haze, as measured */
    double extinction_m2_per_g;  /* measured: over 0 */
    double g;                    /* measured: mean cosine of scattering, in (-1, 1) */
    double settling_m_per_s;     /* measured; else computed from the droplets */
    vs_refractive_index index;   /* not measured: */
    double median_m;             /* count median diameter of a lognormal */
    double gsd;                  /* its geometric standard deviation */
} vs_fluid;

/** The optics of a gram of airborne droplets. Owns its phase tables. How fast droplets settle and
 *  evaporate is left to src/air: it follows from the fluid and the air. */
typedef struct {
    vs_bands extinction_m2_per_g;  /* extinction cross-section of 1 g of droplets */
    vs_bands albedo;               /* scattering over extinction [1] */
    vs_phase phase[VS_BAND_COUNT]; /* borrow from this haze: valid until vs_haze_free */
    void *memory;                  /* phase tables */
} vs_haze;

/** Optics of a fluid's droplets in the three bands (611, 549, 464 nm).
 *  haze   out; on error all figures are NaN and there is nothing to free
 *  fluid  borrowed, not kept
 *  Errors: VS_ERR_DOMAIN for a fluid outside its ranges, VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Method: Mie theory over the lognormal of the droplets (ensemble.h, which states the accuracy); a
 *  measured fluid is grey: its extinction in all bands, albedo 1, Henyey-Greenstein.
 *  Cost: about 2 ms for a mass median of 0.5 um, 12 ms for 2 um.
 *  Checked: tests/unit/test_haze.c, tests/unit/test_ensemble.c. */
VS_WARN_UNUSED vs_status vs_haze_init(vs_haze *haze, const vs_fluid *fluid);

/** Frees the phase tables; safe to call twice, or on a zeroed one. */
void vs_haze_free(vs_haze *haze);

/** Extinction in the three bands [1/m] when that at 549 nm is `extinction_per_m` (0 or over). */
vs_bands vs_haze_bands_per_m(const vs_haze *haze, double extinction_per_m);

/** The same optics at any one wavelength. Owns its phase table. */
typedef struct {
    double extinction_m2_per_g;
    double albedo;  /* [1] */
    vs_phase phase; /* borrows from this: valid until vs_haze_line_free */
    void *memory;   /* phase table */
} vs_haze_line;

/** wavelength_m  VS_WAVELENGTH_MIN_M to VS_WAVELENGTH_MAX_M.  Errors: as for vs_haze_init. */
VS_WARN_UNUSED vs_status vs_haze_line_init(vs_haze_line *line, const vs_fluid *fluid,
                                           double wavelength_m);
void vs_haze_line_free(vs_haze_line *line);

/** Only the extinction [m2/g] at a wavelength, such as a smoke detector's 900 nm: quicker than a
 *  line.
 *  extinction_m2_per_g  out; NaN on error.  Errors: as for vs_haze_init. */
VS_WARN_UNUSED vs_status vs_haze_extinction_at(const vs_fluid *fluid, double wavelength_m,
                                               double *extinction_m2_per_g);

#ifdef __cplusplus
}
#endif
#endif
