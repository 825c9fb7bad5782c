/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The grammar of RFC 8259 and valid UTF-8 (RFC 3629), checked byte by byte before parsing. */
#ifndef VEILSTOP_SCENE_JSON_JSON_SCAN_H
#define VEILSTOP_SCENE_JSON_JSON_SCAN_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"

/* Whether a text is one JSON value within the limits of json.h; if not, one fault with line and
 * column (counted in characters from 1). */
bool vs_json_scan(const char *bytes, size_t length, vs_faults *faults);

/* One reference token of a JSON pointer (RFC 6901), with ~1 as / and ~0 as ~; *pointer begins at
 * the slash before it and is moved past it. False if it is malformed or too long. */
bool vs_json_pointer_token(const char **pointer, char *token, size_t size);

#endif
