/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See frame.h. */
#include "frame.h"

#include <math.h>
#include <stdlib.h>

#include "check.h"
#include "veilstop/camera/curve.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/file_out.h"

void frame_write(const char *path, size_t width, double transmission, double veil) {
    vs_picture frame;
    vs_curve curve = {.kind = VS_CURVE_BT709};
    CHECK_OK(vs_picture_init(&frame, width, FRAME_HEIGHT, 8));
    for (size_t y = 0; y < FRAME_HEIGHT; y++) {
        for (size_t x = 0; x < width; x++) {
            double clear = 0.01 + 0.8 * (double)((x / 8 * 5 + y / 8 * 3) % 11) / 11;
            for (int b = 0; b < 3; b++) {
                double light = clear * (1 - 0.2 * b) * transmission + veil;
                double code = vs_curve_encode(&curve, light);
                vs_picture_at(&frame, x, y)[b] = (uint16_t)(257 * lrint(255 * code));
            }
        }
    }
    unsigned char *bytes;
    size_t length;
    CHECK_OK(vs_png_write(&frame, &bytes, &length));
    CHECK_OK(vs_file_write_whole(path, bytes, length));
    free(bytes);
    vs_picture_free(&frame);
}

vs_picture frame_read(const char *path) {
    size_t length;
    vs_picture picture;
    vs_faults faults = {0};
    char *bytes = file_read(path, &length);
    CHECK_TRUE(bytes != NULL);
    CHECK_OK(vs_png_read(bytes, length, &picture, &faults));
    free(bytes);
    return picture;
}

void frame_check_size(const char *path, size_t width, size_t height, int bits) {
    vs_picture picture = frame_read(path);
    CHECK_TRUE(picture.width == width && picture.height == height && picture.bits == bits);
    vs_picture_free(&picture);
}
