/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a file whole. */
#include "veilstop/scene/file.h"

#include "base/growable.h"
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define ROOM_SIZE 65536u /* [bytes] least free space for one read */

typedef struct {
    char *bytes;
    size_t length, size;
} buffer;

static bool grow(buffer *b) {
    char *bytes = vs_growable_reserve_many(b->bytes, b->length, ROOM_SIZE, &b->size, 1);
    b->bytes = bytes ? bytes : b->bytes;
    return bytes;
}

/* Reads to the end, or until there is more than `most`. One byte stays free for the NUL. */
static vs_status read_to_end(int file, size_t most, buffer *b) {
    for (;;) {
        if (b->length + 1 >= b->size && !grow(b)) {
            return VS_ERR_MEMORY;
        }
        ssize_t got = read(file, b->bytes + b->length, b->size - b->length - 1);
        if (got < 0 && errno == EINTR) {
            continue;
        }
        b->length += got > 0 ? (size_t)got : 0;
        if (got < 0 || b->length > most) {
            errno = got < 0 ? errno : EFBIG;
            return VS_ERR_FILE;
        }
        if (got == 0) {
            b->bytes[b->length] = '\0';
            return VS_OK;
        }
    }
}

/* False, with errno set, if it is not a regular file. */
static bool is_file(const struct stat *there) {
    errno = S_ISDIR(there->st_mode) ? EISDIR : ENXIO;
    return S_ISREG(there->st_mode);
}

/* Opens a regular file and nothing else: a pipe would wait for its writer, and some devices act
 * when opened. The file may be replaced between check and opening, so it is checked twice. */
static int open_file(const char *path) {
    struct stat there;
    if (stat(path, &there) != 0 || !is_file(&there)) {
        return -1;
    }
    int file = open(path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (file >= 0 && (fstat(file, &there) != 0 || !is_file(&there))) {
        int reason = errno;
        close(file);
        errno = reason;
        return -1;
    }
    return file;
}

vs_status vs_file_read_whole(const char *path, size_t most, char **bytes, size_t *length) {
    *bytes = NULL;
    *length = 0;
    int file = open_file(path);
    if (file < 0) {
        return VS_ERR_FILE;
    }
    buffer b = {NULL, 0, 0};
    vs_status status = read_to_end(file, most, &b);
    int reason = errno;
    close(file);
    errno = reason;
    if (status != VS_OK) {
        free(b.bytes);
        return status;
    }
    *bytes = b.bytes;
    *length = b.length;
    return VS_OK;
}

vs_status vs_file_read_by(const vs_file_reader *reader, const char *path, size_t most, char **bytes,
                          size_t *length) {
    return reader ? reader->read(reader->context, path, most, bytes, length)
                  : vs_file_read_whole(path, most, bytes, length);
}

const char *vs_file_reason_by(const vs_file_reader *reader, const char *path, int reason) {
    return reader ? strerror(reason) : vs_file_reason(path, reason);
}

const char *vs_file_reason(const char *path, int reason) {
    struct stat there;
    if (reason == EMLINK) {
        return "a file of several names, hard links, of which only this one would change";
    }
    if ((reason != EISDIR && reason != ENXIO) || stat(path, &there) != 0) {
        return strerror(reason);
    }
    return S_ISDIR(there.st_mode)                             ? "a folder"
           : S_ISFIFO(there.st_mode)                          ? "a pipe"
           : S_ISSOCK(there.st_mode)                          ? "a socket"
           : S_ISCHR(there.st_mode) || S_ISBLK(there.st_mode) ? "a device"
                                                              : strerror(reason);
}

char *vs_file_folder(const char *path) {
    const char *slash = strrchr(path, '/');
    size_t length = slash ? (size_t)(slash - path) + (slash == path) : 1;
    char *folder = malloc(length + 1);
    if (folder) {
        memcpy(folder, slash ? path : ".", length);
        folder[length] = '\0';
    }
    return folder;
}
