/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing a file that appears whole or not at all and keeps its identity. */
#ifndef VEILSTOP_REPORT_FILE_OUT_H
#define VEILSTOP_REPORT_FILE_OUT_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Writes bytes to a file so that it appears whole or not at all: to a temporary file beside it
 *  with an unused name ("veilstop-PROCESS-N.part"), which then replaces it in one step. An existing
 *  file keeps its mode, owner and group. A link stays, and the file it points to is written.
 *  Signals that end a program are blocked in this thread while the temporary file exists; if one
 *  arrives, the temporary file is removed, the old file stays and the signal is delivered. Only
 *  what cannot be blocked (SIGKILL, a crash of the machine) can leave a temporary file behind.
 *  path    of a file, existing or not
 *  Errors: VS_ERR_MEMORY; VS_ERR_FILE, with errno as the system set it, and
 *    EACCES  the file is read-only: it is not replaced
 *    EISDIR  a folder     ENXIO  a pipe, a device, a socket: nothing is opened
 *    EMLINK  a file with several names (hard links), only one of which would change
 *    EPERM   its owner or group could not be kept
 *    EINTR   a signal arrived
 *  The old file stays on failure.
 *  Left out: access lists and other attributes of the old file are lost.
 *  Checked: tests/unit/test_file_whole.c, tests/fault/test_file_calls.c */
VS_WARN_UNUSED vs_status vs_file_write_whole(const char *path, const void *bytes, size_t length);

#ifdef __cplusplus
}
#endif
#endif
