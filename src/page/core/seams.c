/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page's files: a list in memory, of what the page hands in and what commands write. */
#include <stdlib.h>
#include <string.h>

#include "page/core/page.h"
#include "veilstop/scene/file_list.h"

#define FILES_MAX 64 /* that a page hands in or gets back: our choice */

static vs_listed_file files[FILES_MAX];
static vs_file_list list = {files, 0};

static const char *base_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static vs_listed_file *find(const char *path) {
    for (size_t i = 0; i < list.count; i++) {
        if (strcmp(files[i].path, base_name(path)) == 0) {
            return &files[i];
        }
    }
    return NULL;
}

static vs_listed_file *add(const char *path) {
    char *name = list.count < FILES_MAX ? strdup(base_name(path)) : NULL;
    if (!name) {
        return NULL;
    }
    files[list.count].path = name;
    files[list.count].bytes = NULL;
    return &files[list.count++];
}

PAGE_EXPORT(vs_page_put_file)
int vs_page_put_file(const char *name, const char *bytes, size_t length) {
    char *copy = malloc(length + 1);
    vs_listed_file *file = copy ? find(name) : NULL;
    file = copy && !file ? add(name) : file;
    if (!file) {
        free(copy);
        return 0;
    }
    memcpy(copy, bytes, length);
    copy[length] = '\0';
    free((void *)(size_t)file->bytes); /* ours, whatever the list calls it */
    file->bytes = copy;
    file->length = length;
    return 1;
}

PAGE_EXPORT(vs_page_get_file)
const char *vs_page_get_file(const char *name, size_t *length) {
    const vs_listed_file *file = find(name);
    *length = file ? file->length : 0;
    return file ? file->bytes : NULL;
}

vs_status vs_page_read_file(const char *path, size_t most, char **bytes, size_t *length) {
    vs_file_reader reader = vs_file_list_reader(&list);
    return reader.read(reader.context, base_name(path), most, bytes, length);
}
