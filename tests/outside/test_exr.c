/* SPDX-License-Identifier: GPL-3.0-or-later */
/* EXR files read back by OpenEXR's C++ library: planes of numbers, and what `picture` writes for the
 * grade, whose layers must add up. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "exr_read.h"
#include "program.h"
#include "veilstop/picture/exr.h"

#define HALF_STEP 0.0005 /* [1] of a half float: half of 2^-10, rounded up */

static void *own(size_t count, size_t size) {
    void *memory = calloc(count, size);
    CHECK_TRUE(memory != NULL);
    return memory;
}

static void planes_come_back(void **state) {
    (void)state;
    enum { WIDTH = 37, HEIGHT = 53, COUNT = WIDTH * HEIGHT };
    float *light = own(COUNT, sizeof *light), *depth = own(COUNT, sizeof *depth);
    float *back = own(COUNT, sizeof *back);
    char fault[256];
    size_t length, width, height, channels;
    unsigned char *bytes;
    int half;
    for (size_t i = 0; i < COUNT; i++) {
        light[i] = (float)exp2(-12 + 24 * (double)i / COUNT);
        depth[i] = 1.0f + (float)i / 7;
    }
    light[5] = 1e9f; /* more than a half can hold */
    const vs_exr_channel channel[] = {
        {"veil.R", light, false}, {"Z", depth, true}, {"a.G", depth, false}};
    CHECK_OK(vs_exr_write(channel, 3, WIDTH, HEIGHT, "a note", &bytes, &length));
    FILE *out = fopen("planes.exr", "wb");
    CHECK_TRUE(out && fwrite(bytes, 1, length, out) == length && fclose(out) == 0);
    free(bytes);
    CHECK_TRUE(exr_read_size("planes.exr", &width, &height, &channels, fault, sizeof fault) == 0);
    CHECK_TRUE(width == WIDTH && height == HEIGHT && channels == 3);
    CHECK_TRUE(exr_read_channel("planes.exr", "veil.R", back, &half, fault, sizeof fault) == 0);
    CHECK_TRUE(half == 1);
    for (size_t i = 0; i < COUNT; i++) {
        CHECK_NEAR((double)back[i], i == 5 ? 65504 : (double)light[i], HALF_STEP, 1e-7);
    }
    CHECK_TRUE(exr_read_channel("planes.exr", "Z", back, &half, fault, sizeof fault) == 0);
    CHECK_TRUE(half == 0);
    for (size_t i = 0; i < COUNT; i++) {
        CHECK_TRUE(back[i] == depth[i]);
    }
    CHECK_TRUE(exr_read_channel("planes.exr", "none", back, &half, fault, sizeof fault) == 1);
    CHECK_STATUS(vs_exr_write(channel, 0, WIDTH, HEIGHT, NULL, &bytes, &length), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_exr_write(channel, 3, 0, HEIGHT, NULL, &bytes, &length), VS_ERR_DOMAIN);
    free(light);
    free(depth);
    free(back);
}

static float *channel_of(const char *name, size_t count) {
    char fault[256] = "";
    int half;
    float *plane = own(count, sizeof *plane);
    if (exr_read_channel("wide.exr", name, plane, &half, fault, sizeof fault) != 0) {
        fail_msg("%s: %s", name, fault);
    }
    return plane;
}

static void layers_of_a_picture(void **state) {
    (void)state;
    enum { COUNT = 96 * 54 };
    static const char *const light[] = {
        "veil.hatch_sun.G",    "veil.hatch_sky.G",    "veil.card.G",
        "veil.bulkhead.G",     "veil.fill_lamp.G",    "veil.first_frame.G",
        "veil.second_frame.G", "veil.passage_back.G", "veil.indirect.G"};
    program_run_result got = program_run_shell(
        ".",
        "\"$VS_PROGRAM\" picture \"$VS_TESTS\"/../data/demo/cellar.json --shot \"1 wide\" --size "
        "96x54 --exr wide.exr");
    CHECK_TRUE(got.status == 0 && strstr(got.out, "wrote wide.exr, 96 x 54 pixels"));
    program_free(&got);
    float *veil = channel_of("veil.G", COUNT), *all = channel_of("G", COUNT);
    float *through = channel_of("T.G", COUNT), *clear = channel_of("clear.G", COUNT);
    float *depth = channel_of("Z", COUNT), *sum = own(COUNT, sizeof *sum);
    for (size_t k = 0; k < sizeof light / sizeof *light; k++) {
        float *one = channel_of(light[k], COUNT);
        for (size_t i = 0; i < COUNT; i++) {
            sum[i] += one[i];
        }
        free(one);
    }
    for (size_t i = 0; i < COUNT; i++) {
        CHECK_NEAR((double)sum[i], (double)veil[i], 2 * HALF_STEP, 1e-5);
        CHECK_TRUE(through[i] > 0 && through[i] <= 1 && clear[i] >= 0 && all[i] >= 0);

        /* haze of 0.03 /m dims what is so far along the axis by at least exp(-0.03 Z): Beer-Lambert */
        CHECK_TRUE((double)through[i] <= exp(-0.9 * 0.02 * fmin((double)depth[i], 8.4)));
    }
    free(all);
    free(veil);
    free(through);
    free(clear);
    free(depth);
    free(sum);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(planes_come_back),
        cmocka_unit_test(layers_of_a_picture),
    };
    return RUN_TESTS(tests);
}
