/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ASC CDL 1.2: its arithmetic. */
#include "veilstop/camera/cdl.h"

#include <math.h>

vs_cdl vs_cdl_identity(void) {
    vs_cdl cdl = {vs_bands_grey(1), vs_bands_grey(0), vs_bands_grey(1), 1};
    return cdl;
}

static double clamp(double signal) {
    return signal < 0 ? 0 : signal > 1 ? 1 : signal;
}

vs_bands vs_cdl_apply(const vs_cdl *cdl, vs_bands in) {
    vs_bands sop, out;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        sop.v[b] = pow(clamp(in.v[b] * cdl->slope.v[b] + cdl->offset.v[b]), cdl->power.v[b]);
    }
    double luma = vs_bands_luminance(sop);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        out.v[b] = clamp(luma + cdl->saturation * (sop.v[b] - luma));
    }
    return out;
}
