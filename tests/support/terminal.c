/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See terminal.h. The terminal's far end is held open here until the program has ended, so that
 * what it wrote last is not lost. */
#define _XOPEN_SOURCE 700 /* posix_openpt and its companions */
#include "terminal.h"

#include <fcntl.h>
#include <poll.h>
#include <stdbool.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"

#define OUT_BYTES     (1u << 19) /* more than any answer */
#define LOOK_EVERY_MS 10

static void child(const char *shell, int stream, const char *far_end) {
    char root[TESTS_PATH_SIZE];
    int nowhere = open("/dev/null", O_RDWR), far = open(far_end, O_RDWR | O_NOCTTY);
    for (int i = 0; i < 3; i++) {
        dup2(i == stream ? far : nowhere, i);
    }
    tests_path(root, "..");
    unsetenv("NO_COLOR");
    setenv("LC_ALL", "C", 1);
    if (far >= 0 && chdir(root) == 0) {
        execlp("sh", "sh", "-c", shell, (char *)NULL);
    }
    _exit(127);
}

/* Appends what is there after `length` bytes; returns the new length. */
static size_t take(int terminal, char *out, size_t length) {
    ssize_t got;
    while (length + 1 < OUT_BYTES &&
           (got = read(terminal, out + length, OUT_BYTES - length - 1)) > 0) {
        length += (size_t)got;
    }
    return length;
}

char *terminal_run(const char *shell, int stream, int *status) {
    char *out = malloc(OUT_BYTES);
    int terminal = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK), ended = 0;
    CHECK_TRUE(out && terminal >= 0 && grantpt(terminal) == 0 && unlockpt(terminal) == 0);
    int far = open(ptsname(terminal), O_RDWR | O_NOCTTY);
    CHECK_TRUE(far >= 0);
    pid_t pid = fork();
    if (pid == 0) {
        child(shell, stream, ptsname(terminal));
    }
    size_t length = 0;
    for (bool done = false; !done;) {
        struct pollfd more = {terminal, POLLIN, 0};
        poll(&more, 1, LOOK_EVERY_MS);
        done = waitpid(pid, &ended, WNOHANG) == pid;
        length = take(terminal, out, length);
    }
    out[length] = '\0';
    close(far);
    close(terminal);
    CHECK_TRUE(WIFEXITED(ended));
    *status = WEXITSTATUS(ended);
    return out;
}
