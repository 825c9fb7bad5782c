/* SPDX-License-Identifier: GPL-3.0-or-later */
/* picture/apng by the rules of W3C PNG (third edition), 4.9 and 11.3.6: the order of chunks, their
 * fields, one run of sequence numbers; each frame's data is that of a PNG by itself, which libpng's
 * simplified interface reads, as it does the first of the file. */
#include "check.h"

#include <png.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "veilstop/picture/apng.h"

#define WIDTH  45
#define HEIGHT 31
#define FRAMES 3

static vs_picture noise(uint64_t seed, int bits) {
    vs_picture picture;
    CHECK_OK(vs_picture_init(&picture, WIDTH, HEIGHT, bits));
    random_stream r = {seed};
    for (size_t i = 0; i < 3 * WIDTH * HEIGHT; i++) {
        picture.sample[i] = (uint16_t)(257 * random_index(&r, 256));
    }
    return picture;
}

static unsigned number_at(const unsigned char *p) {
    return (unsigned)p[0] << 24 | (unsigned)p[1] << 16 | (unsigned)p[2] << 8 | p[3];
}

static void add_chunk(unsigned char *out, size_t *length, const char *name,
                      const unsigned char *data, size_t count) {
    unsigned char *p = out + *length;
    for (int i = 0; i < 4; i++) {
        p[i] = (unsigned char)(count >> (24 - 8 * i));
    }
    memcpy(p + 4, name, 4);
    memcpy(p + 8, data, count);
    unsigned long check = crc32(crc32(0, NULL, 0), p + 4, (unsigned)count + 4);
    for (int i = 0; i < 4; i++) {
        p[8 + count + (size_t)i] = (unsigned char)(check >> (24 - 8 * i));
    }
    *length += count + 12;
}

/* Reads a PNG with libpng's simplified interface, 8 bits RGB, and holds it against a picture. */
static void same_picture(const unsigned char *bytes, size_t length, const vs_picture *want) {
    png_image image = {.version = PNG_IMAGE_VERSION};
    CHECK_TRUE(png_image_begin_read_from_memory(&image, bytes, length) != 0);
    CHECK_TRUE(image.width == WIDTH && image.height == HEIGHT);
    image.format = PNG_FORMAT_RGB;
    unsigned char got[3 * WIDTH * HEIGHT];
    CHECK_TRUE(png_image_finish_read(&image, NULL, got, 0, NULL) != 0);
    for (size_t i = 0; i < sizeof got; i++) {
        CHECK_TRUE(257 * got[i] == want->sample[i]);
    }
}

/* Takes a file apart. */
typedef struct {
    size_t chunks, actl_at, first_idat_at, frames;
    unsigned sequence;
    unsigned char ihdr[13];
    unsigned char *data[FRAMES]; /* image data of each frame */
    size_t data_length[FRAMES];
} apart;

static void take_data(apart *a, const unsigned char *data, size_t length) {
    size_t frame = a->frames - 1;
    CHECK_TRUE(a->frames >= 1 && frame < FRAMES);
    a->data[frame] = realloc(a->data[frame], a->data_length[frame] + length);
    CHECK_TRUE(a->data[frame] != NULL);
    memcpy(a->data[frame] + a->data_length[frame], data, length);
    a->data_length[frame] += length;
}

static void take_fctl(apart *a, const unsigned char *data, size_t length, unsigned per_s) {
    CHECK_TRUE(length == 26 && number_at(data) == a->sequence++);
    CHECK_TRUE(number_at(data + 4) == WIDTH && number_at(data + 8) == HEIGHT);
    CHECK_TRUE(number_at(data + 12) == 0 && number_at(data + 16) == 0);
    CHECK_TRUE((number_at(data + 20) >> 16) == 1 && (number_at(data + 20) & 0xffff) == per_s);
    CHECK_TRUE(data[24] == 0 && data[25] == 0); /* dispose none, blend source */
    a->frames++;
}

