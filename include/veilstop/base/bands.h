/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The three bands in which light is calculated, and their luminance.
 * Source: ITU-R BT.709-6 item 3.2 (luma coefficients); wavelengths are the dominant wavelengths of
 * its primaries. */
#ifndef VEILSTOP_BASE_BANDS_H
#define VEILSTOP_BASE_BANDS_H

#include <math.h>
#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

#define VS_BAND_COUNT 3 /* R, G, B */
enum { VS_BAND_RED, VS_BAND_GREEN, VS_BAND_BLUE };

#define VS_BAND_RED_NM   611.0 /* [nm] dominant wavelength of the BT.709 red primary */
#define VS_BAND_GREEN_NM 549.0 /* [nm] green; also the reference wavelength of `extinction` */
#define VS_BAND_BLUE_NM  464.0 /* [nm] blue */

#define VS_LUMA_RED   0.2126 /* [1] BT.709-6 */
#define VS_LUMA_GREEN 0.7152 /* [1] BT.709-6 */
#define VS_LUMA_BLUE  0.0722 /* [1] BT.709-6 */

/** One value per band, in the order red, green, blue; the unit is that of the quantity. */
typedef struct {
    double v[VS_BAND_COUNT];
} vs_bands;

static inline vs_bands vs_bands_grey(double value) {
    vs_bands grey = {{value, value, value}};
    return grey;
}

/** The luminance of three bands: 0.2126 R + 0.7152 G + 0.0722 B. */
static inline double vs_bands_luminance(vs_bands a) {
    return VS_LUMA_RED * a.v[0] + VS_LUMA_GREEN * a.v[1] + VS_LUMA_BLUE * a.v[2];
}

static inline vs_bands vs_bands_add(vs_bands a, vs_bands b) {
    vs_bands sum = {{a.v[0] + b.v[0], a.v[1] + b.v[1], a.v[2] + b.v[2]}};
    return sum;
}

static inline vs_bands vs_bands_mul(vs_bands a, vs_bands b) {
    vs_bands product = {{a.v[0] * b.v[0], a.v[1] * b.v[1], a.v[2] * b.v[2]}};
    return product;
}

static inline vs_bands vs_bands_scale(vs_bands a, double factor) {
    vs_bands scaled = {{a.v[0] * factor, a.v[1] * factor, a.v[2] * factor}};
    return scaled;
}

/** Whether no band has changed by more than this share of its value; false on NaN. */
static inline bool vs_bands_converged(vs_bands before, vs_bands now, double relative) {
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        if (!(fabs(now.v[band] - before.v[band]) <= relative * now.v[band])) {
            return false;
        }
    }
    return true;
}

#ifdef __cplusplus
}
#endif
#endif
