/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight samples of one segment of a line of sight stand side by side. */
#include "light/bounce/gather_lights.h"

#include "base/growable.h"

vs_gather_samples *vs_gather_add_samples(vs_gather_sample_list *list, size_t segment,
                                         size_t count) {
    vs_gather_samples *eight =
        vs_growable_reserve_many(list->eight, list->count, count, &list->size, sizeof *list->eight);
    if (!eight) {
        return NULL;
    }
    list->eight = eight;
    const vs_gather_samples blank = {.segment = (uint32_t)segment};
    for (size_t i = 0; i < count; i++) {
        eight[list->count + i] = blank;
    }
    list->count += count;
    return &eight[list->count - count];
}
