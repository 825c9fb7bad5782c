/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program's data files: compiled in, so that it runs from any folder; files in a directory of
 * the user's own take precedence, one by one. */
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

/** A data file's bytes, wherever it comes from. */
typedef struct {
    const char *bytes; /* `length` of them, then a NUL */
    size_t length;
    char *path;   /* of the file read, owned; NULL if it is compiled in */
    char *memory; /* owned */
} vs_data;

/** Reads a data file.
 *  data       out; on error only data->path may need freeing: the file at fault (NULL if there is
 *             no such data file). vs_data_free is always right.
 *  directory  takes precedence over the files compiled in; NULL for none
 *  reader     reads the directory's files or, without a directory, files by these names; NULL: the
 *             system's files
 *  name       "fluids/glycol.json"; with '/', but nothing that leads out of the directory
 *  Errors: VS_ERR_INPUT if neither has the file, VS_ERR_FILE (with errno) if the directory has it
 *  but it cannot be read, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_data.c */
VS_WARN_UNUSED vs_status vs_data_init(vs_data *data, const char *directory, const char *name,
                                      const vs_file_reader *reader);
void vs_data_free(vs_data *data);

#ifdef __cplusplus
}
#endif
#endif
