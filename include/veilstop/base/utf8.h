/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text in UTF-8 (RFC 3629), and its escaping for a terminal. */
#ifndef VEILSTOP_BASE_UTF8_H
#define VEILSTOP_BASE_UTF8_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Bytes of the valid UTF-8 character at the start of the text, 0 if there is none
 *  (RFC 3629: no overlong form, no surrogate). */
size_t vs_utf8_character(const char *utf8);

/** The same for a text that ends before `end` and may contain NUL bytes. */
size_t vs_utf8_character_in(const char *utf8, const char *end);

/** Escapes what would break a line or control a terminal: control characters (ASCII, and U+0080 to
 *  U+009F) and bytes that are not UTF-8 become "\n", "\r", "\t", or "\x" and two hexadecimal
 *  digits.
 *  out   NUL-terminated, cut between characters if `size` is too small
 *  size  [bytes] of out; 0: out is not touched and may be NULL
 *  Returns the bytes that the whole text needs, without the NUL.
 *  Checked: tests/unit/test_utf8.c */
size_t vs_utf8_escape(const char *text, char *out, size_t size);

#ifdef __cplusplus
}
#endif
#endif
