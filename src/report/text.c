/* The growing text and the file that appears whole. */
#define _XOPEN_SOURCE 700 /* POSIX 2008: realpath */

#include "veilstop/report/text.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
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

static bool write_all(FILE *file, const void *bytes, size_t length) {
    return fwrite(bytes, 1, length, file) == length && fflush(file) == 0;
}

/* Keeps errno as the first failure left it, for the caller's message. */
static void clean_up(FILE *file, const char *remains) {
    int reason = errno;
    if (file) {
        fclose(file);
    }
    if (remains) {
        remove(remains);
    }
    errno = reason;
}

/* To a neighbour, which then takes the path's place in one step. */
static vs_status write_beside(const char *path, const char *neighbour, const void *bytes,
                              size_t length) {
    FILE *file = fopen(neighbour, "wbx");
    if (!file) {
        return VS_ERR_FILE;
    }
    if (!write_all(file, bytes, length) || fsync(fileno(file)) != 0) {
        clean_up(file, neighbour);
        return VS_ERR_FILE;
    }
    if (fclose(file) != 0 || rename(neighbour, path) != 0) {
        clean_up(NULL, neighbour);
        return VS_ERR_FILE;
    }
    return VS_OK;
}

static vs_status write_whole(const char *path, const void *bytes, size_t length) {
    vs_text neighbour;
    vs_text_init(&neighbour);
    vs_text_addf(&neighbour, "%s.part%ld", path, (long)getpid());
    vs_status status =
        neighbour.failed ? VS_ERR_MEMORY : write_beside(path, neighbour.bytes, bytes, length);
    vs_text_free(&neighbour);
    return status;
}

/* Into what is no file: a device, a pipe. It keeps its place; a directory cannot be opened. */
static vs_status write_into(const char *path, const void *bytes, size_t length) {
    int descriptor = open(path, O_WRONLY | O_NOCTTY);
    FILE *file = descriptor < 0 ? NULL : fdopen(descriptor, "wb");
    if (!file) {
        return VS_ERR_FILE;
    }
    if (!write_all(file, bytes, length)) {
        clean_up(file, NULL);
        return VS_ERR_FILE;
    }
    return fclose(file) == 0 ? VS_OK : VS_ERR_FILE;
}

vs_status vs_file_write_whole(const char *path, const void *bytes, size_t length) {
    struct stat there;
    if (stat(path, &there) != 0) {
        return write_whole(path, bytes, length);
    }
    if (!S_ISREG(there.st_mode)) {
        return write_into(path, bytes, length);
    }
    char *target = realpath(path, NULL); /* a link stays, what it leads to is written */
    if (!target) {
        return VS_ERR_FILE;
    }
    vs_status status = write_whole(target, bytes, length);
    free(target);
    return status;
}
