/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the order: orders judged by whole plans of the day. */
#ifndef VEILSTOP_SHOT_ORDER_ORDER_SEARCH_H
#define VEILSTOP_SHOT_ORDER_ORDER_SEARCH_H

#include "shot/day/dwell_plan.h"
#include "veilstop/shot/order.h"

/* The state of the day before a place of an order. */
typedef struct {
    double *state; /* of the rooms */
    double now_s, ready_s;
    double wait_s; /* so far */
} vs_order_place;

/* A day rehearsed in many orders. Owns its contents. */
typedef struct {
    vs_dwell_planner planner;
    vs_dwell dwell; /* its shots by their index in the scene */
    size_t count;
    vs_order_place *place; /* count + 1 */
    double *states;
    bool *placed;
    size_t *trial; /* the order being tried */
    size_t *best;
    double best_s;  /* waiting of the best: INFINITY if there is none yet */
    size_t planned; /* shots planned so far, for a limit on the work */
} vs_order_search;

/* Errors and culprit as for vs_dwell_plan; free it in any case. */
vs_status vs_order_search_init(vs_order_search *s, const vs_scene *scene, const vs_haze *haze,
                               const double *extinction_per_m, size_t *culprit);
void vs_order_search_free(vs_order_search *s);

/* Plans the order `trial` from a place where the day is known, and takes it if it is better. Gives
 * up, with `done` false, once it cannot become better. */
vs_status vs_order_weigh(vs_order_search *s, size_t from, bool *done);

/* Weighs every order that could beat the best so far. */
vs_status vs_order_weigh_all(vs_order_search *s);

/* Orders built shot by shot, the most promising kept; then runs of shots moved. */
vs_status vs_order_search_beam(vs_order_search *s, const vs_waits *waits);

#endif
