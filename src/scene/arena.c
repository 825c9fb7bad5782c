/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory allocated block by block and freed all at once. Each block is separate:
 * a scene has few arrays, and the sanitizers see each one's bounds. */
#include "scene/arena.h"

#include <stdint.h>
#include <stdlib.h>

struct vs_arena_block {
    vs_arena_block *before;
    max_align_t memory[];
};

void *vs_arena_new(vs_arena *arena, size_t count, size_t size) {
    if (count == 0 || size == 0 || count > (SIZE_MAX - sizeof(vs_arena_block)) / size) {
        return NULL;
    }
    vs_arena_block *block = calloc(1, sizeof *block + count * size);
    if (!block) {
        return NULL;
    }
    block->before = arena->last;
    arena->last = block;
    return block->memory;
}

void vs_arena_free(vs_arena *arena) {
    while (arena->last) {
        vs_arena_block *before = arena->last->before;
        free(arena->last);
        arena->last = before;
    }
}
