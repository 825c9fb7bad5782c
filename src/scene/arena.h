/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory allocated block by block and freed all at once: a scene's arrays. */
#ifndef VEILSTOP_SCENE_ARENA_H
#define VEILSTOP_SCENE_ARENA_H

#include <stddef.h>

typedef struct vs_arena_block vs_arena_block;

typedef struct {
    vs_arena_block *last;
} vs_arena;

/* Zeroed memory for `count` items of `size` bytes, suitably aligned; NULL when memory runs out or
 * `count` is 0. */
void *vs_arena_new(vs_arena *arena, size_t count, size_t size);
void vs_arena_free(vs_arena *arena);

#endif
