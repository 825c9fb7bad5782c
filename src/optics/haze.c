/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Optics of a gram of a fluid's droplets, band by band.
 * Sources: the header. */
#include "veilstop/optics/haze.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/lognormal.h"
#include "veilstop/base/units.h"
#include "veilstop/optics/ensemble.h"

#define KG_PER_M3_PER_G_PER_ML 1000.0 /* [kg/m3 per g/ml] */

static const double band_m[VS_BAND_COUNT] = {
    VS_BAND_RED_NM * VS_M_PER_NM, VS_BAND_GREEN_NM *VS_M_PER_NM, VS_BAND_BLUE_NM *VS_M_PER_NM};

static bool within(double value, double low, double high) {
    return value >= low && value <= high;
}

static bool is_measured_right(const vs_fluid *f) {
    return f->extinction_m2_per_g > 0 && isfinite(f->extinction_m2_per_g) && fabs(f->g) < 1;
}

static bool are_droplets_right(const vs_fluid *f, double n) {
    double mass_median_m = vs_lognormal_diameter(f->median_m, f->gsd, VS_LOGNORMAL_MASS_MEDIAN);
    return n > VS_FLUID_INDEX_MIN && n <= VS_FLUID_INDEX_MAX && f->density_g_per_ml > 0 &&
           f->density_g_per_ml <= VS_FLUID_DENSITY_MAX && f->median_m >= VS_FLUID_MEDIAN_MIN_M &&
           within(f->gsd, VS_FLUID_GSD_MIN, VS_FLUID_GSD_MAX) &&
           within(mass_median_m, VS_FLUID_MASS_MEDIAN_MIN_M, VS_FLUID_MASS_MEDIAN_MAX_M);
}

/* The droplets of a fluid given by size and index, in light of one wavelength. */
static vs_status droplets_of(const vs_fluid *fluid, double wavelength_m, vs_droplets *droplets) {
    double n = vs_index_real_at(&fluid->index, wavelength_m);
    if (!are_droplets_right(fluid, n)) {
        return VS_ERR_DOMAIN;
    }
    vs_droplets d = {
        .sizes = {.kind = VS_SIZES_LOGNORMAL, .median_m = fluid->median_m, .gsd = fluid->gsd},
        .n = n,
        .k = fluid->index.k,
        .density_kg_per_m3 = fluid->density_g_per_ml * KG_PER_M3_PER_G_PER_ML,
        .wavelength_m = wavelength_m,
        .quick = true};
    *droplets = d;
    return VS_OK;
}

static void line_clear(vs_haze_line *line) {
    line->extinction_m2_per_g = line->albedo = NAN;
    line->phase = vs_phase_henyey_greenstein(NAN);
    line->memory = NULL;
}

static vs_status line_init_measured(vs_haze_line *line, const vs_fluid *fluid) {
    if (!is_measured_right(fluid)) {
        return VS_ERR_DOMAIN;
    }
    line->extinction_m2_per_g = fluid->extinction_m2_per_g;
    line->albedo = 1;
    line->phase = vs_phase_henyey_greenstein(fluid->g);
    return VS_OK;
}

vs_status vs_haze_line_init(vs_haze_line *line, const vs_fluid *fluid, double wavelength_m) {
    line_clear(line);
    if (fluid->measured) {
        return line_init_measured(line, fluid);
    }
    vs_droplets droplets;
    vs_ensemble ensemble;
    vs_status status = droplets_of(fluid, wavelength_m, &droplets);
    if (status == VS_OK) {
        status = vs_ensemble_init(&ensemble, &droplets);
    }
    if (status != VS_OK) {
        return status;
    }
    line->extinction_m2_per_g = ensemble.extinction_m2_per_g;
    line->albedo = ensemble.albedo;
    line->memory = ensemble.phase_per_sr;
    vs_phase phase = {VS_PHASE_TABLE, ensemble.g, ensemble.phase_per_sr, ensemble.phase_count};
    line->phase = phase;
    ensemble.phase_per_sr = NULL; /* now owned by the line */
    vs_ensemble_free(&ensemble);
    return VS_OK;
}

void vs_haze_line_free(vs_haze_line *line) {
    free(line->memory);
    line_clear(line);
}

vs_status vs_haze_extinction_at(const vs_fluid *fluid, double wavelength_m,
                                double *extinction_m2_per_g) {
    *extinction_m2_per_g = NAN;
    if (fluid->measured) {
        if (!is_measured_right(fluid)) {
            return VS_ERR_DOMAIN;
        }
        *extinction_m2_per_g = fluid->extinction_m2_per_g;
        return VS_OK;
    }
    vs_droplets droplets;
    vs_ensemble ensemble;
    vs_status status = droplets_of(fluid, wavelength_m, &droplets);
    if (status == VS_OK) {
        status = vs_ensemble_sums(&ensemble, &droplets);
    }
    if (status == VS_OK) {
        *extinction_m2_per_g = ensemble.extinction_m2_per_g;
    }
    return status;
}

/* A haze is three lines, one per band, kept in its memory. */
static void haze_clear(vs_haze *haze) {
    haze->extinction_m2_per_g = vs_bands_grey(NAN);
    haze->albedo = vs_bands_grey(NAN);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        haze->phase[band] = vs_phase_henyey_greenstein(NAN);
    }
    haze->memory = NULL;
}

vs_status vs_haze_init(vs_haze *haze, const vs_fluid *fluid) {
    haze_clear(haze);
    vs_haze_line *line = calloc(VS_BAND_COUNT, sizeof *line);
    if (!line) {
        return VS_ERR_MEMORY;
    }
    haze->memory = line;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        vs_status status = vs_haze_line_init(&line[band], fluid, band_m[band]);
        if (status != VS_OK) {
            vs_haze_free(haze);
            return status;
        }
        haze->extinction_m2_per_g.v[band] = line[band].extinction_m2_per_g;
        haze->albedo.v[band] = line[band].albedo;
        haze->phase[band] = line[band].phase;
    }
    return VS_OK;
}

void vs_haze_free(vs_haze *haze) {
    vs_haze_line *line = haze->memory;
    for (int band = 0; line && band < VS_BAND_COUNT; band++) {
        vs_haze_line_free(&line[band]);
    }
    free(line);
    haze_clear(haze);
}

vs_bands vs_haze_bands_per_m(const vs_haze *haze, double extinction_per_m) {
    /* k_band = k_549 (m2/g)_band / (m2/g)_549: the mass is the same in all bands */
    double per_green = extinction_per_m / haze->extinction_m2_per_g.v[VS_BAND_GREEN];
    return vs_bands_scale(haze->extinction_m2_per_g, per_green);
}
