/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory of a picture. */
#include "veilstop/picture/picture.h"

#include <stdlib.h>
#include <string.h>

vs_status vs_picture_init(vs_picture *picture, size_t width, size_t height, int bits) {
    memset(picture, 0, sizeof *picture);
    if (width == 0 || height == 0 || width > VS_PICTURE_SIDE_MAX || height > VS_PICTURE_SIDE_MAX ||
        width * height > VS_PICTURE_PIXELS_MAX || (bits != 8 && bits != 16)) {
        return VS_ERR_DOMAIN;
    }
    picture->sample = calloc(width * height, 3 * sizeof *picture->sample);
    if (!picture->sample) {
        return VS_ERR_MEMORY;
    }
    picture->width = width;
    picture->height = height;
    picture->bits = bits;
    return VS_OK;
}

void vs_picture_free(vs_picture *picture) {
    free(picture->sample);
    memset(picture, 0, sizeof *picture);
}
