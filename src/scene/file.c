/* Reading a file whole. */
#include "veilstop/scene/file.h"

#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define FIRST_SIZE 65536u /* [bytes] room at first, doubled as needed */

typedef struct {
    char *bytes;
    size_t length, size;
} buffer;

static bool grow(buffer *b) {
    size_t size = b->size ? 2 * b->size : FIRST_SIZE;
    char *bytes = realloc(b->bytes, size);
    if (!bytes) {
        return false;
    }
    b->bytes = bytes;
    b->size = size;
    return true;
}

/* Reads on until the end, or until there is more than `most`. One place stays free for the NUL. */
static vs_status read_to_end(FILE *file, size_t most, buffer *b) {
    for (;;) {
        if (b->length + 1 >= b->size && !grow(b)) {
            return VS_ERR_MEMORY;
        }
        size_t got = fread(b->bytes + b->length, 1, b->size - b->length - 1, file);
        b->length += got;
        if (b->length > most) {
            errno = EFBIG;
            return VS_ERR_FILE;
        }
        if (got == 0) {
            b->bytes[b->length] = '\0';
            return ferror(file) ? VS_ERR_FILE : VS_OK;
        }
    }
}

vs_status vs_file_read_whole(const char *path, size_t most, char **bytes, size_t *length) {
    *bytes = NULL;
    *length = 0;
    FILE *file = fopen(path, "rb");
    if (!file) {
        return VS_ERR_FILE;
    }
    buffer b = {NULL, 0, 0};
    vs_status status = read_to_end(file, most, &b);
    int reason = errno;
    fclose(file);
    errno = reason;
    if (status != VS_OK) {
        free(b.bytes);
        return status;
    }
    *bytes = b.bytes;
    *length = b.length;
    return VS_OK;
}
