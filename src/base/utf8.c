/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Characters by their bytes. */
#include "veilstop/base/utf8.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* Length in bytes of the character that a byte begins (RFC 3629, section 4); 0 if none begins with
 * it. */
static size_t length_of(unsigned char lead) {
    return lead < 0x80   ? 1
           : lead < 0xc2 ? 0
           : lead < 0xe0 ? 2
           : lead < 0xf0 ? 3
           : lead < 0xf5 ? 4
                         : 0;
}

size_t vs_utf8_character_in(const char *utf8, const char *end) {
    const unsigned char *c = (const unsigned char *)utf8;
    if (utf8 >= end) {
        return 0;
    }
    size_t length = length_of(c[0]);
    if (length > (size_t)(end - utf8)) {
        return 0;
    }
    for (size_t i = 1; i < length; i++) {
        if ((c[i] & 0xc0) != 0x80) {
            return 0;
        }
    }
    /* no overlong forms, no surrogates, nothing over U+10FFFF */
    if ((c[0] == 0xe0 && c[1] < 0xa0) || (c[0] == 0xed && c[1] > 0x9f) ||
        (c[0] == 0xf0 && c[1] < 0x90) || (c[0] == 0xf4 && c[1] > 0x8f)) {
        return 0;
    }
    return length;
}

size_t vs_utf8_character(const char *utf8) {
    return vs_utf8_character_in(utf8, utf8 + strnlen(utf8, 4) + (*utf8 == '\0'));
}

/* Whether a valid character of this many bytes is a control character. */
static bool is_control(const unsigned char *c, size_t length) {
    return length == 1 ? c[0] < 0x20 || c[0] == 0x7f : c[0] == 0xc2 && c[1] < 0xa0;
}

/* Writes the next character, escaped if need be, to `shown`; returns the bytes of text it
 * covers. */
static size_t next_piece(const char *text, char shown[5]) {
    static const char letter[] = {['\n'] = 'n', ['\r'] = 'r', ['\t'] = 't'};
    const unsigned char *c = (const unsigned char *)text;
    size_t length = vs_utf8_character(text);
    if (length > 0 && !is_control(c, length)) {
        memcpy(shown, text, length);
        shown[length] = '\0';
        return length;
    }
    if (c[0] < sizeof letter && letter[c[0]]) {
        snprintf(shown, 5, "\\%c", letter[c[0]]);
        return 1;
    }
    snprintf(shown, 5, "\\x%02x", c[0] == 0xc2 && length == 2 ? c[1] : c[0]);
    return length == 0 ? 1 : length;
}

size_t vs_utf8_escape(const char *text, char *out, size_t size) {
    size_t whole = 0, kept = 0;
    bool room = size > 0;
    while (*text) {
        char shown[5];
        text += next_piece(text, shown);
        size_t length = strlen(shown);
        room = room && kept + length < size;
        if (room) {
            memcpy(out + kept, shown, length);
            kept += length;
        }
        whole += length;
    }
    if (size > 0) {
        out[kept] = '\0';
    }
    return whole;
}
