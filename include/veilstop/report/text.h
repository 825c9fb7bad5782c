/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A text that grows in memory, so that an answer is written whole or not at all. Running out of
 * memory is noted, not reported by each call: check once at the end. */
#ifndef VEILSTOP_REPORT_TEXT_H
#define VEILSTOP_REPORT_TEXT_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    char *bytes; /* NUL-terminated once anything was added, else NULL; owned */
    size_t length, size;
    bool failed; /* memory ran out: the text is incomplete */
} vs_text;

void vs_text_init(vs_text *text);
void vs_text_free(vs_text *text);

/** Appends; after a failure does nothing. `bytes` may be NULL where `length` is 0. */
void vs_text_add(vs_text *text, const char *bytes, size_t length);
void vs_text_addf(vs_text *text, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/** The words of a text that goes into another: "" if empty. If the part is incomplete, the other is
 *  marked as failed too. Borrowed from the part. */
const char *vs_text_words(const vs_text *part, vs_text *whole);

/** Columns a terminal needs for UTF-8 text: one per character; combining and double-width
 *  characters are not considered. */
size_t vs_text_columns(const char *utf8);

#ifdef __cplusplus
}
#endif
#endif
