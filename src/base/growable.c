/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See growable.h. Capacity doubles, so appending takes constant time on average.
 */
#include "base/growable.h"

#include <stdlib.h>

#define FIRST_BYTES 1024 /* our choice: most short lists fit */

void *vs_growable_reserve_many(void *list, size_t count, size_t more, size_t *size,
                               size_t item_bytes) {
    if (more <= *size - count) {
        return list;
    }
    size_t larger = *size > 0 ? 2 * *size : FIRST_BYTES / item_bytes + 1;
    while (larger < count + more) {
        larger *= 2;
    }
    void *moved = realloc(list, larger * item_bytes);
    *size = moved ? larger : *size;
    return moved;
}

void *vs_growable_reserve(void *list, size_t count, size_t *size, size_t item_bytes) {
    return vs_growable_reserve_many(list, count, 1, size, item_bytes);
}
