/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a caller runs like jobs for the library, which starts no thread itself. */
#ifndef VEILSTOP_BASE_RUNNER_H
#define VEILSTOP_BASE_RUNNER_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Threads, or one job after another. Where a function takes a runner, NULL stands for the latter. */
typedef struct {
    void *context; /* given to both */
    /** How many of `count` jobs run at a time, at least 1. */
    size_t (*workers)(void *context, size_t count);
    /** Does job(job_context, worker, i) once for each i under count, in any order; worker: under
     *  workers(count), no two jobs at a time with the same. */
    void (*each)(void *context, size_t count,
                 void (*job)(void *job_context, size_t worker, size_t i), void *job_context);
} vs_runner;

/** The runner itself; for NULL one with a single worker, which does the jobs one after another. */
const vs_runner *vs_runner_or_plain(const vs_runner *runner);

#ifdef __cplusplus
}
#endif
#endif
