/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text in UTF-8 (RFC 3629), and as much of it as may go to a terminal. */
#ifndef VEILSTOP_BASE_UTF8_H
#define VEILSTOP_BASE_UTF8_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Bytes of the valid UTF-8 character that the text starts with, 0 where it starts with none
 *  (RFC 3629: no overlong form, no surrogate). */
size_t vs_utf8_character(const char *utf8);

/** The same of a text that ends before `end`, NUL bytes in it or not. */
size_t vs_utf8_character_in(const char *utf8, const char *end);

/** A text with what would break its line or drive a terminal written out: "\n", "\r", "\t", else
 *  "\x" and two hexadecimal digits, for control characters (ASCII's, and U+0080 to U+009F) and for
 *  bytes that are no UTF-8.
 *  out   NUL-terminated, cut between two characters where it is too small
 *  size  [bytes] of out; 0: out is not touched and may be NULL
 *  Gives the bytes that the whole needs, without the NUL.   Checked: tests/unit/test_utf8.c */
size_t vs_utf8_escape(const char *text, char *out, size_t size);

#ifdef __cplusplus
}
#endif
#endif
