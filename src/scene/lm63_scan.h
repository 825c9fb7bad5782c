/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The text of an LM-63 file word by word: lines, then numbers separated by blanks, commas and line
 * ends, each fault with its line. */
#ifndef VEILSTOP_SCENE_LM63_SCAN_H
#define VEILSTOP_SCENE_LM63_SCAN_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"

typedef struct {
    const char *at, *end;
    size_t line;       /* of `at`, from 1 */
    size_t token_line; /* line of the text or number read last */
    vs_faults *faults;
} vs_lm63_scanner;

/* Part of the file, or of a text. */
typedef struct {
    const char *at;
    size_t length;
} vs_lm63_slice;

vs_lm63_slice vs_lm63_text(const char *text);
/* Compares as the standard does: case does not matter. */
bool vs_lm63_is_word(vs_lm63_slice slice, const char *word);
bool vs_lm63_starts_with(vs_lm63_slice slice, const char *word);

/* Records the fault "line N: right (got ...)"; always VS_ERR_INPUT. */
vs_status vs_lm63_refuse(const vs_lm63_scanner *s, size_t line, const char *right,
                         vs_lm63_slice got);
/* The same for the number read last. */
vs_status vs_lm63_refuse_number(const vs_lm63_scanner *s, const char *right, double got);

/* The next line without trailing blanks. False at the end of the file. */
bool vs_lm63_next_line(vs_lm63_scanner *s, vs_lm63_slice *line);
/* The next word without blanks, commas and line ends. False at the end of the file. */
bool vs_lm63_next_token(vs_lm63_scanner *s, vs_lm63_slice *token);
/* A number; `what` names it, with its place in a list if index is over 0. */
VS_WARN_UNUSED vs_status vs_lm63_read_number(vs_lm63_scanner *s, const char *what, size_t index,
                                             double *number);
/* A whole number from low to high; `right` is the fault's text. */
VS_WARN_UNUSED vs_status vs_lm63_read_count(vs_lm63_scanner *s, const char *what, int low, int high,
                                            const char *right, int *count);

#endif
