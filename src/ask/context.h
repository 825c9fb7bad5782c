/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The question this thread is answering: where its output goes, and what the caller lends. Set for
 * the duration of one question, one per thread, so that it need not be passed through every
 * call. */
#ifndef VEILSTOP_ASK_CONTEXT_H
#define VEILSTOP_ASK_CONTEXT_H

#include "veilstop/ask/means.h"
#include "veilstop/base/error.h"
#include "veilstop/base/runner.h"
#include "veilstop/report/json.h"
#include "veilstop/report/text.h"
#include "veilstop/scene/file.h"
#include "veilstop/scene/scene_file.h"

struct vs_ask_args;
struct vs_ask_kept;

typedef struct {
    vs_ask_means means;
    vs_file_reader reader;            /* of the means */
    vs_runner runner, drawing_runner; /* of the means; the second says "drawing" meanwhile */
    struct vs_ask_kept *kept;         /* the handle in use; NULL: scenes are read by path */
    bool system_files;                /* use the system's files, whatever the means */
    bool colour;                      /* in tables */
    /* Whether the files to be written differ from those the scene reads; NULL: not checked. */
    bool (*outputs_spare)(const struct vs_ask_args *args, const vs_scene_file *file);
    vs_text text, messages; /* so far */
    vs_text *gathered;      /* in place of text; NULL: none */
} vs_ask_context;

/* Begins and ends a question of this thread.  means  NULL: none */
void vs_ask_context_begin(vs_ask_context *context, const vs_ask_means *means);
void vs_ask_context_end(vs_ask_context *context);
/* The current question of this thread. */
vs_ask_context *vs_ask_context_here(void);

/* By the means. */
size_t vs_ask_workers(size_t count);
void vs_ask_each(size_t count, const char *doing,
                 void (*job)(void *context, size_t worker, size_t i), void *context);
/* The same for those that know no means. */
const vs_runner *vs_ask_runner(void);
const vs_runner *vs_ask_drawing_runner(void);
void vs_ask_doing(const char *words);
void vs_ask_share_done(size_t done, size_t count);
VS_WARN_UNUSED vs_status vs_ask_file_read(const char *path, size_t most, char **bytes,
                                          size_t *length);
VS_WARN_UNUSED vs_status vs_ask_file_write(const char *path, const void *bytes, size_t length);
bool vs_ask_colour(void);
/* The same as a reader for scenes and data; NULL: the system's files. */
const vs_file_reader *vs_ask_files(void);
/* Why the last of these failed. */
const char *vs_ask_reason(const char *path);

/* Appends the name of a file, escaped (vs_utf8_escape). */
void vs_ask_add_name(vs_text *out, const char *name);

/* Adds the message "veilstop: ..."; returns `status`, so that a command can end with it. */
vs_exit vs_ask_fail(vs_exit status, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Each fault of an input on a line of its own, "veilstop: FILE:WHERE: TEXT"; VS_EXIT_INPUT. */
vs_exit vs_ask_fail_faults(const char *file, const vs_faults *faults);
/* "PATH: must be a file that can be DONE (got: errno's text)"; VS_EXIT_FILE. done: read, written */
vs_exit vs_ask_fail_file(const char *path, const char *done);
/* The exit status for a failure of the core, after a message. */
vs_exit vs_ask_fail_status(vs_status status, const char *doing);

/* Adds to the answer; `status` if that worked, else VS_EXIT_FILE. */
vs_exit vs_ask_print(const vs_text *text, vs_exit status);
/* The same for an answer that may be JSON: a figure that is not a number is a bug, reported with
 * its key in place of the answer. */
vs_exit vs_ask_print_answer(const vs_text *text, const vs_json *json, vs_exit status);

#endif
