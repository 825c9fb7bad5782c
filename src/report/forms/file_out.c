/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A temporary file is written beside the target and renamed onto it: see the header. */
#include "veilstop/report/file_out.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#ifndef PATH_MAX
#define PATH_MAX 4096 /* [bytes] if the system defines none: our choice */
#endif
#define LINKS_MOST 40   /* links in a chain, as many as Linux follows */
#define NAMES_MOST 1000 /* names tried for the temporary file: our choice */
#define NAME_SIZE  64   /* [bytes] of its name */

/* The signals from outside that end a program unless caught. */
static const int held[] = {SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGALRM, SIGUSR1, SIGUSR2, SIGXCPU};
#define HELD (sizeof held / sizeof held[0])

/* Bytes of a path up to and including its last slash. */
static size_t folder_length(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? (size_t)(slash - path) + 1 : 0;
}

/* The target of a link, relative to where `path` was; NULL with errno set. */
static char *read_link(const char *path) {
    char to[PATH_MAX];
    ssize_t length = readlink(path, to, sizeof to);
    if (length < 0 || (size_t)length == sizeof to) {
        errno = length < 0 ? errno : ENAMETOOLONG;
        return NULL;
    }
    size_t before = to[0] == '/' ? 0 : folder_length(path);
    char *target = malloc(before + (size_t)length + 1);
    if (target) {
        memcpy(target, path, before);
        memcpy(target + before, to, (size_t)length);
        target[before + (size_t)length] = '\0';
    }
    return target;
}

/* The path of the file itself with all links resolved, whether it exists or not; NULL with errno
 * set. */
static char *follow_links(const char *path) {
    char *target = strdup(path);
    for (int i = 0; target; i++) {
        struct stat there;
        if (lstat(target, &there) != 0 || !S_ISLNK(there.st_mode)) {
            return target;
        }
        char *next = i < LINKS_MOST ? read_link(target) : NULL;
        int reason = i < LINKS_MOST ? errno : ELOOP;
        free(target);
        target = next;
        errno = reason;
    }
    return NULL;
}

/* 0 if what is there may be replaced, else the errno that says why not. */
static int why_not_replace(const char *path, const struct stat *there) {
    if (!S_ISREG(there->st_mode)) {
        return S_ISDIR(there->st_mode) ? EISDIR : ENXIO;
    }
    if (there->st_nlink > 1) {
        return EMLINK;
    }
    bool read_only = (there->st_mode & (S_IWUSR | S_IWGRP | S_IWOTH)) == 0;
    return read_only || access(path, W_OK) != 0 ? EACCES : 0;
}

/* Opens a new temporary file; its path in *part, to be freed. */
static int open_neighbour(const char *path, mode_t mode, char **part) {
    size_t folder = folder_length(path);
    int file = -1;
    *part = malloc(folder + NAME_SIZE);
    for (int i = 0; *part && i < NAMES_MOST; i++) {
        memcpy(*part, path, folder);
        snprintf(*part + folder, NAME_SIZE, "veilstop-%ld-%d.part", (long)getpid(), i);
        file = open(*part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOCTTY, mode);
        if (file >= 0 || errno != EEXIST) {
            break;
        }
    }
    return file;
}

static bool write_all(int file, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t written = write(file, bytes, length);
        if (written < 0 && errno != EINTR) {
            return false;
        }
        bytes += written > 0 ? written : 0;
        length -= written > 0 ? (size_t)written : 0;
    }
    return true;
}

/* Owner before mode: changing the owner may clear bits of the mode. */
static bool keep_owner_and_mode(int file, const struct stat *old) {
    struct stat now;
    if (fstat(file, &now) != 0) {
        return false;
    }
    bool same = now.st_uid == old->st_uid && now.st_gid == old->st_gid;
    return (same || fchown(file, old->st_uid, old->st_gid) == 0) &&
           fchmod(file, old->st_mode & 07777) == 0;
}

static void hold_signals(sigset_t *before) {
    sigset_t more;
    sigemptyset(&more);
    for (size_t i = 0; i < HELD; i++) {
        sigaddset(&more, held[i]);
    }
    pthread_sigmask(SIG_BLOCK, &more, before);
}

/* Whether a signal is pending that was not blocked before. */
static bool signal_waits(const sigset_t *before) {
    sigset_t now;
    sigpending(&now);
    for (size_t i = 0; i < HELD; i++) {
        if (sigismember(&now, held[i]) == 1 && sigismember(before, held[i]) == 0) {
            errno = EINTR;
            return true;
        }
    }
    return false;
}

/* old: what is there, NULL if nothing. The signals are blocked. */
static vs_status put_beside(const char *path, const struct stat *old, const void *bytes,
                            size_t length, const sigset_t *before) {
    char *part;
    int file = open_neighbour(path, old ? S_IRUSR | S_IWUSR : 0666, &part);
    bool good = file >= 0;
    if (good) {
        good = write_all(file, bytes, length) && (!old || keep_owner_and_mode(file, old)) &&
               fsync(file) == 0;
        int reason = errno;
        bool closed = close(file) == 0;
        errno = good ? errno : reason;
        good = good && closed && !signal_waits(before) && rename(part, path) == 0;
        reason = errno;
        if (!good) {
            unlink(part);
        }
        errno = reason;
    }
    vs_status status = good ? VS_OK : part ? VS_ERR_FILE : VS_ERR_MEMORY;
    int reason = errno;
    free(part);
    errno = reason;
    return status;
}

static vs_status write_to(const char *path, const void *bytes, size_t length) {
    struct stat old;
    bool there = stat(path, &old) == 0;
    if (!there && errno != ENOENT) {
        return VS_ERR_FILE;
    }
    int why_not = there ? why_not_replace(path, &old) : 0;
    if (why_not) {
        errno = why_not;
        return VS_ERR_FILE;
    }
    sigset_t before;
    hold_signals(&before);
    vs_status status = put_beside(path, there ? &old : NULL, bytes, length, &before);
    int reason = errno;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    errno = reason;
    return status;
}

vs_status vs_file_write_whole(const char *path, const void *bytes, size_t length) {
    char *target = follow_links(path);
    if (!target) {
        return errno == ENOMEM ? VS_ERR_MEMORY : VS_ERR_FILE;
    }
    vs_status status = write_to(target, bytes, length);
    int reason = errno;
    free(target);
    errno = reason;
    return status;
}
