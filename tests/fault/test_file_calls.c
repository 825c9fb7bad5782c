/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every system call made while writing a file fails in turn, and a signal arrives before each of
 * them: the old file stays or the new one is whole, and no temporary file is left. The calls below
 * override those of the C library, for the library under test and for everything here. */
#define _DEFAULT_SOURCE /* syscall */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "veilstop/report/file_out.h"

#define CALLS_FEWEST 7 /* open, write, chown, chmod, fsync, close, rename, over an old file */

static long calls;
static long failing = -1, hit = -1; /* the call that fails; the call before which a signal comes */
static int with;                    /* its errno, or the signal */

/* Counts a call; true if it is to fail. */
static bool turn(void) {
    long now = calls++;
    if (now == hit) {
        raise(with);
    }
    if (now == failing) {
        errno = with;
    }
    return now == failing;
}

int open(const char *path, int flags, ...) {
    va_list more;
    va_start(more, flags);
    int mode = flags & O_CREAT ? va_arg(more, int) : 0;
    va_end(more);
    return turn() ? -1 : (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

ssize_t write(int file, const void *bytes, size_t length) {
    return turn() ? -1 : syscall(SYS_write, file, bytes, length > 2 ? length / 2 : length);
}

int fsync(int file) {
    return turn() ? -1 : (int)syscall(SYS_fsync, file);
}

int fchmod(int file, mode_t mode) {
    return turn() ? -1 : (int)syscall(SYS_fchmod, file, mode);
}

int fchown(int file, uid_t user, gid_t group) {
    return turn() ? -1 : (int)syscall(SYS_fchown, file, user, group);
}

int rename(const char *from, const char *to) {
    return turn() ? -1 : (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
}

/* A close that fails has still closed the file, as on Linux. */
int close(int file) {
    bool fails = turn();
    int reason = errno, got = (int)syscall(SYS_close, file);
    errno = fails ? reason : errno;
    return fails ? -1 : got;
}

static void put_old(void) {
    failing = hit = -1;
    remove("out");
    CHECK_OK(vs_file_write_whole("out", "old", 3));
    CHECK_TRUE(chmod("out", 0640) == 0);
    CHECK_TRUE(geteuid() != 0 || chown("out", 1, 1) == 0);
}

static bool holds(const char *want) {
    char got[16] = "";
    FILE *file = fopen("out", "rb");
    CHECK_TRUE(file != NULL);
    size_t length = fread(got, 1, sizeof got - 1, file);
    fclose(file);
    return length == strlen(want) && strcmp(got, want) == 0;
}

static size_t entries_here(void) {
    DIR *here = opendir(".");
    size_t count = 0;
    CHECK_TRUE(here != NULL);
    while (readdir(here)) {
        count++;
    }
    closedir(here);
    return count;
}

static long count_calls(void) {
    put_old();
    calls = 0;
    CHECK_OK(vs_file_write_whole("out", "new one", 7));
    long most = calls;
    CHECK_TRUE(holds("new one") && most >= CALLS_FEWEST - (geteuid() != 0));
    return most;
}

static void every_call_fails_in_turn(void **state) {
    (void)state;
    static const int reason[] = {EIO, ENOSPC, EDQUOT, EROFS};
    long most = count_calls(), faults = 0;
    for (size_t r = 0; r < sizeof reason / sizeof reason[0]; r++) {
        for (long i = 0; i < most; i++) {
            put_old();
            size_t before = entries_here();
            calls = 0;
            failing = i;
            with = reason[r];
            vs_status status = vs_file_write_whole("out", "new one", 7);
            int said = errno;
            failing = -1;
            CHECK_TRUE(status == VS_ERR_FILE && said == reason[r]);
            CHECK_TRUE(holds("old") && entries_here() == before);
            faults++;
        }
    }
    printf("measured: %ld calls of the system failed in turn, the old file whole after each\n",
           faults);
}

/* In a process of its own, which the signal should end. */
static int write_hit_by(int signal_number, long at) {
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        signal(signal_number, SIG_DFL);
        calls = 0;
        hit = at;
        with = signal_number;
        _exit(vs_file_write_whole("out", "new one", 7) == VS_OK ? 0 : 1);
    }
    int ended = 0;
    CHECK_TRUE(child > 0 && waitpid(child, &ended, 0) == child);
    return WIFSIGNALED(ended) ? WTERMSIG(ended) : -1;
}

static void a_signal_comes_at_every_call(void **state) {
    (void)state;
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGXCPU};
    long most = count_calls(), sent = 0;
    for (size_t s = 0; s < sizeof signals / sizeof signals[0]; s++) {
        for (long i = 0; i < most; i++) {
            put_old();
            size_t before = entries_here();
            CHECK_TRUE(write_hit_by(signals[s], i) == signals[s]);
            CHECK_TRUE(entries_here() == before);
            /* if it comes as the temporary file is renamed, the new file is there */
            CHECK_TRUE(holds(i < most - 1 ? "old" : "new one"));
            sent++;
        }
    }
    printf("measured: %ld signals in the middle of a write, nothing half written left\n", sent);
}

/* Signals blocked by the caller stay blocked and do not stop the write. */
static void a_callers_own_mask_is_kept(void **state) {
    (void)state;
    sigset_t mine, after;
    put_old();
    sigemptyset(&mine);
    sigaddset(&mine, SIGTERM);
    CHECK_TRUE(sigprocmask(SIG_BLOCK, &mine, NULL) == 0 && raise(SIGTERM) == 0);
    CHECK_OK(vs_file_write_whole("out", "new one", 7));
    CHECK_TRUE(holds("new one"));
    CHECK_TRUE(sigprocmask(SIG_BLOCK, NULL, &after) == 0);
    CHECK_TRUE(sigismember(&after, SIGTERM) == 1 && sigismember(&after, SIGINT) == 0);
    signal(SIGTERM, SIG_IGN); /* discards the pending one */
    CHECK_TRUE(sigprocmask(SIG_UNBLOCK, &mine, NULL) == 0);
    signal(SIGTERM, SIG_DFL);
}

static int clean_up(void **state) {
    (void)state;
    return remove("out");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_call_fails_in_turn),
        cmocka_unit_test(a_signal_comes_at_every_call),
        cmocka_unit_test(a_callers_own_mask_is_kept),
    };
    return cmocka_run_group_tests(tests, NULL, clean_up);
}
