/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See order_moves.h. */
#include "shot/order/order_moves.h"

#include <stdint.h>
#include <string.h>

/* Whether the shots already placed allow this one. */
bool vs_order_may_follow(const vs_scene_shot *shot, size_t next, const bool *placed) {
    for (size_t i = 0; i < shot[next].after_count; i++) {
        if (!placed[shot[next].after[i]]) {
            return false;
        }
    }
    return true;
}

bool vs_order_keeps_after(const vs_scene_shot *shot, const size_t *order, size_t count,
                          bool *placed) {
    memset(placed, 0, count * sizeof *placed);
    for (size_t i = 0; i < count; i++) {
        if (!vs_order_may_follow(shot, order[i], placed)) {
            return false;
        }
        placed[order[i]] = true;
    }
    return true;
}

void vs_order_move_run(const size_t *order, size_t count, size_t from, size_t length, size_t to,
                       size_t *moved) {
    size_t k = 0;
    for (size_t i = 0, rest = 0; k < count; i++) {
        if (rest == to) {
            memcpy(moved + k, order + from, length * sizeof *moved);
            k += length;
            rest = SIZE_MAX;
        }
        if (i < count && (i < from || i >= from + length)) {
            moved[k++] = order[i];
            rest += rest != SIZE_MAX;
        }
    }
}
