/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many like jobs on all cores. */
#ifndef VEILSTOP_CLI_POOL_H
#define VEILSTOP_CLI_POOL_H

#include <stddef.h>

/* How many workers do `count` jobs: no more than there are cores. */
size_t vs_cli_workers(size_t count);

/* Does job(context, worker, i) once for each i under count, several at a time, in no order. worker:
 * under vs_cli_workers(count), and no two jobs at a time have the same. The jobs must not
 * write where another does. doing: what is told of it (progress.h), "walking"; NULL: nothing, for
 * what is quick. */
void vs_cli_each(size_t count, const char *doing,
                 void (*job)(void *context, size_t worker, size_t i), void *context);

#endif
