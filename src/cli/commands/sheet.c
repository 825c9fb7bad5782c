/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop sheet: the library's answer, and its pages as a PDF where Chromium is there to lay them
 * out. Chromium reads the sheet from a folder of its own and nothing else. */
#define _XOPEN_SOURCE 700 /* nftw */
#include "ask/sheet/sheet.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "ask/day_plan.h"
#include "cli/cli.h"
#include "veilstop/scene/file.h"

#define PDF_BYTES_MAX (1u << 28) /* [bytes] our choice */
#define PATIENCE_S    120        /* [s] for Chromium: our choice */
#define WAIT_MS       50         /* [ms] between checks whether it is done */
#define FOLDERS_OPEN  16         /* at a time, of a tree that is removed */
#define PATH_SIZE     4096       /* [bytes] of paths in the folder */

extern char **environ;

typedef struct {
    char folder[PATH_SIZE / 2], html[PATH_SIZE], pdf[PATH_SIZE], profile[PATH_SIZE + 32];
} workshop;

/* Starts a program, its output discarded; false where there is none of that name. */
static bool start(char *const *word, pid_t *child) {
    posix_spawn_file_actions_t actions;
    if (posix_spawn_file_actions_init(&actions) != 0) {
        return false;
    }
    bool good =
        posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0) == 0 &&
        posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0) == 0 &&
        posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0) == 0 &&
        posix_spawnp(child, word[0], &actions, NULL, word, environ) == 0;
    posix_spawn_file_actions_destroy(&actions);
    return good;
}

/* Waits until it is done; false where it failed or took too long, in which case it is stopped. */
static bool wait_for(pid_t child) {
    const struct timespec pause = {0, WAIT_MS * 1000000L};
    int status = 1;
    for (int waited = 0; waited < PATIENCE_S * 1000; waited += WAIT_MS) {
        pid_t done = waitpid(child, &status, WNOHANG);
        if (done != 0) {
            return done == child && WIFEXITED(status) && WEXITSTATUS(status) == 0;
        }
        nanosleep(&pause, NULL);
    }
    kill(child, SIGKILL);
    waitpid(child, &status, 0);
    return false;
}

static vs_exit open_workshop(workshop *w) {
    const char *temporary = getenv("TMPDIR");
    snprintf(w->folder, sizeof w->folder, "%s/veilstop-XXXXXX",
             temporary && *temporary ? temporary : "/tmp");
    if (!mkdtemp(w->folder)) {
        return vs_ask_fail(VS_EXIT_FILE, "--pdf: %s: %s", w->folder, strerror(errno));
    }
    snprintf(w->html, sizeof w->html, "%s/sheet.html", w->folder);
    snprintf(w->pdf, sizeof w->pdf, "%s/sheet.pdf", w->folder);
    snprintf(w->profile, sizeof w->profile, "--user-data-dir=%s/profile", w->folder);
    return VS_EXIT_DONE;
}

/* Chromium leaves a tree of files behind. */
static int remove_entry(const char *path, const struct stat *about, int kind, struct FTW *where) {
    (void)about;
    (void)kind;
    (void)where;
    return remove(path);
}

static void close_workshop(const workshop *w) {
    nftw(w->folder, remove_entry, FOLDERS_OPEN, FTW_DEPTH | FTW_PHYS);
}

static vs_exit fail_chromium(const vs_ask_args *args) {
    const char *out = vs_ask_value(args, "out");
    return vs_ask_fail(VS_EXIT_FILE,
                       "--pdf: needs Chromium: install it (Debian: apt-get install chromium), or "
                       "print %s from a browser",
                       out ? out : "the page that --out writes");
}

/* Lays the sheet out on pages. Root has no sandbox of its own. */
static vs_exit print_pages(const vs_ask_args *args, const workshop *w) {
    char print[PATH_SIZE + 32], url[PATH_SIZE + 32], profile[sizeof w->profile];
    char name[] = "chromium", headless[] = "--headless", gpu[] = "--disable-gpu";
    char plain[] = "--no-pdf-header-footer", tagged[] = "--generate-pdf-document-outline";
    char first[] = "--no-first-run", offline[] = "--disable-background-networking";
    char sandbox[] = "--no-sandbox", same[] = "--disable-extensions";
    snprintf(print, sizeof print, "--print-to-pdf=%s", w->pdf);
    snprintf(url, sizeof url, "file://%s", w->html);
    memcpy(profile, w->profile, sizeof profile);
    char *const word[] = {name,  headless, gpu,   plain,   tagged,
                          first, offline,  print, profile, geteuid() == 0 ? sandbox : same,
                          url,   NULL};
    pid_t child;
    if (!start(word, &child)) {
        return fail_chromium(args);
    }
    return wait_for(child) ? VS_EXIT_DONE
                           : vs_ask_fail(VS_EXIT_FILE, "--pdf: Chromium could not lay the sheet "
                                                       "out; print it from a browser");
}

static vs_exit keep_pages(const vs_ask_args *args, const workshop *w) {
    const char *path = vs_ask_value(args, "pdf");
    char *bytes;
    size_t length;
    if (vs_file_read_whole(w->pdf, PDF_BYTES_MAX, &bytes, &length) != VS_OK) {
        return vs_ask_fail(VS_EXIT_FILE, "--pdf: Chromium wrote no pages; print the sheet from a "
                                         "browser");
    }
    vs_exit code = vs_cli_write(path, bytes, length);
    free(bytes);
    return code;
}

static vs_exit write_pdf(const vs_ask_args *args, const vs_text *html) {
    workshop w;
    if (!vs_ask_value(args, "pdf")) {
        return VS_EXIT_DONE;
    }
    vs_ask_doing("laying out pages");
    vs_exit code = open_workshop(&w);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    code = vs_cli_write(w.html, html->bytes, html->length);
    if (code == VS_EXIT_DONE) {
        code = print_pages(args, &w);
    }
    if (code == VS_EXIT_DONE) {
        code = keep_pages(args, &w);
    }
    close_workshop(&w);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    return vs_ask_sheet(args, write_pdf);
}

const vs_ask_command vs_cli_sheet = {
    .name = "sheet",
    .operands = "SCENE.json",
    .summary = VS_ASK_SHEET_SUMMARY,
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHEET_OUT,
               {"pdf", "FILE.pdf", "its pages, where Chromium is installed"},
               VS_ASK_ORDER,
               VS_ASK_SHEET_PAPER,
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"sheet data/demo/cellar.json --out day.html",
                "sheet data/demo/cellar.json --out day.html --pdf day.pdf"},
    .run = run,
};
