/* What a gram of a fluid's droplets does to light, band by band.
 * Sources: the header. */
#include "veilstop/optics/haze.h"

#include <math.h>
#include <stdlib.h>

static void clear(vs_haze *haze) {
    haze->extinction_m2_per_g = vs_bands_grey(NAN);
    haze->albedo = vs_bands_grey(NAN);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        haze->phase[band] = vs_phase_henyey_greenstein(NAN);
    }
    haze->memory = NULL;
}

static vs_status init_measured(vs_haze *haze, const vs_fluid *fluid) {
    double extinction = fluid->extinction_m2_per_g;
    if (!(extinction > 0 && isfinite(extinction)) || !(fabs(fluid->g) < 1)) {
        return VS_ERR_DOMAIN;
    }
    haze->extinction_m2_per_g = vs_bands_grey(extinction);
    haze->albedo = vs_bands_grey(1);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        haze->phase[band] = vs_phase_henyey_greenstein(fluid->g);
    }
    return VS_OK;
}

vs_status vs_haze_init(vs_haze *haze, const vs_fluid *fluid) {
    clear(haze);
    return fluid->measured ? init_measured(haze, fluid) : VS_ERR_DOMAIN;
}

void vs_haze_free(vs_haze *haze) {
    free(haze->memory);
    haze->memory = NULL;
}

vs_bands vs_haze_bands_per_m(const vs_haze *haze, double extinction_per_m) {
    double per_green = extinction_per_m / haze->extinction_m2_per_g.v[VS_BAND_GREEN];
    return vs_bands_scale(haze->extinction_m2_per_g, per_green);
}
