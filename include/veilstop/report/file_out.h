/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file that appears whole or not at all, and stays the file it was. */
#ifndef VEILSTOP_REPORT_FILE_OUT_H
#define VEILSTOP_REPORT_FILE_OUT_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Writes bytes to a file that appears whole or not at all: to a neighbour of a short name that no
 *  other file has ("veilstop-PROCESS-N.part"), which then takes the file's place in one step.
 *  A file that was there keeps its mode, its owner and its group. A link stays, and the file it
 *  leads to is written.
 *  Signals that end a program are held in this thread while the neighbour exists; where one came,
 *  the neighbour goes, the old file stays and the signal is let through. Only what cannot be held
 *  (SIGKILL, a crash of the machine) can leave a neighbour.
 *  path    of a file, there or not
 *  Errors: VS_ERR_MEMORY; VS_ERR_FILE, with errno as the system set it, and
 *    EACCES  the file is read-only: it is not replaced
 *    EISDIR  a folder     ENXIO  a pipe, a device, a socket: nothing is opened
 *    EMLINK  a file of several names (hard links), of which only one would change
 *    EPERM   its owner or group could not be kept
 *    EINTR   a signal came
 *  The old file stays on failure.
 *  Left out: access lists and other attributes of an old file are not carried over.
 *  Checked: tests/unit/test_file_whole.c, tests/fault/test_file_calls.c */
VS_WARN_UNUSED vs_status vs_file_write_whole(const char *path, const void *bytes, size_t length);

#ifdef __cplusplus
}
#endif
#endif
