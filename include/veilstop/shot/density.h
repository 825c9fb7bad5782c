/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The density of a shot's haze, in all units.
 * Sources: Koschmieder's relation with the thresholds of the AMS Glossary (2 %) and WMO-No. 8 (5
 * %). */
#ifndef VEILSTOP_SHOT_DENSITY_H
#define VEILSTOP_SHOT_DENSITY_H

#include <stddef.h>

#include "veilstop/optics/haze.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_VISIBLE_NEPERS 3.912 /* [1] -ln 0.02: visible range x extinction; AMS Glossary */
#define VS_OPTICAL_NEPERS 2.996 /* [1] -ln 0.05: optical range x extinction; WMO-No. 8 */

/** How far a dark thing is seen [m]; INFINITY in clear air. */
double vs_visible_range_m(double extinction_per_m);

/** Extinction at 549 nm that a shot gives a room [1/m]; NaN if its density is open. */
double vs_density_extinction_per_m(const vs_scene_shot *shot, size_t room, const vs_haze *haze);

/** One density, in every unit. Ranges are INFINITY in clear air. */
typedef struct {
    double extinction_per_m; /* at 549 nm */
    vs_bands bands_per_m;
    double mass_mg_per_m3;
    double visible_range_m, optical_range_m;
    double stops_lost_per_10_m;
    double db_per_m;
    double percent_per_ft;
} vs_density;

vs_density vs_density_of(double extinction_per_m, const vs_haze *haze);

#ifdef __cplusplus
}
#endif
#endif
