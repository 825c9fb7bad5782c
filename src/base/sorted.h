/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Short lists kept in ascending order while they are built. */
#ifndef VEILSTOP_BASE_SORTED_H
#define VEILSTOP_BASE_SORTED_H

#include <stddef.h>
#include <string.h>

/* Makes room in an ascending list for an item with a key, behind those with an equal key, and
 * returns its address. The list must have room for one item more than `count`.
 *  item_bytes  of an item; each begins with its key, a double */
static inline void *vs_sorted_place(void *list, size_t count, size_t item_bytes, double key) {
    char *first = list, *place = first + count * item_bytes;
    while (place > first) {
        double before;
        memcpy(&before, place - item_bytes, sizeof before);
        if (!(before > key)) {
            break;
        }
        memcpy(place, place - item_bytes, item_bytes);
        place -= item_bytes;
    }
    return place;
}

/* The same for a list of numbers alone: inserts one. */
static inline void vs_sorted_insert(double *list, size_t count, double number) {
    double *place = vs_sorted_place(list, count, sizeof number, number);
    *place = number;
}

#endif
