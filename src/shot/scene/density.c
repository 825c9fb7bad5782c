/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside, density is always extinction; conversions from and to the other measures are here. */
#include "veilstop/shot/density.h"

#include <math.h>

#include "veilstop/base/units.h"
#include "veilstop/safety/detectors.h"

double vs_visible_range_m(double extinction_per_m) {
    return extinction_per_m > 0 ? VS_VISIBLE_NEPERS / extinction_per_m : (double)INFINITY;
}

double vs_density_extinction_per_m(const vs_scene_shot *shot, size_t room, const vs_haze *haze) {
    switch (shot->density) {
    case VS_DENSITY_EXTINCTION:
        return shot->room_density[room];
    case VS_DENSITY_MASS:
        return shot->room_density[room] * haze->extinction_m2_per_g.v[VS_BAND_GREEN];
    case VS_DENSITY_RANGE:
        return shot->room_density[room] > 0 ? VS_VISIBLE_NEPERS / shot->room_density[room] : 0;
    case VS_DENSITY_OPEN:
        break;
    }
    return NAN;
}

vs_density vs_density_of(double extinction_per_m, const vs_haze *haze) {
    double k = extinction_per_m;
    vs_density density = {
        .extinction_per_m = k,
        .bands_per_m = vs_haze_bands_per_m(haze, k),
        .mass_mg_per_m3 = VS_MG_PER_G * k / haze->extinction_m2_per_g.v[VS_BAND_GREEN],
        .visible_range_m = vs_visible_range_m(k),
        .optical_range_m = k > 0 ? VS_OPTICAL_NEPERS / k : (double)INFINITY,
        .stops_lost_per_10_m = 10 * k * VS_STOPS_PER_NEPER,
        .db_per_m = vs_obscuration_db_per_m(k),
        .percent_per_ft = vs_obscuration_percent(k, VS_M_PER_FT),
    };
    return density;
}
