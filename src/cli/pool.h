/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many similar jobs on all cores. */
#ifndef VEILSTOP_CLI_POOL_H
#define VEILSTOP_CLI_POOL_H

#include <stddef.h>

/* The number of workers for `count` jobs: no more than there are cores. */
size_t vs_cli_workers(size_t count);

/* Runs job(context, worker, i) once for each i below count, several at a time, in any order.
 * worker: below vs_cli_workers(count), never shared by jobs that run at the same time. No two jobs
 * may write to the same place. doing: the word for the progress line (progress.h), "walking"; NULL:
 * none, for quick jobs. */
void vs_cli_each(size_t count, const char *doing,
                 void (*job)(void *context, size_t worker, size_t i), void *context);

#endif
