/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which shot may follow in an order of the day, and moving runs of shots. */
#ifndef VEILSTOP_SHOT_ORDER_ORDER_MOVES_H
#define VEILSTOP_SHOT_ORDER_ORDER_MOVES_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/shot/scene.h"

/* Whether the shots already placed allow this one. */
bool vs_order_may_follow(const vs_scene_shot *shot, size_t next, const bool *placed);

bool vs_order_keeps_after(const vs_scene_shot *shot, const size_t *order, size_t count,
                          bool *placed);

/* Moves a run of shots to another place of an order; `to` counts places without the run. */
void vs_order_move_run(const size_t *order, size_t count, size_t from, size_t length, size_t to,
                       size_t *moved);

#endif
