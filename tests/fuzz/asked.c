/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What holds for every answer, whatever was asked of what. */
#include "fuzz.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file.h"

void fuzz_broken(const char *condition, const char *file, int line) {
    fprintf(stderr, "%s:%d: does not hold: %s\n", file, line, condition);
    abort();
}

uint32_t fuzz_hash(const uint8_t *bytes, size_t length) {
    uint32_t hash = 2166136261u; /* FNV-1a */
    for (size_t i = 0; i < length; i++) {
        hash = (hash ^ bytes[i]) * 16777619u;
    }
    return hash ^ hash >> 15;
}

static bool asks_json(const char *const *word) {
    for (; *word; word++) {
        if (strcmp(*word, "--json") == 0) {
            return true;
        }
    }
    return false;
}

void fuzz_check_json(const char *text) {
    cJSON *document = cJSON_Parse(text);
    if (!document) {
        fprintf(stderr, "%s\n", text);
    }
    FUZZ_TRUE(cJSON_IsObject(document));
    cJSON_Delete(document);
}

/* A figure that came out as no number; a message may have these words of the input's too. */
bool fuzz_is_bug(int code, const char *messages) {
    return code == VS_EXIT_CONVERGENCE && strstr(messages, "a bug: the figure");
}

vs_exit fuzz_ask(vs_ask *ask, const char *const *word) {
    vs_ask_answer answer;
    vs_status status = vs_ask_command_run(ask, word, &answer);
    FUZZ_TRUE(status == VS_OK);
    bool answered = answer.exit <= VS_EXIT_UNMET;
    if (fuzz_is_bug((int)answer.exit, answer.messages) ||
        (!answered && !strstr(answer.messages, "veilstop: "))) {
        fprintf(stderr, "%s: status %d, %s\n", word[0], (int)answer.exit, answer.messages);
    }
    FUZZ_TRUE(answer.exit <= VS_EXIT_CONVERGENCE);
    FUZZ_TRUE(!fuzz_is_bug((int)answer.exit, answer.messages));
    FUZZ_TRUE(answered || strstr(answer.messages, "veilstop: "));
    FUZZ_TRUE(!answered || answer.length > 0);
    FUZZ_TRUE(strlen(answer.text) == answer.length);
    if (answered && asks_json(word)) {
        fuzz_check_json(answer.text);
    }
    vs_exit code = answer.exit;
    vs_ask_answer_free(&answer);
    return code;
}

static struct {
    char *bytes;
    size_t length;
} written;

static void forget_written(void) {
    free(written.bytes);
    written.bytes = NULL;
}

vs_status fuzz_keep_written(void *context, const char *path, const void *bytes, size_t length) {
    (void)context;
    forget_written();
    if (strstr(path, ".json")) { /* others are grades, notes and pictures */
        written.bytes = malloc(length + 1);
        FUZZ_TRUE(written.bytes != NULL);
        memcpy(written.bytes, bytes, length);
        written.length = length;
    }
    return VS_OK;
}

bool fuzz_has_written(void) {
    return written.bytes != NULL;
}

void fuzz_read_back(const char *name) {
    static const vs_ask_means means = {.read = fuzz_read_project};
    vs_ask again;
    vs_faults faults = {0};
    if (!written.bytes) {
        return;
    }
    vs_status status = vs_ask_open(&again, written.bytes, written.length, name, &means, &faults);
    if (status != VS_OK && faults.count > 0) {
        fuzz_broken(faults.item[0].text, faults.item[0].where, 0);
    }
    FUZZ_TRUE(status == VS_OK);
    vs_ask_close(&again);
    forget_written();
}

static void project_path(char *full, size_t size, const char *path) {
    const char *tests = getenv("VS_TESTS");
    snprintf(full, size, "%s/../%s", tests ? tests : "tests", path);
}

vs_status fuzz_read_project(void *context, const char *path, size_t most, char **bytes,
                            size_t *length) {
    char full[1024];
    (void)context;
    project_path(full, sizeof full, path);
    return vs_file_read_whole(full, most, bytes, length);
}

vs_status fuzz_read_one(void *context, const char *path, size_t most, char **bytes,
                        size_t *length) {
    const fuzz_file *file = context;
    size_t name = strlen(file->name), whole = strlen(path);
    *bytes = NULL;
    *length = 0;
    if (whole < name || strcmp(path + whole - name, file->name) != 0 || file->length > most) {
        errno = ENOENT;
        return VS_ERR_FILE;
    }
    *bytes = malloc(file->length + 1);
    if (!*bytes) {
        return VS_ERR_MEMORY;
    }
    memcpy(*bytes, file->bytes, file->length);
    (*bytes)[file->length] = '\0';
    *length = file->length;
    return VS_OK;
}

char *fuzz_project_text(const char *path, size_t *length) {
    char *bytes;
    FUZZ_TRUE(fuzz_read_project(NULL, path, 1u << 20, &bytes, length) == VS_OK);
    return bytes;
}

void fuzz_open_small(vs_ask *ask) {
    static const vs_ask_means means = {.read = fuzz_read_project, .write = fuzz_keep_written};
    static const char path[] = "tests/fuzz/scenes/small.json";
    size_t length;
    vs_faults faults = {0};
    vs_numerics_handler_off();
    char *scene = fuzz_project_text(path, &length);
    FUZZ_TRUE(vs_ask_open(ask, scene, length, path, &means, &faults) == VS_OK);
    free(scene);
}
