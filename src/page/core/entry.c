/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene opened once and asked often, by the library's front door: (words) in, (exit, JSON,
 * messages) out. All in memory; the page's JavaScript calls these by name. */
#include <stdlib.h>
#include <string.h>

#include "page/core/page.h"
#include "veilstop/base/numerics.h"
#include "veilstop/report/json.h"

#define WORDS_MAX 64 /* of one question: our choice */

static vs_text faults_json; /* of the last scene opened */

static vs_status read_file(void *context, const char *path, size_t most, char **bytes,
                           size_t *length) {
    (void)context;
    return vs_page_read_file(path, most, bytes, length);
}

static vs_status write_file(void *context, const char *path, const void *bytes, size_t length) {
    (void)context;
    return vs_page_put_file(path, bytes, length) ? VS_OK : VS_ERR_FILE;
}

static const char *reason(void *context, const char *path, int why) {
    (void)context;
    (void)path;
    (void)why;
    return "the page does not have it";
}

static void share_done(void *context, size_t done, size_t count) {
    (void)context;
    vs_page_share_done((int)done, (int)count);
}

static void each(void *context, size_t count, const char *doing,
                 void (*job)(void *job_context, size_t worker, size_t i), void *job_context) {
    for (size_t i = 0; i < count; i++) {
        job(job_context, 0, i);
        if (doing) {
            share_done(context, i + 1, count);
        }
    }
}

static const vs_ask_means means = {.read = read_file,
                                   .write = write_file,
                                   .reason = reason,
                                   .each = each,
                                   .share_done = share_done};

static void tell_faults(const vs_faults *faults) {
    vs_json json;
    vs_text_free(&faults_json);
    vs_json_begin(&json, &faults_json);
    vs_json_open_object(&json, NULL);
    vs_json_open_array(&json, "faults");
    for (size_t i = 0; i < faults->count; i++) {
        vs_json_open_object(&json, NULL);
        vs_json_string(&json, "where", faults->item[i].where);
        vs_json_string(&json, "text", faults->item[i].text);
        vs_json_close_object(&json);
    }
    vs_json_close_array(&json);
    vs_json_close_object(&json);
}

PAGE_EXPORT(vs_page_close)
void vs_page_close(vs_page *page) {
    if (page) {
        for (size_t i = 0; i < VS_PAGE_VIEWS; i++) {
            vs_page_close_view(&page->view[i]);
        }
        vs_page_close_numbers(page);
        vs_page_close_scout(&page->scout);
        vs_ask_answer_free(&page->answer);
        vs_ask_close(&page->ask);
        free(page);
    }
}

PAGE_EXPORT(vs_page_open)
vs_page *vs_page_open(const char *text, size_t length, const char *name) {
    vs_numerics_handler_off();
    vs_faults faults = {0};
    vs_page *page = calloc(1, sizeof *page);
    vs_status status =
        page ? vs_ask_open(&page->ask, text, length, name, &means, &faults) : VS_ERR_MEMORY;
    tell_faults(&faults);
    if (status != VS_OK) {
        free(page);
        return NULL;
    }
    return page;
}

PAGE_EXPORT(vs_page_faults)
const char *vs_page_faults(void) {
    return faults_json.bytes;
}

PAGE_EXPORT(vs_page_run)
int vs_page_run(vs_page *page, const char *words) {
    const char *word[WORDS_MAX + 1] = {NULL};
    size_t count = 0;
    for (; *words && count < WORDS_MAX; words += strlen(words) + 1) {
        word[count++] = words;
    }
    vs_ask_answer_free(&page->answer);
    memset(&page->answer, 0, sizeof page->answer);
    vs_status status = vs_ask_command_run(&page->ask, word, &page->answer);
    return status == VS_OK ? (int)page->answer.exit : VS_EXIT_CONVERGENCE;
}

PAGE_EXPORT(vs_page_answer)
const char *vs_page_answer(const vs_page *page) {
    return page->answer.text;
}

PAGE_EXPORT(vs_page_messages)
const char *vs_page_messages(const vs_page *page) {
    return page->answer.messages;
}
