/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a caller lends to a question, and how an answer ends. */
#ifndef VEILSTOP_ASK_MEANS_H
#define VEILSTOP_ASK_MEANS_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/picture/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

/** How an answer ended: the exit statuses of the program. */
typedef enum {
    VS_EXIT_DONE = 0,
    VS_EXIT_UNMET = 1, /* done, but a want or a limit is not met */
    VS_EXIT_USAGE = 2,
    VS_EXIT_INPUT = 3,
    VS_EXIT_FILE = 4,
    VS_EXIT_CONVERGENCE = 5
} vs_exit;

/** What the caller lends; every function may be NULL. Must outlive every handle. */
typedef struct {
    void *context; /* passed to each function */
    /** The bytes of a file that a scene or an option names (a lamp's LM-63 file, a fluid, limits),
     *  as from vs_file_read_whole. NULL: there are none. */
    vs_status (*read)(void *context, const char *path, size_t most, char **bytes, size_t *length);
    /** Writes a whole file, as vs_file_write_whole does. NULL: none can be written. */
    vs_status (*write)(void *context, const char *path, const void *bytes, size_t length);
    /** Why the last of these failed, in words. NULL: use the C library's words. */
    const char *(*reason)(void *context, const char *path, int reason);
    /** How many of `count` similar jobs can run at a time, at least 1. NULL: 1. */
    size_t (*workers)(void *context, size_t count);
    /** Runs job(job_context, worker, i) once for each i below count, in any order, on its own
     * threads; worker: below workers(count), never shared by jobs that run at the same time. doing:
     * a word for a progress bar; may be NULL. NULL: one after another. */
    void (*each)(void *context, size_t count, const char *doing,
                 void (*job)(void *job_context, size_t worker, size_t i), void *job_context);
    /** Reports what is being done, in words that stay valid, for a progress display. NULL: no
     *  reports. */
    void (*doing)(void *context, const char *words);
    /** Reports how much of it is done. NULL: no reports. */
    void (*share_done)(void *context, size_t done, size_t count);
    /** A picture as a PNG, for free(). NULL: it is written as it is, not compressed. */
    vs_status (*png)(void *context, const vs_picture *picture, unsigned char **bytes,
                     size_t *length);
} vs_ask_means;

#ifdef __cplusplus
}
#endif
#endif
