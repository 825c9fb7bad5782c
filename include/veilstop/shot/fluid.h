/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fluid's droplets and their effect: the answer of the command `fluid`. Optics by optics/haze.h,
 * settling by air/settling.h. */
#ifndef VEILSTOP_SHOT_FLUID_H
#define VEILSTOP_SHOT_FLUID_H

#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/source.h"
#include "veilstop/base/status.h"
#include "veilstop/optics/haze.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The source of one figure of a fluid. Borrowed texts. */
typedef struct {
    const char *figure; /* the key in the file: "gsd" */
    vs_source_status status;
    const char *text;
} vs_fluid_source;

#define VS_FLUID_RANGE_M 100.0 /* [m] the visible range for which the mass is given */
#define VS_FLUID_SMALLER 0.5   /* [1] factor on the droplets' diameters: half */
#define VS_FLUID_LARGER  1.5   /* [1] half as large again */

/** A fluid's haze in figures. Owns its phase tables. */
typedef struct {
    const vs_fluid *fluid;              /* borrowed */
    double wavelength_m[VS_BAND_COUNT]; /* line_count of them */
    vs_haze_line line[VS_BAND_COUNT];
    size_t line_count;
    double extinction_m2_per_g; /* at 549 nm, whichever the lines */
    double mass_g_per_m3;       /* in the air, for a visible range of VS_FLUID_RANGE_M */
    double settling_m_per_s;
    /* Extinction per mass over the above with all diameters VS_FLUID_SMALLER or VS_FLUID_LARGER
     * times as large [1]; NaN for a measured fluid, and if that size is out of range. */
    double smaller_ratio, larger_ratio;
} vs_fluid_answer;

/** Answers for the three bands, or for one wavelength.
 *  answer        out; zeroed on error
 *  fluid         borrowed, must outlive the answer
 *  wavelength_m  [m] instead of the bands, within the range of vs_haze_line_init; NaN: the three
 *                bands
 *  Errors: those of vs_haze_line_init.   Checked: tests/unit/test_shot_fluid.c */
VS_WARN_UNUSED vs_status vs_fluid_answer_init(vs_fluid_answer *answer, const vs_fluid *fluid,
                                              double wavelength_m);
void vs_fluid_answer_free(vs_fluid_answer *answer);

#ifdef __cplusplus
}
#endif
#endif
