/* Reading a file whole, with a bound, before anything is made of its bytes. */
#ifndef VEILSTOP_SCENE_FILE_H
#define VEILSTOP_SCENE_FILE_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The bytes of a file, and a NUL behind them that is not counted.
 *  path    of a file; a directory is refused
 *  most    [bytes] a longer file is refused
 *  bytes   out; the caller frees them with free(); NULL on error
 *  length  out; 0 on error
 *  Errors: VS_ERR_FILE with errno as the system set it (EFBIG where it is too long),
 *  VS_ERR_MEMORY.   Checked: tests/unit/test_data.c */
VS_WARN_UNUSED vs_status vs_file_read_whole(const char *path, size_t most, char **bytes,
                                            size_t *length);

#ifdef __cplusplus
}
#endif
#endif
