/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A thread that wakes a few times a second and draws one line: what is being done, and how much of
 * it or for how long. A line may be slightly out of date: words and share are read separately. */
#include "cli/progress.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#define WAIT_MS     1000 /* before the first line: nothing is shown for quicker commands */
#define DRAW_MS     200  /* from line to line */
#define BAR_COLUMNS 30
#define STACK_BYTES (64u << 10)

static struct {
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t stop;
    bool running, stopped;
    struct timespec began;
    _Atomic(const char *) words;
    atomic_size_t done, count;
} progress = {.lock = PTHREAD_MUTEX_INITIALIZER, .words = "working"};

static struct timespec in_ms(long ms) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    t.tv_sec += ms / 1000;
    t.tv_nsec += ms % 1000 * 1000000;
    t.tv_sec += t.tv_nsec / 1000000000;
    t.tv_nsec %= 1000000000;
    return t;
}

static void draw(void) {
    size_t count = progress.count, done = progress.done;
    fprintf(stderr, "\r\033[K%s", (const char *)progress.words);
    if (count > 0) {
        size_t filled = done * BAR_COLUMNS / count;
        fputs(" [", stderr);
        for (size_t i = 0; i < BAR_COLUMNS; i++) {
            fputc(i < filled ? '#' : '.', stderr);
        }
        fprintf(stderr, "] %zu of %zu", done, count);
    } else {
        struct timespec now = in_ms(0);
        fprintf(stderr, ", %ld s", (long)(now.tv_sec - progress.began.tv_sec));
    }
    fflush(stderr);
}

static void *tick(void *unused) {
    (void)unused;
    bool drawn = false;
    pthread_mutex_lock(&progress.lock);
    while (!progress.stopped) {
        struct timespec next = in_ms(drawn ? DRAW_MS : WAIT_MS);
        while (!progress.stopped &&
               pthread_cond_timedwait(&progress.stop, &progress.lock, &next) == 0) {
        }
        if (!progress.stopped) {
            draw();
            drawn = true;
        }
    }
    pthread_mutex_unlock(&progress.lock);
    if (drawn) {
        fputs("\r\033[K", stderr);
        fflush(stderr);
    }
    return NULL;
}

void vs_cli_progress_begin(void) {
    pthread_condattr_t clock;
    pthread_attr_t stack;
    if (!isatty(STDERR_FILENO)) {
        return;
    }
    progress.began = in_ms(0);
    progress.stopped = false;
    sigset_t all, before; /* signals go to the thread that writes files, which may block them */
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    /* a failure here is ignored: commands run without progress too */
    bool made = pthread_condattr_init(&clock) == 0 &&
                pthread_condattr_setclock(&clock, CLOCK_MONOTONIC) == 0 &&
                pthread_cond_init(&progress.stop, &clock) == 0;
    progress.running = made && pthread_attr_init(&stack) == 0 &&
                       pthread_attr_setstacksize(&stack, STACK_BYTES) == 0 &&
                       pthread_create(&progress.thread, &stack, tick, NULL) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
}

void vs_cli_doing(const char *words) {
    progress.words = words;
    progress.done = progress.count = 0;
}

void vs_cli_share_done(size_t done, size_t count) {
    progress.done = done;
    progress.count = count;
}

void vs_cli_progress_end(void) {
    if (!progress.running) {
        return;
    }
    pthread_mutex_lock(&progress.lock);
    progress.stopped = true;
    pthread_cond_signal(&progress.stop);
    pthread_mutex_unlock(&progress.lock);
    pthread_join(progress.thread, NULL);
    progress.running = false;
}
