/* Threads that take jobs one by one; this thread works too, and draws between jobs. */
#include "cli/pool.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define THREAD_MAX  256
#define BAR_COLUMNS 40

typedef struct {
    size_t count;
    void (*job)(void *context, size_t i);
    void *context;
    atomic_size_t next, done;
} queue;

static bool take_one(queue *q) {
    size_t i = atomic_fetch_add(&q->next, 1);
    if (i >= q->count) {
        return false;
    }
    q->job(q->context, i);
    atomic_fetch_add(&q->done, 1);
    return true;
}

static void *work(void *argument) {
    while (take_one(argument)) {
    }
    return NULL;
}

static void draw_bar(const queue *q, const char *doing) {
    size_t done = q->done, filled = done * BAR_COLUMNS / q->count;
    char bar[BAR_COLUMNS + 1];
    for (size_t i = 0; i < BAR_COLUMNS; i++) {
        bar[i] = i < filled ? '#' : '.';
    }
    bar[BAR_COLUMNS] = '\0';
    fprintf(stderr, "\r%s [%s] %3zu %%", doing, bar, 100 * done / q->count);
    fflush(stderr);
}

static size_t core_count(void) {
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    return cores < 1 ? 1 : cores > THREAD_MAX ? THREAD_MAX : (size_t)cores;
}

void vs_cli_each(size_t count, const char *doing, void (*job)(void *context, size_t i),
                 void *context) {
    pthread_t thread[THREAD_MAX];
    queue q = {.count = count, .job = job, .context = context};
    bool bar = isatty(STDERR_FILENO) != 0;
    size_t started = 0, cores = core_count();
    /* fewer threads than asked for only make it slower */
    while (started + 1 < cores && started + 1 < count &&
           pthread_create(&thread[started], NULL, work, &q) == 0) {
        started++;
    }
    while (take_one(&q)) {
        if (bar) {
            draw_bar(&q, doing);
        }
    }
    for (size_t i = 0; i < started; i++) {
        pthread_join(thread[i], NULL);
    }
    if (bar) {
        fprintf(stderr, "\r%*s\r", BAR_COLUMNS + 10 + (int)strlen(doing), "");
    }
}
