/* SPDX-License-Identifier: GPL-3.0-or-later */
/* --write: the scene's own text with figures set in it. */
#ifndef VEILSTOP_ASK_SCENE_WRITE_H
#define VEILSTOP_ASK_SCENE_WRITE_H

#include "ask/scene_args.h"
#include "veilstop/scene/edit.h"

#define VS_ASK_POINTER_SIZE 64 /* [bytes] of a JSON pointer to a figure set */

/* A list of figures to be set. */
typedef struct {
    vs_scene_edit *edit;
    char (*pointer)[VS_ASK_POINTER_SIZE];
    size_t count, size;
} vs_ask_edits;

/* Space for `size` of them; false when memory runs out. */
bool vs_ask_edits_init(vs_ask_edits *edits, size_t size);
void vs_ask_edits_free(vs_ask_edits *edits);
/* Adds one; there must be space. */
void vs_ask_edits_add(vs_ask_edits *edits, double value, const char *pointer, ...)
    __attribute__((format(printf, 3, 4)));

/* Sets figures in the scene's file and writes that where --write says, if it still is a scene.
 * what  the new scene in messages: "the fitted scene" */
vs_exit vs_ask_scene_write(const vs_ask_args *args, const vs_ask_scene *scene,
                           const vs_scene_edit *edit, size_t count, const char *what);

#endif
