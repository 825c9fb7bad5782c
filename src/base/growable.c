/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See growable.h. Capacity doubles, so appending takes constant time on average.
 */
#include "base/growable.h"

#include <stdlib.h>
#include <string.h>

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

/* The pointer to a list's items, whatever its type. */
static char *items_of(vs_any_list list) {
    char *item;
    memcpy(&item, list.item, sizeof item);
    return item;
}

void *vs_list_add_many(vs_any_list list, size_t more) {
    char *item =
        vs_growable_reserve_many(items_of(list), *list.count, more, list.size, list.item_bytes);
    if (!item) {
        return NULL;
    }
    memcpy(list.item, &item, sizeof item);
    *list.count += more;
    return item + (*list.count - more) * list.item_bytes;
}

void vs_list_tighten(vs_any_list list) {
    size_t size = *list.count + 1; /* never none, which realloc may take for free */
    char *less = size < *list.size ? realloc(items_of(list), size * list.item_bytes) : NULL;
    if (less) {
        memcpy(list.item, &less, sizeof less);
        *list.size = size;
    }
}

void vs_list_free(vs_any_list list) {
    const char *none = NULL;
    free(items_of(list));
    memcpy(list.item, &none, sizeof none);
    *list.count = *list.size = 0;
}
