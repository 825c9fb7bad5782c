/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The growing text. */
#include "veilstop/report/text.h"

#include "base/growable.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void vs_text_init(vs_text *text) {
    memset(text, 0, sizeof *text);
}

void vs_text_free(vs_text *text) {
    free(text->bytes);
    vs_text_init(text);
}

static bool reserve(vs_text *text, size_t extra) {
    if (text->failed) {
        return false;
    }
    char *bytes = vs_growable_reserve_many(text->bytes, text->length, extra + 1, &text->size, 1);
    text->bytes = bytes ? bytes : text->bytes;
    text->failed = !bytes;
    return bytes;
}

void vs_text_add(vs_text *text, const char *bytes, size_t length) {
    if (!reserve(text, length)) {
        return;
    }
    if (length > 0) { /* an empty text may have no bytes at all */
        memcpy(text->bytes + text->length, bytes, length);
    }
    text->length += length;
    text->bytes[text->length] = '\0';
}

void vs_text_addf(vs_text *text, const char *format, ...) {
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0) {
        text->failed = true;
    } else if (reserve(text, (size_t)length)) {
        vsnprintf(text->bytes + text->length, (size_t)length + 1, format, again);
        text->length += (size_t)length;
    }
    va_end(again);
}

const char *vs_text_words(const vs_text *part, vs_text *whole) {
    whole->failed = whole->failed || part->failed;
    return part->length > 0 ? part->bytes : "";
}

size_t vs_text_columns(const char *utf8) {
    size_t columns = 0;
    for (; *utf8; utf8++) {
        columns += ((unsigned char)*utf8 & 0xc0) != 0x80;
    }
    return columns;
}
