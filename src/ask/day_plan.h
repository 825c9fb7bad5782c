/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's plan for the hazer, shared by `dwell`, `cautions` and `sheet`, and its peaks, for the
 * cautions under every answer. */
#ifndef VEILSTOP_ASK_DAY_PLAN_H
#define VEILSTOP_ASK_DAY_PLAN_H

#include "ask/scene_args.h"
#include "veilstop/shot/day.h"
#include "veilstop/shot/dwell.h"

/* Reads --order: whether shots are taken in the order that choose gives, not the file's. */
#define VS_ASK_ORDER                                                                               \
    { "order", "file|chosen", "the shots as the file has them, or as choose orders them" }
vs_exit vs_ask_order(const vs_ask_args *args, bool *chosen);

/* Plans the scene's day, its open densities chosen, in that order; anything but VS_EXIT_DONE comes
 * after a message, with nothing to free. */
vs_exit vs_ask_day_plan(const vs_ask_scene *scene, const vs_haze *haze, bool chosen,
                        vs_dwell *dwell);

/* Reports what prevents a plan, at its place in the file. culprit: the shot, or VS_NONE */
vs_exit vs_ask_fail_plan(const vs_ask_scene *scene, vs_status status, size_t culprit);

/* Each room's thickest haze of the day, for the cautions at the end of every answer. */
typedef struct {
    double room_extinction_per_m[VS_ROOMS_MAX];
    vs_cautions_basis basis;
} vs_ask_peaks;

/* Finds them: the peaks of the day's plan, in the file's order; if there is no plan, the shots'
 * densities; if a shot has none, those the answer shows.
 * planned_per_m  one per shot, in its camera's room; NULL or NaN: the shot's own
 * shown_per_m    one per room: the thickest that the answer shows
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_ask_day_peaks(const vs_scene *scene, const vs_haze *haze,
                                          const double *planned_per_m, const double *shown_per_m,
                                          vs_ask_peaks *peaks);
/* The same for densities only the answer has. */
vs_ask_peaks vs_ask_shown_peaks(const vs_scene *scene, const double *shown_per_m);
/* Those of a plan. */
vs_ask_peaks vs_ask_plan_peaks(const vs_dwell *dwell);

static inline vs_cautions_peaks vs_ask_peaks_of(const vs_ask_peaks *peaks) {
    vs_cautions_peaks of = {peaks->room_extinction_per_m, peaks->basis};
    return of;
}

#endif
