/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "runner.h"

static size_t three(void *context, size_t count) {
    (void)context;
    return count < 3 ? count : 3;
}

static void backwards(void *context, size_t count,
                      void (*job)(void *job_context, size_t worker, size_t i), void *job_context) {
    size_t *jobs = context, workers = three(NULL, count);
    for (size_t i = count; i-- > 0; ++*jobs) {
        job(job_context, i % workers, i);
    }
}

vs_runner backwards_runner(size_t *jobs) {
    vs_runner runner = {jobs, three, backwards};
    return runner;
}
