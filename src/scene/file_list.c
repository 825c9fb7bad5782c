/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. The counterpart of file.c for files in memory. */
#include "veilstop/scene/file_list.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* A copy with a NUL appended. */
static vs_status copy_of(const vs_listed_file *file, size_t most, char **bytes, size_t *length) {
    if (file->length > most) {
        errno = EFBIG;
        return VS_ERR_FILE;
    }
    char *copy = malloc(file->length + 1);
    if (!copy) {
        return VS_ERR_MEMORY;
    }
    memcpy(copy, file->bytes, file->length);
    copy[file->length] = '\0';
    *bytes = copy;
    *length = file->length;
    return VS_OK;
}

static vs_status read_listed(void *context, const char *path, size_t most, char **bytes,
                             size_t *length) {
    const vs_file_list *list = context;
    *bytes = NULL;
    *length = 0;
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->file[i].path, path) == 0) {
            return copy_of(&list->file[i], most, bytes, length);
        }
    }
    errno = ENOENT;
    return VS_ERR_FILE;
}

vs_file_reader vs_file_list_reader(const vs_file_list *list) {
    union { /* the list is only read */
        const vs_file_list *is;
        void *as;
    } context = {list};
    vs_file_reader reader = {read_listed, context.as};
    return reader;
}
