/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/context.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/utf8.h"

static _Thread_local vs_ask_context *here;

/* Reads files by the caller's means; without one there are no files. */
static vs_status read_by_means(void *context, const char *path, size_t most, char **bytes,
                               size_t *length) {
    const vs_ask_means *means = context;
    if (means->read) {
        return means->read(means->context, path, most, bytes, length);
    }
    *bytes = NULL;
    *length = 0;
    errno = ENOENT;
    return VS_ERR_FILE;
}

static size_t workers_by_means(void *context, size_t count) {
    const vs_ask_means *means = context;
    size_t workers = means->workers && means->each ? means->workers(means->context, count) : 1;
    return workers > 0 ? workers : 1;
}

static void each_by(const vs_ask_means *means, size_t count, const char *doing,
                    void (*job)(void *job_context, size_t worker, size_t i), void *job_context) {
    if (means->each) {
        means->each(means->context, count, doing, job, job_context);
    } else {
        vs_runner_or_plain(NULL)->each(NULL, count, job, job_context);
    }
}

static void each_quietly(void *means, size_t count,
                         void (*job)(void *job_context, size_t worker, size_t i),
                         void *job_context) {
    each_by(means, count, NULL, job, job_context);
}

static void each_drawing(void *means, size_t count,
                         void (*job)(void *job_context, size_t worker, size_t i),
                         void *job_context) {
    each_by(means, count, "drawing", job, job_context);
}

void vs_ask_context_begin(vs_ask_context *context, const vs_ask_means *means) {
    static const vs_ask_means none = {.context = NULL};
    memset(context, 0, sizeof *context);
    context->means = means ? *means : none;
    context->reader = (vs_file_reader){read_by_means, &context->means};
    context->runner = (vs_runner){&context->means, workers_by_means, each_quietly};
    context->drawing_runner = (vs_runner){&context->means, workers_by_means, each_drawing};
    vs_text_init(&context->text);
    vs_text_init(&context->messages);
    here = context;
}

void vs_ask_context_end(vs_ask_context *context) {
    vs_text_free(&context->text);
    vs_text_free(&context->messages);
    here = NULL;
}

vs_ask_context *vs_ask_context_here(void) {
    return here;
}

size_t vs_ask_workers(size_t count) {
    return workers_by_means(&here->means, count);
}

const vs_runner *vs_ask_runner(void) {
    return &here->runner;
}

const vs_runner *vs_ask_drawing_runner(void) {
    return &here->drawing_runner;
}

void vs_ask_each(size_t count, const char *doing,
                 void (*job)(void *context, size_t worker, size_t i), void *context) {
    each_by(&here->means, count, doing, job, context);
}

void vs_ask_doing(const char *words) {
    if (here->means.doing) {
        here->means.doing(here->means.context, words);
    }
}

void vs_ask_share_done(size_t done, size_t count) {
    if (here->means.share_done) {
        here->means.share_done(here->means.context, done, count);
    }
}

vs_status vs_ask_file_read(const char *path, size_t most, char **bytes, size_t *length) {
    return vs_file_read_by(vs_ask_files(), path, most, bytes, length);
}

vs_status vs_ask_file_write(const char *path, const void *bytes, size_t length) {
    if (here->means.write) {
        return here->means.write(here->means.context, path, bytes, length);
    }
    errno = EROFS;
    return VS_ERR_FILE;
}

const vs_file_reader *vs_ask_files(void) {
    return here->system_files ? NULL : &here->reader;
}

bool vs_ask_colour(void) {
    return here->colour;
}

/* Names come from files and command lines and may contain anything. If memory runs out the name is
 * cut, not the message. */
static void add_message(const char *text) {
    char few[512];
    size_t size = vs_utf8_escape(text, NULL, 0) + 1;
    char *line = size <= sizeof few ? few : malloc(size);
    if (line) {
        vs_utf8_escape(text, line, size);
    } else {
        vs_utf8_escape(text, line = few, sizeof few);
    }
    vs_text_addf(&here->messages, "veilstop: %s\n", line);
    if (line != few) {
        free(line);
    }
}

vs_exit vs_ask_fail(vs_exit status, const char *format, ...) {
    char few[512];
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    int length = vsnprintf(few, sizeof few, format, arguments);
    char *text = length < (int)sizeof few ? few : malloc((size_t)length + 1);
    if (text && text != few) {
        vsnprintf(text, (size_t)length + 1, format, again);
    }
    add_message(text ? text : few);
    if (text != few) {
        free(text);
    }
    va_end(again);
    va_end(arguments);
    return status;
}

void vs_ask_add_name(vs_text *out, const char *name) {
    size_t size = vs_utf8_escape(name, NULL, 0) + 1;
    char *shown = malloc(size);
    if (shown) {
        vs_utf8_escape(name, shown, size);
        vs_text_add(out, shown, size - 1);
    }
    out->failed = out->failed || !shown;
    free(shown);
}

vs_exit vs_ask_fail_faults(const char *file, const vs_faults *faults) {
    for (size_t i = 0; i < faults->count; i++) {
        const vs_fault *fault = &faults->item[i];
        vs_ask_fail(VS_EXIT_INPUT, "%s:%s%s%s", file, fault->where, fault->where[0] ? ": " : " ",
                    fault->text);
    }
    if (faults->more > 0) {
        vs_ask_fail(VS_EXIT_INPUT, "%s: and %zu more", file, faults->more);
    }
    return VS_EXIT_INPUT;
}

vs_exit vs_ask_fail_status(vs_status status, const char *doing) {
    vs_exit code = status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE
                   : status == VS_ERR_FILE      ? VS_EXIT_FILE
                                                : VS_EXIT_INPUT;
    return vs_ask_fail(code, "%s: %s", doing, vs_status_text(status));
}

const char *vs_ask_reason(const char *path) {
    const vs_ask_means *means = &here->means;
    int reason = errno;
    if (here->system_files) {
        return vs_file_reason(path, reason);
    }
    return means->reason ? means->reason(means->context, path, reason) : strerror(reason);
}

vs_exit vs_ask_fail_file(const char *path, const char *done) {
    return vs_ask_fail(VS_EXIT_FILE, "%s: must be a file that can be %s (got: %s)", path, done,
                       vs_ask_reason(path));
}

vs_exit vs_ask_print(const vs_text *text, vs_exit status) {
    if (text->failed) {
        return vs_ask_fail(VS_EXIT_FILE, "standard output: out of memory");
    }
    vs_text_add(here->gathered ? here->gathered : &here->text, text->bytes, text->length);
    return status;
}

vs_exit vs_ask_print_answer(const vs_text *text, const vs_json *json, vs_exit status) {
    return json->broken[0] ? vs_ask_fail(VS_EXIT_CONVERGENCE,
                                         "a bug: the figure \"%s\" came out as no number; please "
                                         "report it",
                                         json->broken)
                           : vs_ask_print(text, status);
}
