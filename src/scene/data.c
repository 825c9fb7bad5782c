/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data files: the user's directory first, then those compiled in. */
#include "veilstop/scene/data.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "veilstop/scene/file.h"

/* "directory/name"; NULL without memory. */
static char *join(const char *directory, const char *name) {
    size_t size = strlen(directory) + strlen(name) + 2;
    char *path = malloc(size);
    if (path) {
        snprintf(path, size, "%s/%s", directory, name);
    }
    return path;
}

static bool is_directory(const char *path) {
    struct stat about;
    return stat(path, &about) == 0 && S_ISDIR(about.st_mode);
}

static vs_status read_compiled_in(vs_data *data, const char *name) {
    for (size_t i = 0; i < vs_data_file_count; i++) {
        if (strcmp(vs_data_files[i].name, name) == 0) {
            data->bytes = vs_data_files[i].bytes;
            data->length = vs_data_files[i].length;
            return VS_OK;
        }
    }
    return VS_ERR_INPUT;
}

/* Whether a link between the directory and the file is broken. */
static bool link_is_broken(char *path, size_t from) {
    struct stat there;
    bool broken = false;
    for (char *end = path + from; end && !broken;) {
        end = strchr(end, '/');
        if (end) {
            *end = '\0';
        }
        broken = lstat(path, &there) == 0 && stat(path, &there) != 0;
        if (end) {
            *end++ = '/';
        }
    }
    return broken;
}

/* If the directory lacks the file, the one compiled in is used. A missing directory or a broken
 * link is the user's mistake and must not go unnoticed. */
static vs_status read_from(vs_data *data, const char *directory, const char *name) {
    data->path = join(directory, is_directory(directory) ? name : "");
    if (!data->path) {
        return VS_ERR_MEMORY;
    }
    vs_status status =
        vs_file_read_whole(data->path, VS_DATA_BYTES_MAX, &data->memory, &data->length);
    if (status == VS_ERR_FILE && errno == ENOENT && is_directory(directory) &&
        !link_is_broken(data->path, strlen(directory) + 1)) {
        vs_data_free(data);
        return read_compiled_in(data, name);
    }
    data->bytes = data->memory;
    return status;
}

/* Through the caller's reader; what it lacks is taken from the files compiled in. */
static vs_status read_by(vs_data *data, const char *directory, const char *name,
                         const vs_file_reader *reader) {
    data->path = directory ? join(directory, name) : strdup(name);
    if (!data->path) {
        return VS_ERR_MEMORY;
    }
    vs_status status =
        vs_file_read_by(reader, data->path, VS_DATA_BYTES_MAX, &data->memory, &data->length);
    if (status == VS_ERR_FILE && errno == ENOENT) {
        vs_data_free(data);
        return read_compiled_in(data, name);
    }
    data->bytes = data->memory;
    return status;
}

vs_status vs_data_init(vs_data *data, const char *directory, const char *name,
                       const vs_file_reader *reader) {
    memset(data, 0, sizeof *data);
    if (name[0] == '/' || strstr(name, "..")) {
        return VS_ERR_INPUT;
    }
    if (reader) {
        return read_by(data, directory, name, reader);
    }
    return directory ? read_from(data, directory, name) : read_compiled_in(data, name);
}

void vs_data_free(vs_data *data) {
    free(data->path);
    free(data->memory);
    memset(data, 0, sizeof *data);
}
