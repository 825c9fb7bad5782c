/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Setting numbers in the text of a scene file: everything else, spaces and notes included, stays
 * byte for byte as its author wrote it. */
#ifndef VEILSTOP_SCENE_EDIT_H
#define VEILSTOP_SCENE_EDIT_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** One number and its place. */
typedef struct {
    const char *pointer; /* JSON pointer (RFC 6901); the last key may be new, all before it exist */
    double value;        /* finite; written with six significant digits */
} vs_scene_edit;

/** Sets numbers in a JSON text.
 *  bytes   a text that vs_json_document_init accepts, borrowed
 *  edit    `count` of them, applied in order
 *  out     the new text; the caller frees it with free(); NULL on error
 *  An existing value is replaced; a missing key is added after its object's last member.
 *  Errors: VS_ERR_INPUT if a pointer leads nowhere, VS_ERR_DOMAIN, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_edit.c */
VS_WARN_UNUSED vs_status vs_scene_edit_numbers(const char *bytes, size_t length,
                                               const vs_scene_edit *edit, size_t count, char **out,
                                               size_t *out_length);

#ifdef __cplusplus
}
#endif
#endif
