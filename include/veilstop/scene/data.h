/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program's data files: compiled in, so that it runs from any folder; a directory of the user's
 * own goes before them, file by file. */
#ifndef VEILSTOP_SCENE_DATA_H
#define VEILSTOP_SCENE_DATA_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/scene/file.h"

#ifdef __cplusplus
extern "C" {
#endif

/** One file that is compiled in. */
typedef struct {
    const char *name;  /* its path under data: "fluids/glycol.json" */
    const char *bytes; /* `length` of them, then a NUL */
    size_t length;
} vs_data_file;

/* Made by the build from the files in data, in alphabetical order. */
extern const vs_data_file vs_data_files[];
extern const size_t vs_data_file_count;

#define VS_DATA_BYTES_MAX (1u << 20) /* [bytes] of a data file of the user's own: our choice */

/** A data file's bytes, wherever they came from. */
typedef struct {
    const char *bytes; /* `length` of them, then a NUL */
    size_t length;
    char *path;   /* of the file read, owned; NULL where it was the one compiled in */
    char *memory; /* owned */
} vs_data;

/** Reads a data file.
 *  data       out; nothing to free on error, but data->path, which is then the file at fault (NULL
 *             where there is no such data file at all). vs_data_free is right in every case.
 *  directory  goes before the files compiled in; NULL for none
 *  reader     of the directory's files; given without a directory, of files named as these are;
 *             NULL: the system's files
 *  name       "fluids/glycol.json"; '/' within, nothing that leads out of the directory
 *  Errors: VS_ERR_INPUT where neither has the file, VS_ERR_FILE (with errno) where the directory
 *  has it but it cannot be read, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_data.c */
VS_WARN_UNUSED vs_status vs_data_init(vs_data *data, const char *directory, const char *name,
                                      const vs_file_reader *reader);
void vs_data_free(vs_data *data);

#ifdef __cplusplus
}
#endif
#endif
