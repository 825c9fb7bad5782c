/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See arrays.h. */
#include "base/arrays.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/vector.h"

#define LINE (LANES * sizeof(double)) /* [bytes] */

/* An array and what lies behind it. */
static size_t taken(const vs_array *array) {
    return (array->bytes + LINE - 1) / LINE * LINE + LINE;
}

void *vs_arrays_make(const vs_array *array, size_t count) {
    size_t bytes = LINE;
    for (size_t i = 0; i < count; i++) {
        bytes += taken(&array[i]);
    }
    char *block = calloc(bytes, 1);
    char *at = block ? block + (LINE - (uintptr_t)block % LINE) : NULL;
    for (size_t i = 0; i < count && block; i++) {
        memcpy(array[i].pointer, &at, sizeof at);
        at += taken(&array[i]);
    }
    return block;
}
