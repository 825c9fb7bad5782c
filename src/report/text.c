/* The growing text and the file that appears whole. */
#include "veilstop/report/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
    size_t need = text->length + extra + 1;
    if (need <= text->size) {
        return true;
    }
    size_t size = text->size ? text->size : 1024;
    while (size < need) {
        size *= 2;
    }
    char *bytes = realloc(text->bytes, size);
    if (!bytes) {
        text->failed = true;
        return false;
    }
    text->bytes = bytes;
    text->size = size;
    return true;
}

void vs_text_add(vs_text *text, const char *bytes, size_t length) {
    if (!reserve(text, length)) {
        return;
    }
    memcpy(text->bytes + text->length, bytes, length);
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

size_t vs_text_character(const char *utf8) {
    const unsigned char *c = (const unsigned char *)utf8;
    size_t length = c[0] < 0x80   ? 1
                    : c[0] < 0xc2 ? 0
                    : c[0] < 0xe0 ? 2
                    : c[0] < 0xf0 ? 3
                    : c[0] < 0xf5 ? 4
                                  : 0;
    for (size_t i = 1; i < length; i++) {
        if ((c[i] & 0xc0) != 0x80) {
            return 0;
        }
    }
    if ((c[0] == 0xe0 && c[1] < 0xa0) || (c[0] == 0xed && c[1] > 0x9f) ||
        (c[0] == 0xf0 && c[1] < 0x90) || (c[0] == 0xf4 && c[1] > 0x8f)) {
        return 0;
    }
    return length;
}

size_t vs_text_columns(const char *utf8) {
    size_t columns = 0;
    for (; *utf8; utf8++) {
        columns += ((unsigned char)*utf8 & 0xc0) != 0x80;
    }
    return columns;
}

static bool write_and_close(FILE *file, const void *bytes, size_t length) {
    bool good = fwrite(bytes, 1, length, file) == length;
    good = fflush(file) == 0 && good;
    good = fsync(fileno(file)) == 0 && good;
    return fclose(file) == 0 && good;
}

vs_status vs_file_write_whole(const char *path, const void *bytes, size_t length) {
    vs_text neighbour;
    vs_text_init(&neighbour);
    vs_text_addf(&neighbour, "%s.part%ld", path, (long)getpid());
    if (neighbour.failed) {
        vs_text_free(&neighbour);
        return VS_ERR_MEMORY;
    }
    vs_status status = VS_ERR_FILE;
    FILE *file = fopen(neighbour.bytes, "wbx");
    if (file) {
        if (write_and_close(file, bytes, length) && rename(neighbour.bytes, path) == 0) {
            status = VS_OK;
        } else {
            remove(neighbour.bytes);
        }
    }
    vs_text_free(&neighbour);
    return status;
}
