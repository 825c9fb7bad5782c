/* A text that grows in memory, so that an answer is written whole or not at all.
 * Running out of memory is remembered, not reported call by call: ask once at the end. */
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
    bool failed; /* memory ran out: the text is not whole */
} vs_text;

void vs_text_init(vs_text *text);
void vs_text_free(vs_text *text);

/** Appends; after a failure does nothing. */
void vs_text_add(vs_text *text, const char *bytes, size_t length);
void vs_text_addf(vs_text *text, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/** The words of a text that goes into another: "" where it is empty. Where the part is not whole,
 *  the other is marked as failed too. Borrowed from the part. */
const char *vs_text_words(const vs_text *part, vs_text *whole);

/** Bytes of the valid UTF-8 character that the text starts with, 0 where it starts with none
 *  (RFC 3629: no overlong form, no surrogate). */
size_t vs_text_character(const char *utf8);

/** Columns a terminal needs for UTF-8 text: characters, without combining or double width. */
size_t vs_text_columns(const char *utf8);

/** Writes bytes to a file that appears whole or not at all (temporary neighbour, then rename).
 *  A symbolic link stays, and the file it leads to is written; a device or a pipe is written into,
 *  never replaced.
 *  Errors: VS_ERR_FILE, with errno left as the system set it. The old file stays on failure.
 *  Checked: tests/unit/test_file_whole.c */
VS_WARN_UNUSED vs_status vs_file_write_whole(const char *path, const void *bytes, size_t length);

#ifdef __cplusplus
}
#endif
#endif
