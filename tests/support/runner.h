/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A runner for tests: three workers in turn, and the last job first, as threads might. */
#ifndef VEILSTOP_TESTS_RUNNER_H
#define VEILSTOP_TESTS_RUNNER_H

#include "veilstop/base/runner.h"

/* jobs  counts the jobs that were run; must outlive the runner */
vs_runner backwards_runner(size_t *jobs);

#endif
