/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The refractive index at a wavelength. Sources: the header. */
#include "veilstop/optics/index.h"

#include <math.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/units.h"

#define UM_PER_M 1e6 /* [um/m] */

/* The straight line through (x0, y0) and (x1, y1), at x. */
static double line(double x, double x0, double y0, double x1, double y1) {
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
}

static double between_bands(const double *n, double wavelength_m) {
    double nm = fmin(fmax(wavelength_m / VS_M_PER_NM, VS_BAND_BLUE_NM), VS_BAND_RED_NM);
    return nm >= VS_BAND_GREEN_NM
               ? line(nm, VS_BAND_GREEN_NM, n[VS_BAND_GREEN], VS_BAND_RED_NM, n[VS_BAND_RED])
               : line(nm, VS_BAND_BLUE_NM, n[VS_BAND_BLUE], VS_BAND_GREEN_NM, n[VS_BAND_GREEN]);
}

double vs_index_real_at(const vs_refractive_index *index, double wavelength_m) {
    if (!(wavelength_m >= VS_WAVELENGTH_MIN_M && wavelength_m <= VS_WAVELENGTH_MAX_M)) {
        return NAN;
    }
    double per_um2 = 1 / pow(wavelength_m * UM_PER_M, 2);
    switch (index->kind) {
    case VS_INDEX_CONSTANT:
        return index->n[0];
    case VS_INDEX_BANDS:
        return between_bands(index->n, wavelength_m);
    case VS_INDEX_CAUCHY:
        /* n = A + B/L^2 + C/L^4 (Cauchy; Born & Wolf 1999, 2.3.4), L in um */
        return index->n[0] + (index->n[1] + index->n[2] * per_um2) * per_um2;
    }
    return NAN;
}
