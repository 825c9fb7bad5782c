/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See growable.h. Rooms double, so that all moves together cost about as much as the list is long.
 */
#include "base/growable.h"

#include <stdlib.h>

#define FIRST_ITEMS 1024 /* our choice: most lists of a location fit or double a few times */

void *vs_growable_reserve(void *list, size_t count, size_t *size, size_t item_bytes) {
    if (count < *size) {
        return list;
    }
    size_t larger = *size > 0 ? 2 * *size : FIRST_ITEMS;
    void *more = realloc(list, larger * item_bytes);
    *size = more ? larger : *size;
    return more;
}
