/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Threads that take jobs one by one; this thread works too. */
#include "cli/pool.h"
#include "cli/progress.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <unistd.h>

#define WORKER_MAX 256
/* of a thread: four times what any command needs, independent of the system's default;
 * tests/fault/test_stack.c */
#define STACK_BYTES (512u << 10)

typedef struct {
    size_t count;
    bool reported; /* whether progress is shown */
    void (*job)(void *context, size_t worker, size_t i);
    void *context;
    atomic_size_t next, done;
} queue;

typedef struct {
    queue *q;
    size_t number;
} worker;

static bool take_one(const worker *w) {
    queue *q = w->q;
    size_t i = atomic_fetch_add(&q->next, 1);
    if (i >= q->count) {
        return false;
    }
    q->job(q->context, w->number, i);
    size_t done = atomic_fetch_add(&q->done, 1) + 1;
    if (q->reported) {
        vs_cli_share_done(done, q->count);
    }
    return true;
}

static void *work(void *argument) {
    while (take_one(argument)) {
    }
    return NULL;
}

size_t vs_cli_workers(size_t count) {
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    size_t most = cores < 1 ? 1 : cores > WORKER_MAX ? WORKER_MAX : (size_t)cores;
    return count < most ? count : most;
}

void vs_cli_each(size_t count, const char *doing,
                 void (*job)(void *context, size_t worker, size_t i), void *context) {
    pthread_t thread[WORKER_MAX];
    pthread_attr_t stack;
    worker each[WORKER_MAX];
    queue q = {.count = count, .reported = doing, .job = job, .context = context};
    size_t started = 0, workers = vs_cli_workers(count);
    for (size_t i = 0; i < workers; i++) {
        each[i].q = &q;
        each[i].number = i;
    }
    /* this thread is the last worker; fewer threads than requested only make it slower */
    if (doing) {
        vs_cli_doing(doing);
    }
    bool stated =
        pthread_attr_init(&stack) == 0 && pthread_attr_setstacksize(&stack, STACK_BYTES) == 0;
    while (stated && started + 1 < workers &&
           pthread_create(&thread[started], &stack, work, &each[started]) == 0) {
        started++;
    }
    pthread_attr_destroy(&stack);
    while (count > 0 && take_one(&each[started])) {
    }
    for (size_t i = 0; i < started; i++) {
        pthread_join(thread[i], NULL);
    }
}
