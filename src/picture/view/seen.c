/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A table with open addresses (Knuth, The Art of Computer Programming 3, 6.4, algorithm L). */
#include "picture/view/seen.h"

#include <stdlib.h>
#include <string.h>

#define BYTES_MOST                                                                                 \
    (96u << 20) /* [bytes] of views; what comes later is worked out anew each time  \
                                */
#define FIRST_SIZE 1024
#define SPREAD     2654435769u /* 2^32 over the golden ratio: Knuth 6.4 */

static size_t place_of(const vs_seen *seen, uint32_t key) {
    size_t at = (size_t)((key + 1) * SPREAD) & (seen->size - 1);
    while (seen->item[at].key != 0 && seen->item[at].key != key + 1) {
        at = (at + 1) & (seen->size - 1);
    }
    return at;
}

static bool grow(vs_seen *seen) {
    vs_seen larger = {.size = seen->size ? 2 * seen->size : FIRST_SIZE};
    larger.item = calloc(larger.size, sizeof *larger.item);
    if (!larger.item) {
        return false;
    }
    for (size_t i = 0; i < seen->size; i++) {
        if (seen->item[i].key != 0) {
            larger.item[place_of(&larger, seen->item[i].key - 1)] = seen->item[i];
        }
    }
    free(seen->item);
    seen->item = larger.item;
    seen->size = larger.size;
    return true;
}

void vs_seen_free(vs_seen *seen) {
    for (size_t i = 0; i < seen->size; i++) {
        if (seen->item[i].key != 0) {
            vs_bounce_view_free(&seen->item[i].view);
        }
    }
    free(seen->item);
    memset(seen, 0, sizeof *seen);
}

vs_bounce_view *vs_seen_find(const vs_seen *seen, uint32_t key) {
    size_t at = seen->size ? place_of(seen, key) : 0;
    return seen->size && seen->item[at].key != 0 ? &seen->item[at].view : NULL;
}

bool vs_seen_keep(vs_seen *seen, uint32_t key, const vs_bounce_view *view) {
    size_t bytes = vs_bounce_view_bytes(view);
    if (seen->bytes + bytes > BYTES_MOST || (2 * seen->count >= seen->size && !grow(seen))) {
        return false;
    }
    vs_seen_item *item = &seen->item[place_of(seen, key)];
    item->key = key + 1;
    item->view = *view;
    seen->bytes += bytes;
    seen->count++;
    return true;
}
