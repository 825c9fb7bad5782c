/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "cli/cli.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/apart.h"
#include "cli/csv.h"
#include "cli/pool.h"
#include "cli/progress.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/file_out.h"

static vs_status write_file(void *context, const char *path, const void *bytes, size_t length) {
    (void)context;
    return vs_file_write_whole(path, bytes, length);
}

vs_exit vs_cli_write(const char *path, const void *bytes, size_t length) {
    vs_status status = vs_file_write_whole(path, bytes, length);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_file(path, "written");
}

vs_exit vs_cli_write_made(const char *path, vs_status made, unsigned char *bytes, size_t length) {
    if (made != VS_OK) {
        return vs_ask_fail_status(made, path);
    }
    vs_exit code = vs_cli_write(path, bytes, length);
    free(bytes);
    return code;
}

static size_t workers(void *context, size_t count) {
    (void)context;
    return vs_cli_workers(count);
}

static void each(void *context, size_t count, const char *doing,
                 void (*job)(void *context, size_t worker, size_t i), void *job_context) {
    (void)context;
    vs_cli_each(count, doing, job, job_context);
}

static void doing(void *context, const char *words) {
    (void)context;
    vs_cli_doing(words);
}

static void share_done(void *context, size_t done, size_t count) {
    (void)context;
    vs_cli_share_done(done, count);
}

static vs_status png(void *context, const vs_picture *picture, unsigned char **bytes,
                     size_t *length) {
    (void)context;
    return vs_png_write(picture, bytes, length);
}

/* Whether standard output wants colour: a terminal, and NO_COLOR not set (no-color.org). */
static bool wants_colour(void) {
    const char *no_color = getenv("NO_COLOR");
    return !(no_color && *no_color) && isatty(STDOUT_FILENO);
}

void vs_cli_begin(vs_ask_context *context) {
    static const vs_ask_means means = {.write = write_file,
                                       .workers = workers,
                                       .each = each,
                                       .doing = doing,
                                       .share_done = share_done,
                                       .png = png};
    vs_ask_context_begin(context, &means);
    context->system_files = true;
    context->colour = wants_colour();
    context->outputs_spare = vs_cli_outputs_spare;
}

/* Replaces the answer by its tables. */
static vs_exit make_csv(vs_text *answer, vs_exit code) {
    vs_text csv;
    vs_text_init(&csv);
    vs_status made = answer->failed        ? VS_ERR_MEMORY
                     : answer->length == 0 ? VS_OK
                                           : vs_cli_csv(answer->bytes, &csv);
    vs_text_free(answer);
    *answer = csv;
    return made == VS_OK ? code : vs_ask_fail_status(made, "--csv");
}

static vs_exit print(const vs_text *answer, vs_exit code) {
    if (answer->failed) {
        return vs_ask_fail(VS_EXIT_FILE, "standard output: out of memory");
    }
    if (answer->length > 0) {
        fwrite(answer->bytes, 1, answer->length, stdout);
    }
    if (fflush(stdout) != 0 || ferror(stdout)) {
        return vs_ask_fail(VS_EXIT_FILE, "standard output: %s", strerror(errno));
    }
    return code;
}

vs_exit vs_cli_end(vs_ask_context *context, bool csv, vs_exit code) {
    if (csv) {
        code = make_csv(&context->text, code);
    }
    vs_cli_progress_end();
    code = print(&context->text, code);
    if (context->messages.length > 0) {
        fwrite(context->messages.bytes, 1, context->messages.length, stderr);
    }
    if (context->messages.failed) {
        fputs("veilstop: out of memory\n", stderr);
        code = code == VS_EXIT_DONE ? VS_EXIT_INPUT : code;
    }
    vs_ask_context_end(context);
    return code;
}
