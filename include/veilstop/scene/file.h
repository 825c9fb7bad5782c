/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading whole files of bounded size. */
#ifndef VEILSTOP_SCENE_FILE_H
#define VEILSTOP_SCENE_FILE_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The bytes of a file, followed by a NUL that is not counted.
 *  path    of a file; a folder, a pipe, a device or a socket is refused at once, unopened
 *  most    [bytes] a longer file is refused
 *  bytes   out; the caller frees them with free(); NULL on error
 *  length  out; 0 on error
 *  Errors: VS_ERR_FILE with errno as the system set it (EFBIG if too long, EISDIR for a folder,
 *  ENXIO for anything else that is not a file), VS_ERR_MEMORY.   Checked: tests/unit/test_data.c */
VS_WARN_UNUSED vs_status vs_file_read_whole(const char *path, size_t most, char **bytes,
                                            size_t *length);

/** Source of files: the caller's own function in place of the system's files.
 *  read  as vs_file_read_whole; errno ENOENT if there is no such file */
typedef struct {
    vs_status (*read)(void *context, const char *path, size_t most, char **bytes, size_t *length);
    void *context;
} vs_file_reader;

/** The same through a reader; NULL: the system's files.  Errors: those of vs_file_read_whole. */
VS_WARN_UNUSED vs_status vs_file_read_by(const vs_file_reader *reader, const char *path,
                                         size_t most, char **bytes, size_t *length);

/** Why a reader could not read a file, in the words of vs_file_reason. */
const char *vs_file_reason_by(const vs_file_reader *reader, const char *path, int reason);

/** Why a file could not be read or written, as words to end a message: "a folder", "a pipe", or the
 *  system's own.
 *  reason  errno as vs_file_read_whole or vs_file_write_whole left it
 *  Borrowed until the next call.   Checked: tests/cli/test_files.c */
const char *vs_file_reason(const char *path, int reason);

/** The folder of a path, "." if it names none. Owned by the caller; NULL when memory runs out. */
char *vs_file_folder(const char *path);

#ifdef __cplusplus
}
#endif
#endif
