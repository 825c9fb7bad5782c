/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings and the scene that they write: a scene that is read must be written as one that can be
 * read again. Which question is asked of a text hangs on the text. */
#include "fuzz.h"

#include "veilstop/base/numerics.h"
#include "veilstop/scene/file_list.h"

FUZZ_IS_JSON

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    vs_numerics_handler_off();
    return 0;
}

static const vs_ask_means means = {.read = fuzz_read_project, .write = fuzz_keep_written};

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
        vs_exit code = fuzz_ask(
            &ask, question[fuzz_hash(data, size) % (sizeof question / sizeof question[0])]);
        FUZZ_TRUE(code <= VS_EXIT_UNMET || !fuzz_has_written());
        fuzz_read_back("tests/cli/good/again.json");
    }
    vs_ask_close(&ask);
    return 0;
}
