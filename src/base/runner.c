/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/base/runner.h"

static size_t one_worker(void *context, size_t count) {
    (void)context;
    (void)count;
    return 1;
}

static void one_after_another(void *context, size_t count,
                              void (*job)(void *job_context, size_t worker, size_t i),
                              void *job_context) {
    (void)context;
    for (size_t i = 0; i < count; i++) {
        job(job_context, 0, i);
    }
}

const vs_runner *vs_runner_or_plain(const vs_runner *runner) {
    static const vs_runner plain = {NULL, one_worker, one_after_another};
    return runner ? runner : &plain;
}
