/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes as a PNG, with the sums of its chunks put right, so that changes come past them. */
#include "fuzz.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "veilstop/picture/png.h"

#define PIXELS_MOST 4096

int LLVMFuzzerInitialize(int *argc, char ***argv) {
    (void)argc;
    (void)argv;
    return 0;
}

static uint32_t big_endian(const uint8_t *at) {
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

static void mend_sums(uint8_t *data, size_t size) {
    for (size_t at = 8; at + 12 <= size;) {
        size_t length = big_endian(data + at);
        if (length > size - at - 12) {
            return;
        }
        uint32_t sum = (uint32_t)crc32(0, data + at + 4, (uInt)length + 4);
        for (int i = 0; i < 4; i++) {
            data[at + 8 + length + (size_t)i] = (uint8_t)(sum >> (24 - 8 * i));
        }
        at += 12 + length;
    }
}

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned seed) {
    size_t changed = LLVMFuzzerMutate(data, size, most);
    if (seed % 8 != 0) {
        mend_sums(data, changed);
    }
    return changed;
}

static void write_and_read(const vs_picture *picture) {
    unsigned char *bytes;
    size_t length;
    vs_picture again;
    vs_faults faults = {0};
    FUZZ_TRUE(vs_png_write(picture, &bytes, &length) == VS_OK);
    FUZZ_TRUE(vs_png_read(bytes, length, &again, &faults) == VS_OK);
    FUZZ_TRUE(again.width == picture->width && again.height == picture->height);
    vs_picture_free(&again);
    free(bytes);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    vs_picture whole, reduced;
    vs_png_size as;
    vs_faults faults = {0}, faults_reduced = {0};
    vs_status status = vs_png_read(data, size, &whole, &faults);
    FUZZ_TRUE(status == VS_OK || status == VS_ERR_MEMORY || faults.count == 1);
    vs_status other = vs_png_read_reduced(data, size, PIXELS_MOST, &reduced, &as, &faults_reduced);
    FUZZ_TRUE(other == VS_OK || other == VS_ERR_MEMORY || faults_reduced.count == 1);
    if (other == VS_OK) {
        FUZZ_TRUE(reduced.width * reduced.height <= PIXELS_MOST && as.factor >= 1);
        vs_picture_free(&reduced);
    }
    if (status == VS_OK) {
        if (whole.width * whole.height <= PIXELS_MOST) {
            write_and_read(&whole);
        }
        vs_picture_free(&whole);
    }
    return 0;
}
