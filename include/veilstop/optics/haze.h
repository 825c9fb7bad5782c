/* A fluid, and the haze its droplets make: what one gram in the air does to light, by band.
 * The density of the haze is not in here: extinction [1/m] = mass [g/m3] x extinction [m2/g]. */
#ifndef VEILSTOP_OPTICS_HAZE_H
#define VEILSTOP_OPTICS_HAZE_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/optics/phase.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum { VS_FLUID_GLYCOL, VS_FLUID_GLYCEROL, VS_FLUID_OIL } vs_fluid_class;

typedef enum { VS_INDEX_CONSTANT, VS_INDEX_BANDS, VS_INDEX_CAUCHY } vs_index_kind;

/** Refractive index relative to air, n + ik, k >= 0 absorbs. */
typedef struct {
    vs_index_kind kind;
    double n[3]; /* CONSTANT: n[0]; BANDS: red, green, blue; CAUCHY: A, B [um2], C [um4] of
                    n = A + B/L^2 + C/L^4, L the wavelength in um */
    double k;    /* [1] the same at all wavelengths; files give none, so 0 there */
} vs_refractive_index;

/** A fluid as a data sheet or a file tells it. Borrowed strings. */
typedef struct {
    const char *name; /* may be NULL */
    vs_fluid_class class_;
    double density_g_per_ml;
    double nonvolatile_fraction; /* [1] of the liquid's mass that stays as droplets, 0 to 1 */
    double half_life_s;          /* evaporation alone; INFINITY for none */
    bool measured;               /* a grey Henyey-Greenstein haze, as measured */
    double extinction_m2_per_g;  /* measured */
    double g;                    /* measured */
    double settling_m_per_s;     /* measured; else computed from the droplets */
    vs_refractive_index index;   /* not measured: */
    double median_m;             /* count median diameter of a lognormal */
    double gsd;                  /* its geometric standard deviation, over 1 */
} vs_fluid;

/** What a gram of airborne droplets does. Owns its phase tables. */
typedef struct {
    vs_bands extinction_m2_per_g;
    vs_bands albedo; /* scattering over extinction [1] */
    vs_phase phase[VS_BAND_COUNT];
    double settling_m_per_s; /* mass-weighted */
    void *memory;            /* phase tables */
} vs_haze;

/** Optics of a fluid's droplets in the three bands.
 *  Errors: VS_ERR_DOMAIN for a fluid outside its ranges, VS_ERR_MEMORY, VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_haze_init(vs_haze *haze, const vs_fluid *fluid);
void vs_haze_free(vs_haze *haze);

/** Extinction of the three bands [1/m] where that at 549 nm is `extinction_per_m`. */
vs_bands vs_haze_bands_per_m(const vs_haze *haze, double extinction_per_m);

#ifdef __cplusplus
}
#endif
#endif
