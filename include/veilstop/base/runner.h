/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a caller runs like jobs for the library, which starts no thread itself. */
#ifndef VEILSTOP_BASE_RUNNER_H
#define VEILSTOP_BASE_RUNNER_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** On threads of its own, or one after the other. */
typedef struct {
    void *context; /* given to both */
    /** How many of `count` jobs run at a time, at least 1. */
    size_t (*workers)(void *context, size_t count);
    /** Does job(job_context, worker, i) once for each i under count, in any order; worker: under
     *  workers(count), no two jobs at a time with the same. */
    void (*each)(void *context, size_t count,
                 void (*job)(void *job_context, size_t worker, size_t i), void *job_context);
} vs_runner;

#ifdef __cplusplus
}
#endif
#endif
