/* SPDX-License-Identifier: GPL-3.0-or-later */
/* LM-63 files with bytes randomly changed, cut, doubled and shuffled: the reader either accepts one
 * and everything in it can be used, or reports one fault on one line; nothing else. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/scene/lm63.h"

static const char *const seed[] = {
    "IESNA:LM-63-2002\n[TEST] t\nTILT=NONE\n1 -1 0.9687 5 3 1 1 -1.04 -1.04 0.11\n1 1 88.7\n"
    "0 22.5 45 67.5 90\n0 45 90\n623 642 628 25 4\n633 620 604 30 3\n605 600 598 32 1\n",
    "A lamp of 1986\r\nTILT=INCLUDE\r\n1\r\n3\r\n0 45 90\r\n1 .95 .8\r\n1 2800 1 3 1 1 2 .1 .1 "
    "0\r\n"
    "1 1 40\r\n0 90 180\r\n0\r\n100 20 5\r\n",
    "IES:LM-63-2019\nTILT=NONE\n1,-1,1,2,5,1,2,0,0,0\n1,1,10\n0,90\n90,150,180,240,270\n"
    "1 10 2 20 3 30 4 40 5 50\n"};

static size_t mutate(random_stream *r, char *bytes, size_t length, size_t size) {
    static const char *const piece[] = {"1e9", "-",     "0",     "nan", "360",
                                        "\n",  "TILT=", "1e400", "2000"};
    switch (random_index(r, 4)) {
    case 0:
        bytes[random_index(r, length)] = (char)random_index(r, 256);
        return length;
    case 1:
        return 1 + random_index(r, length);
    case 2: { /* a piece repeated */
        size_t from = random_index(r, length), count = random_index(r, length - from);
        count = count < size - length ? count : size - length;
        memmove(bytes + from + count, bytes + from, length - from);
        return length + count;
    }
    default: { /* a piece of the language over what stands there */
        const char *p = piece[random_index(r, sizeof piece / sizeof piece[0])];
        size_t count = strlen(p), at = random_index(r, length);
        count = count < length - at ? count : length - at;
        memcpy(bytes + at, p, count);
        return length;
    }
    }
}

static void use(const vs_lm63 *file, random_stream *r) {
    CHECK_OK(vs_photometric_check(&file->table));
    double v = random_uniform(r, 0, VS_PI), h = random_uniform(r, -10, 10);
    CHECK_TRUE(vs_photometric_candela_at(&file->table, v, h) >= 0);
    CHECK_TRUE(vs_photometric_lumens(&file->table) >= 0);
    CHECK_TRUE(!(vs_photometric_spread_rad(&file->table, 0.5, h) < 0));
    CHECK_TRUE(!(vs_lm63_tilt_factor(file, v) < 0));
}

static void random_bytes_are_read_or_refused(void **state) {
    (void)state;
    random_stream r = {2024};
    size_t taken = 0, refused = 0;
    for (int k = 0; k < 60000; k++) {
        const char *from = seed[random_index(&r, sizeof seed / sizeof seed[0])];
        size_t length = strlen(from), size = 2 * length;
        char *bytes = malloc(size);
        assert_non_null(bytes);
        memcpy(bytes, from, length);
        for (size_t i = 1 + random_index(&r, 2); i > 0; i--) {
            length = mutate(&r, bytes, length, size);
        }
        /* exactly as large as its bytes, so that the sanitizers notice reads beyond them */
        char *exact = malloc(length);
        assert_non_null(exact);
        memcpy(exact, bytes, length);
        vs_lm63 file;
        vs_faults faults = {0};
        vs_status status = vs_lm63_init(&file, exact, length, &faults);
        if (status == VS_OK) {
            CHECK_TRUE(!vs_faults_any(&faults));
            use(&file, &r);
            taken++;
        } else {
            CHECK_STATUS(status, VS_ERR_INPUT);
            CHECK_TRUE(faults.count == 1 && faults.more == 0);
            CHECK_TRUE(strncmp(faults.item[0].where, "line ", 5) == 0);
            CHECK_TRUE(strncmp(faults.item[0].text, "must ", 5) == 0);
            refused++;
        }
        vs_lm63_free(&file);
        free(exact);
        free(bytes);
    }
    CHECK_TRUE(taken > 1000 && refused > 10000);
    printf("measured: 60000 changed LM-63 files: %zu read, %zu refused on one line each\n", taken,
           refused);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(random_bytes_are_read_or_refused)};
    return RUN_TESTS(tests);
}
