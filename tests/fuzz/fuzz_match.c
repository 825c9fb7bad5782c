/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes as the pairs of pixels and places that say where a photo was taken from. The first byte chooses
 * the shot, the photo's size and whether the focal length is given; the scene is opened once. */
#include "fuzz.h"

#include <stdlib.h>
#include <string.h>

#define TEXT_MAX 2048

static vs_ask ask;

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    fuzz_open_small(&ask);
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char text[TEXT_MAX];
    if (size < 2 || size >= TEXT_MAX) {
        return 0;
    }
    memcpy(text, data + 1, size - 1);
    text[size - 1] = '\0';
    const char *const photo[] = {"1920x1080", "4032x3024", "3024x4032", "16x16"};
    const char *word[16] = {
        "still", "--shot", data[0] & 1 ? "1" : "2", "--size", photo[data[0] >> 1 & 3], "--match",
        text,    "--json"};
    size_t count = 8;
    if (data[0] & 8) {
        word[count++] = "--write";
        word[count++] = "out.json";
    }
    if (data[0] & 16) {
        word[count++] = "--focal";
        word[count++] = data[0] & 32 ? "26" : "400";
    }
    if (data[0] & 64) {
        word[count++] = "--units";
        word[count++] = "ft";
    }
    vs_exit code = fuzz_ask(&ask, word);
    FUZZ_TRUE((code <= VS_EXIT_UNMET && data[0] & 8) == fuzz_has_written());
    fuzz_read_back("tests/fuzz/scenes/small.json");
    return 0;
}
