/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order of shooting with the least waiting for haze. Waiting is the time before a shot when
 * nothing is filmed: the hazer's run, its warm-up, mixing, thinning out, purging. */
#ifndef VEILSTOP_SHOT_ORDER_H
#define VEILSTOP_SHOT_ORDER_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/optics/haze.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_ORDER_EXACT_MAX 7   /* shots up to which every order is judged by whole plans */
#define VS_ORDER_TABLE_MAX 12  /* shots up to which every order is judged by a table of waits */
#define VS_ORDER_EQUAL_S   1.0 /* [s] orders within this are equally good; our choice */
/* [1] of the waiting: the largest excess of a searched order over the least, on random days of 7
 * shots; docs/physics.md */
#define VS_ORDER_GAP       0.03
#define VS_ORDER_SHOTS_MAX 128 /* most shots that can be ordered */

/** Waiting times from each shot to each other. Owns its arrays. */
typedef struct {
    size_t count;
    double *first_s;   /* count: from clear rooms at minute 0 */
    double *between_s; /* count x count: [i * count + j] from the end of i to the start of j */
} vs_waits;

/** Calculates the waits from the rooms' actual filling and decay.
 *  extinction_per_m  one per shot, in its camera's room; NULL: the shots' own
 *  culprit           out, the shot that prevents it, as for vs_dwell_plan
 *  Errors: those of vs_dwell_plan, and VS_ERR_DOMAIN for over VS_ORDER_SHOTS_MAX shots.
 *  Method: each shot is reached from clear rooms and held steady (by the constant output that ends
 *  it at its density); from that state each other shot is reached, by the rules of shot/dwell.h.
 *  With more than VS_ORDER_TABLE_MAX shots, those in one room within 5 % of each other's density
 *  count as equal.
 *  Leaves out: haze that earlier shots left in other rooms, the bursts of a
 *  hold. */
VS_WARN_UNUSED vs_status vs_waits_init(vs_waits *waits, const vs_scene *scene, const vs_haze *haze,
                                       const double *extinction_per_m, size_t *culprit);
void vs_waits_free(vs_waits *waits);

/** Total waiting of an order [s]. */
double vs_waits_total_s(const vs_waits *waits, const size_t *order);

/** The order with the least total waiting that keeps each shot after those of its `after`; among
 *  equals (within 1 s) the order of the file.
 *  shot   as many as the waits
 *  order  out, indices
 *  exact  out: it is the least of all orders
 *  Errors: VS_ERR_INPUT if `after` is circular, VS_ERR_MEMORY.
 *  Method: up to VS_ORDER_TABLE_MAX
 *  shots dynamic programming over subsets (Held & Karp 1962, J. SIAM 10, 196); beyond, runs of
 *  shots are moved until no move helps (Or 1976).
 *  Checked: tests/unit/test_order.c against every order of 8 shots. */
VS_WARN_UNUSED vs_status vs_order_least(const vs_waits *waits, const vs_scene_shot *shot,
                                        size_t *order, bool *exact);

/** The order of a day. Owns its array. */
typedef struct {
    size_t *shot; /* indices of the scene's shots */
    size_t count;
    bool exact;         /* no order waits less, within VS_ORDER_EQUAL_S */
    double file_wait_s; /* of the file's order, by the whole plan of the day */
    double wait_s;      /* of this order, likewise */
    size_t culprit;     /* as for vs_dwell_plan */
} vs_order;

/** Finds the order with the least waiting, judged by whole plans of the day (shot/dwell.h); among
 *  those with equal waits (within VS_ORDER_EQUAL_S) the file's, if it respects every `after`.
 *  all_up_to  shots up to which every order is tried: VS_ORDER_EXACT_MAX, or fewer to test the
 *             search used for many
 *  Method: up to all_up_to shots every order, by branch and bound: a beginning that already waits
 *  as long as the best whole day is dropped. Beyond that, orders are built shot by shot, keeping
 *  the most promising beginnings (by waiting so far and, from the table of waits, still to come),
 *  and the best is improved by moving runs of up to three shots. `exact` only if every order was
 *  tried.
 *  Errors: those of vs_waits_init and vs_order_least.
 *  Checked: tests/unit/test_order.c, against all permutations planned whole. */
VS_WARN_UNUSED vs_status vs_order_day(const vs_scene *scene, const vs_haze *haze,
                                      const double *extinction_per_m, size_t all_up_to,
                                      vs_order *order);
/** The order of the file with each shot moved after those of its `after`, for when waits cannot be
 *  calculated: both waits are NaN.
 *  Errors: VS_ERR_INPUT if `after` is circular, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_order_filed(const vs_scene *scene, vs_order *order);
void vs_order_free(vs_order *order);

#ifdef __cplusplus
}
#endif
#endif
