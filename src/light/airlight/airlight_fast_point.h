/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of point sources, many lines at a time. Private to src/light.
 * Intervals of lines are laid into lanes; eight of them become tasks in t = tan(v/2), v the
 * equiangular angle at the source; and eight tasks are integrated together, one per lane. */
#ifndef VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_POINT_H
#define VEILSTOP_LIGHT_AIRLIGHT_AIRLIGHT_FAST_POINT_H

#include "base/lanes.h"
#include "base/numerics/legendre_rules.h"
#include "light/airlight/airlight_fast_haze.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/shaft.h"

#define VS_FAST_TASK_MAX 160 /* tasks waiting; when full, none is halved any more */

/* The fields of a task. Optical depth at 549 nm, camera to droplet to source, is
 * DEPTH + PER_Q tan(scattering angle/2) + the crossings' change/cosine; a cosine between the way
 * from the source and a unit vector is across cos v + along sin v. */
enum {
    TASK_FROM,
    TASK_TO,
    TASK_DEPTH,
    TASK_PER_Q,
    TASK_SCALE,
    TASK_ACROSS, /* of the source's axis */
    TASK_ALONG,
    TASK_SIMPLE_FIELDS,
    TASK_C0_ACROSS = TASK_SIMPLE_FIELDS, /* photometry: of its c0 and c90 */
    TASK_C0_ALONG,
    TASK_C90_ACROSS,
    TASK_C90_ALONG,
    TASK_CROSSING, /* change, across and along of each crossing */
    TASK_FIELDS = TASK_CROSSING + 3 * VS_SHAFT_CROSSING_MAX
};

/* The point sources of one emitter and the lines they light. */
typedef struct {
    const vs_fast_haze *haze;
    const vs_emitter *emitter;
    vs_profile_kind profile;
    int crossed; /* most crossings of any task */
    const vs_legendre_rule *rule;
    double tail_max;    /* [1] of a line's integral in the two highest terms: nodes are enough */
    double apart_min_m; /* no line passes a source nearer than this */

    /* up to eight intervals waiting to become tasks */
    double offset_m[3][LANES]; /* line's start relative to the source */
    double direction[3][LANES];
    double from_m[LANES], to_m[LANES], extinction_per_m[LANES], depth[LANES], scale[LANES];
    vs_shaft_crossing crossing[LANES][VS_SHAFT_CROSSING_MAX];
    size_t crossing_count[LANES], interval_ray[LANES];
    int interval_count;

    double task[TASK_FIELDS][VS_FAST_TASK_MAX + 2 * LANES];
    size_t ray[VS_FAST_TASK_MAX + 2 * LANES];
    int level[VS_FAST_TASK_MAX + 2 * LANES];
    int task_count;

    double (*sum)[VS_FAST_BANDS]; /* out: one a ray */
} vs_fast_points;

/* Runs tasks as long as there are eight, or all of them. */
void vs_fast_points_run(vs_fast_points *points, bool all);

#endif
