/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory allocated block by block and freed all at once: a scene's arrays. */
#ifndef VEILSTOP_SCENE_ARENA_H
#define VEILSTOP_SCENE_ARENA_H

#include <stddef.h>

typedef struct vs_arena_block vs_arena_block;

typedef struct {
    vs_arena_block *last;
} vs_arena;

/* Zeroed memory for `count` things of `size` bytes, aligned for any of them; NULL when memory ran
 * out or there are none. */
void *vs_arena_new(vs_arena *arena, size_t count, size_t size);
void vs_arena_free(vs_arena *arena);

#endif
