/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arrays that live and die together, in one block of memory. */
#ifndef VEILSTOP_BASE_ARRAYS_H
#define VEILSTOP_BASE_ARRAYS_H

#include <stddef.h>

/* One of them: where its pointer is, and its size. */
typedef struct {
    void *pointer;
    size_t bytes;
} vs_array;

#define VS_ARRAY(pointer, count)                                                                   \
    { (void *)&(pointer), (size_t)(count) * sizeof *(pointer) }

/* Points each pointer at so many zeros, whole lanes apart, with at least as much behind them as a
 * loop over whole lanes may read. Returns the block that holds them all, to be freed by the caller;
 * NULL if memory runs out, with the pointers left as they were. */
void *vs_arrays_make(const vs_array *array, size_t count);

#endif
