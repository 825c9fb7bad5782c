/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings and the scene that they write: a scene that is read must be written as one that can be
 * read again, and says the same when asked again. */
#include "fuzz.h"

#include <stdlib.h>
#include <string.h>

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file_list.h"

FUZZ_IS_JSON

static char *written;
static size_t written_length;

static vs_status keep(void *context, const char *path, const void *bytes, size_t length) {
    (void)context;
    (void)path;
    free(written);
    written = malloc(length + 1);
    FUZZ_TRUE(written != NULL);
    memcpy(written, bytes, length);
    written_length = length;
    return VS_OK;
}

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    return 0;
}

static const vs_ask_means means = {.read = fuzz_read_project, .write = keep};

static void read_back(void) {
    vs_ask again;
    vs_faults faults = {0};
    vs_status status =
        vs_ask_open(&again, written, written_length, "tests/cli/good/again.json", &means, &faults);
    if (status != VS_OK && faults.count > 0) {
        fuzz_broken(faults.item[0].text, faults.item[0].where, 0);
    }
    FUZZ_TRUE(status == VS_OK);
    vs_ask_close(&again);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const char *const question[][7] = {
        {"reading", "--write", "out.json", "--json"},
        {"reading", "--write", "out.json", "--as", "decay", "--json"},
        {"reading", "--write", "out.json", "--as", "plan"},
        {"reading", "--json", "--units", "ft"}};
    vs_ask ask;
    vs_faults faults = {0};
    if (vs_ask_open(&ask, (const char *)data, size, "tests/cli/good/fuzzed.json", &means,
                    &faults) != VS_OK) {
        return 0;
    }
    if (vs_ask_scene_of(&ask)->room_count <= 6) {
        for (size_t i = 0; i < sizeof question / sizeof question[0]; i++) {
            free(written);
            written = NULL;
            vs_exit code = fuzz_ask(&ask, question[i]);
            FUZZ_TRUE(code <= VS_EXIT_UNMET || !written);
            if (written) {
                read_back();
            }
        }
    }
    free(written);
    written = NULL;
    vs_ask_close(&ask);
    return 0;
}
