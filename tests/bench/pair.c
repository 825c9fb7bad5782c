/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pair of 4K frames through the program, compared with only reading the two files. */
#include "check.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/camera/curve.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/file_out.h"

#define WIDTH  3840
#define HEIGHT 2160

static uint32_t random_state = 9;

static double random_share(void) {
    random_state = random_state * 1664525u + 1013904223u;
    return (random_state >> 8) / 16777216.0;
}

/* A wall of boxes in scene-linear light: the same for both frames. */
static double light_at(size_t x, size_t y, int band) {
    uint32_t box = (uint32_t)(x / 97 * 131 + y / 61 * 977) * 2654435761u;
    return 0.005 + 0.9 * (box >> 20) / 4096.0 * (0.6 + 0.2 * band) / (1 + y / 900.0);
}

static int make_frame(const char *path, int bits, double t, double veil, size_t shift) {
    vs_picture frame;
    vs_curve curve = {.kind = VS_CURVE_SRGB};
    unsigned char *bytes;
    size_t length;
    if (vs_picture_init(&frame, WIDTH, HEIGHT, bits) != VS_OK) {
        return 1;
    }
    for (size_t y = 0; y < HEIGHT; y++) {
        for (size_t x = 0; x < WIDTH; x++) {
            for (int band = 0; band < 3; band++) {
                double code = vs_curve_encode(&curve, light_at(x + shift, y, band) * t + veil);
                code += (random_share() + random_share() + random_share() - 1.5) / 128;
                vs_picture_at(&frame, x, y)[band] = (uint16_t)lrint(65535 * fmin(1, fmax(0, code)));
            }
        }
    }
    int failed = vs_png_write(&frame, &bytes, &length) != VS_OK ||
                 vs_file_write_whole(path, bytes, length) != VS_OK;
    free(bytes);
    vs_picture_free(&frame);
    return failed;
}

static int read_frame(const char *path) {
    FILE *file = fopen(path, "rb");
    if (!file) {
        return 1;
    }
    fseek(file, 0, SEEK_END);
    size_t length = (size_t)ftell(file);
    rewind(file);
    char *bytes = malloc(length);
    vs_picture picture;
    vs_faults faults = {0};
    int failed = fread(bytes, 1, length, file) != length ||
                 vs_png_read(bytes, length, &picture, &faults) != VS_OK;
    fclose(file);
    free(bytes);
    vs_picture_free(&picture);
    return failed;
}

int main(void) {
    const char *program = getenv("VS_PROGRAM");
    char command[4096];
    for (int bits = 8; bits <= 16; bits += 8) {
        if (make_frame("bench-clear.png", bits, 1, 0, 0) ||
            make_frame("bench-hazed.png", bits, 0.7, 0.03, 1)) {
            return 1;
        }
        double start = clock_now_s();
        if (read_frame("bench-clear.png") || read_frame("bench-hazed.png")) {
            return 1;
        }
        double reading = clock_now_s() - start;
        snprintf(command, sizeof command, "'%s' pair bench-clear.png bench-hazed.png > bench.txt",
                 program ? program : "veilstop");
        start = clock_now_s();
        if (system(command) != 0) {
            return 1;
        }
        double whole = clock_now_s() - start;
        printf("pair of 4K frames, %2d bits: %.2f times the reading of its files (%.2f s)\n", bits,
               whole / reading, whole);
    }
    remove("bench-clear.png");
    remove("bench-hazed.png");
    remove("bench.txt");
    return 0;
}
