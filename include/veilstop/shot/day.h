/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The density of the haze in each room over the day, for the cautions: from the day's plan or, if
 * the scene has no hazer, from its shots' densities. */
#ifndef VEILSTOP_SHOT_DAY_H
#define VEILSTOP_SHOT_DAY_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/safety/day_curve.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Owns its arrays. Extinctions at 549 nm. */
typedef struct {
    size_t room_count, sample_count, sample_size;
    double *at_s;
    double *extinction_per_m; /* sample_size values for each room, then for the thickest */
    double end_s;             /* of the last shot */
    bool planned;             /* from a plan for the hazer; else from the shots' own densities */
    double clear_extinction_per_m, longest_sight_m; /* planned */
    double clear_s, clear_closed_s; /* planned: from the last cut; NaN: not within 7 days */
    bool purged;                    /* planned: whether the clearing purges */
    const vs_dwell *plan;           /* borrowed; NULL without one */
} vs_day;

/** The day of a plan: its curve, with each room's peak added if it falls between samples.
 *  dwell  borrowed, must outlive the day
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_day_from_plan(vs_day *day, const vs_dwell *dwell);

/** The day of a scene without a plan: each shot's density is in the rooms (held.h) for as long as
 *  the shot lasts, one shot after another; then the air is clear.
 *  extinction_per_m  one per shot, in its camera's room; NULL or NaN: the shot's own
 *  culprit           out: the shot without a density, on VS_ERR_INPUT
 *  Errors: VS_ERR_INPUT, VS_ERR_DOMAIN, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_day_from_shots(vs_day *day, const vs_scene *scene, const vs_haze *haze,
                                           const double *extinction_per_m, size_t *culprit);

void vs_day_free(vs_day *day);

/** The curve of a room [1/m]; room_count: at each moment the thickest room's. If a plan's rooms do
 *  not clear, the air stays as it is at the end. */
vs_day_curve vs_day_curve_of(const vs_day *day, size_t room);

/** When a room's haze first reaches an extinction [s]; NaN: never. For a plan the root of the
 *  rooms' own curve (vs_dwell_first_at_s), otherwise of the curve above. */
double vs_day_reaches_s(const vs_day *day, size_t room, double extinction_per_m);

#ifdef __cplusplus
}
#endif
#endif
