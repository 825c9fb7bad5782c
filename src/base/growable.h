/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arrays that grow. */
#ifndef VEILSTOP_BASE_GROWABLE_H
#define VEILSTOP_BASE_GROWABLE_H

#include <stddef.h>

/* A list of items of one type, with room for `size` of them; empty at first. */
#define VS_LIST(type)                                                                              \
    struct {                                                                                       \
        type *item;                                                                                \
        size_t count, size;                                                                        \
    }

/* A list, whatever its items are. */
typedef struct {
    void *item; /* where the pointer to them is */
    size_t *count, *size, item_bytes;
} vs_any_list;

#define VS_ANY_LIST(list)                                                                          \
    ((vs_any_list){(void *)&(list)->item, &(list)->count, &(list)->size, sizeof *(list)->item})

/* Adds `more` items, 1 or over, of no set value to a list's end, which may move it. Returns the first
 * of them; NULL if memory runs out, with the list left as it was. */
void *vs_list_add_many(vs_any_list list, size_t more);
#define VS_LIST_ADD(list) vs_list_add_many(VS_ANY_LIST(list), 1)

/* Cuts a list's memory to what it holds; leaves it as it is where that fails. */
void vs_list_tighten(vs_any_list list);
void vs_list_free(vs_any_list list);

/* Makes room for one more item in a list of `count`; size: its capacity, 0 at first. Returns the
 * list, which may have moved; NULL if memory runs out, with the list left as it was. */
void *vs_growable_reserve(void *list, size_t count, size_t *size, size_t item_bytes);

/* The same for `more` items at once, 1 or over. */
void *vs_growable_reserve_many(void *list, size_t count, size_t more, size_t *size,
                               size_t item_bytes);

#endif
