/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a file whole, with a bound, before anything is made of its bytes. */
#ifndef VEILSTOP_SCENE_FILE_H
#define VEILSTOP_SCENE_FILE_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The bytes of a file, and a NUL behind them that is not counted.
 *  path    of a file; a folder, a pipe, a device or a socket is refused at once, unopened
 *  most    [bytes] a longer file is refused
 *  bytes   out; the caller frees them with free(); NULL on error
 *  length  out; 0 on error
 *  Errors: VS_ERR_FILE with errno as the system set it (EFBIG where it is too long, EISDIR
 *  for a folder, ENXIO for what else is no file), VS_ERR_MEMORY.   Checked: tests/unit/test_data.c
 */
VS_WARN_UNUSED vs_status vs_file_read_whole(const char *path, size_t most, char **bytes,
                                            size_t *length);

/** Where files come from: a function of the caller's, in place of the system's files.
 *  read  as vs_file_read_whole, errno ENOENT where there is no such file */
typedef struct {
    vs_status (*read)(void *context, const char *path, size_t most, char **bytes, size_t *length);
    void *context;
} vs_file_reader;

/** The same by a reader; NULL: the system's files.  Errors: those of vs_file_read_whole. */
VS_WARN_UNUSED vs_status vs_file_read_by(const vs_file_reader *reader, const char *path,
                                         size_t most, char **bytes, size_t *length);

/** Why a file could not be read by a reader, as vs_file_reason says it. */
const char *vs_file_reason_by(const vs_file_reader *reader, const char *path, int reason);

/** Why a file could not be read or written, as words that end a message: "a folder", "a pipe", or
 *  the system's own.
 *  reason  errno as vs_file_read_whole or vs_file_write_whole left it
 *  Borrowed until the next call.   Checked: tests/cli/test_files.c */
const char *vs_file_reason(const char *path, int reason);

/** The folder of a path, "." where it names none. Owned by the caller; NULL without memory. */
char *vs_file_folder(const char *path);

#ifdef __cplusplus
}
#endif
#endif