static void take_apart(const unsigned char *bytes, size_t length, unsigned per_s, apart *a) {
    size_t at = 8;
    bool ended = false;
    CHECK_TRUE(png_sig_cmp(bytes, 0, 8) == 0);
    for (; at < length; a->chunks++) {
        size_t count = number_at(bytes + at);
        const unsigned char *name = bytes + at + 4, *data = name + 4;
        CHECK_TRUE(!ended && at + 12 + count <= length);
        CHECK_TRUE(number_at(data + count) == crc32(crc32(0, NULL, 0), name, (unsigned)count + 4));
        if (memcmp(name, "IHDR", 4) == 0) {
            memcpy(a->ihdr, data, sizeof a->ihdr);
        } else if (memcmp(name, "acTL", 4) == 0) {
            CHECK_TRUE(count == 8 && number_at(data) == FRAMES && number_at(data + 4) == 0);
            a->actl_at = a->chunks;
        } else if (memcmp(name, "fcTL", 4) == 0) {
            take_fctl(a, data, count, per_s);
        } else if (memcmp(name, "IDAT", 4) == 0) {
            a->first_idat_at = a->first_idat_at ? a->first_idat_at : a->chunks;
            CHECK_TRUE(a->frames == 1); /* the first frame is the still picture */
            take_data(a, data, count);
        } else if (memcmp(name, "fdAT", 4) == 0) {
            CHECK_TRUE(number_at(data) == a->sequence++ && a->frames > 1);
            take_data(a, data + 4, count - 4);
        }
        ended = memcmp(name, "IEND", 4) == 0;
        at += count + 12;
    }
    CHECK_TRUE(ended && at == length && a->frames == FRAMES);
    CHECK_TRUE(a->actl_at > 0 && a->actl_at < a->first_idat_at);
}

static void frames_come_back_as_they_were(void **state) {
    (void)state;
    vs_picture picture[FRAMES];
    vs_apng apng;
    unsigned char *bytes;
    size_t length;
    apart a = {0};
    const vs_png_colour colour = {.primaries = 1, .transfer = 13};
    CHECK_OK(vs_apng_begin(&apng, FRAMES, 24));
    for (size_t i = 0; i < FRAMES; i++) {
        picture[i] = noise(i, 8);
        CHECK_OK(vs_apng_add(&apng, &picture[i], &colour));
    }
    CHECK_STATUS(vs_apng_add(&apng, &picture[0], &colour), VS_ERR_DOMAIN); /* one too many */
    CHECK_OK(vs_apng_end(&apng, &bytes, &length));
    vs_apng_free(&apng);
    vs_apng_free(&apng); /* harmless */
    take_apart(bytes, length, 24, &a);
    same_picture(bytes, length, &picture[0]);
    for (size_t i = 0; i < FRAMES; i++) {
        unsigned char *one = malloc(a.data_length[i] + 100);
        size_t size = 8;
        CHECK_TRUE(one != NULL);
        memcpy(one, bytes, 8);
        add_chunk(one, &size, "IHDR", a.ihdr, sizeof a.ihdr);
        add_chunk(one, &size, "IDAT", a.data[i], a.data_length[i]);
        add_chunk(one, &size, "IEND", a.ihdr, 0);
        same_picture(one, size, &picture[i]);
        free(one);
        free(a.data[i]);
        vs_picture_free(&picture[i]);
    }
    free(bytes);
}

static void what_does_not_fit_is_refused(void **state) {
    (void)state;
    vs_apng apng;
    vs_picture eight = noise(1, 8), sixteen = noise(1, 16);
    const vs_png_colour none = {0};
    unsigned char *bytes;
    size_t length;
    CHECK_STATUS(vs_apng_begin(&apng, 0, 24), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_apng_begin(&apng, VS_APNG_FRAMES_MAX + 1, 24), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_apng_begin(&apng, 2, 0), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_apng_begin(&apng, 2, 1001), VS_ERR_DOMAIN);
    CHECK_OK(vs_apng_begin(&apng, 2, 24));
    CHECK_OK(vs_apng_add(&apng, &eight, &none));
    CHECK_STATUS(vs_apng_add(&apng, &sixteen, &none), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_apng_end(&apng, &bytes, &length), VS_ERR_DOMAIN); /* one is missing */
    CHECK_TRUE(bytes == NULL && length == 0);
    vs_apng_free(&apng);
    vs_picture_free(&eight);
    vs_picture_free(&sixteen);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_come_back_as_they_were),
        cmocka_unit_test(what_does_not_fit_is_refused),
    };
    return RUN_TESTS(tests);
}
