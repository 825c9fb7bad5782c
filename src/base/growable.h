/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Growable arrays. */
#ifndef VEILSTOP_BASE_GROWABLE_H
#define VEILSTOP_BASE_GROWABLE_H

#include <stddef.h>

/* Makes room for one more item in a list of `count`; size: its capacity, 0 at first. Returns the
 * list, which may have moved; NULL if memory runs out, with the list left as it was. */
void *vs_growable_reserve(void *list, size_t count, size_t *size, size_t item_bytes);

/* The same for `more` items at once, 1 or over. */
void *vs_growable_reserve_many(void *list, size_t count, size_t more, size_t *size,
                               size_t item_bytes);

#endif
