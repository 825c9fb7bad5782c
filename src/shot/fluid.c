/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of a fluid, collected. Sources: those of the functions called. */
#include "veilstop/shot/fluid.h"

#include <math.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/dwell.h"

static const double green_m = VS_BAND_GREEN_NM * VS_M_PER_NM;

static vs_status add_line(vs_fluid_answer *answer, double wavelength_m) {
    size_t i = answer->line_count;
    vs_status status = vs_haze_line_init(&answer->line[i], answer->fluid, wavelength_m);
    if (status == VS_OK) {
        answer->wavelength_m[i] = wavelength_m;
        answer->line_count++;
    }
    return status;
}

static vs_status add_lines(vs_fluid_answer *answer, double wavelength_m) {
    static const double band_nm[] = {VS_BAND_RED_NM, VS_BAND_GREEN_NM, VS_BAND_BLUE_NM};
    if (!isnan(wavelength_m)) {
        return add_line(answer, wavelength_m);
    }
    vs_status status = VS_OK;
    for (int band = 0; band < VS_BAND_COUNT && status == VS_OK; band++) {
        status = add_line(answer, band_nm[band] * VS_M_PER_NM);
    }
    return status;
}

/* Extinction at 549 nm with droplets of another size, relative to the answer's own; NaN for a size
 * out of range. */
static vs_status resized_ratio(const vs_fluid_answer *answer, double size, double *ratio) {
    vs_fluid other = *answer->fluid;
    *ratio = NAN;
    if (other.measured) {
        return VS_OK;
    }
    other.median_m *= size;
    double extinction_m2_per_g;
    vs_status status = vs_haze_extinction_at(&other, green_m, &extinction_m2_per_g);
    if (status == VS_OK) {
        *ratio = extinction_m2_per_g / answer->extinction_m2_per_g;
    }
    return status == VS_ERR_DOMAIN ? VS_OK : status;
}

static vs_status fill(vs_fluid_answer *answer, double wavelength_m) {
    vs_status status = vs_haze_extinction_at(answer->fluid, green_m, &answer->extinction_m2_per_g);
    if (status == VS_OK) {
        status = add_lines(answer, wavelength_m);
    }
    if (status == VS_OK) {
        status = resized_ratio(answer, VS_FLUID_SMALLER, &answer->smaller_ratio);
    }
    if (status == VS_OK) {
        status = resized_ratio(answer, VS_FLUID_LARGER, &answer->larger_ratio);
    }
    answer->mass_g_per_m3 = VS_VISIBLE_NEPERS / VS_FLUID_RANGE_M / answer->extinction_m2_per_g;
    answer->settling_m_per_s = vs_dwell_settling_m_per_s(answer->fluid);
    return status;
}

vs_status vs_fluid_answer_init(vs_fluid_answer *answer, const vs_fluid *fluid,
                               double wavelength_m) {
    memset(answer, 0, sizeof *answer);
    answer->fluid = fluid;
    vs_status status = fill(answer, wavelength_m);
    if (status != VS_OK) {
        vs_fluid_answer_free(answer);
    }
    return status;
}

void vs_fluid_answer_free(vs_fluid_answer *answer) {
    for (size_t i = 0; i < answer->line_count; i++) {
        vs_haze_line_free(&answer->line[i]);
    }
    memset(answer, 0, sizeof *answer);
}
