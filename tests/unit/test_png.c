/* SPDX-License-Identifier: GPL-3.0-or-later */
/* picture/png: round trips, against libpng's simplified interface, and bad files. */
#include "check.h"

#include <png.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "veilstop/picture/png.h"
#include "veilstop/picture/png_plain.h"

static vs_picture noise(size_t width, size_t height, int bits) {
    vs_picture picture;
    CHECK_OK(vs_picture_init(&picture, width, height, bits));
    random_stream r = {3};
    for (size_t i = 0; i < 3 * width * height; i++) {
        picture.sample[i] =
            (uint16_t)(bits == 16 ? random_index(&r, 65536) : 257 * random_index(&r, 256));
    }
    return picture;
}

static void pictures_come_back_as_they_were(void **state) {
    (void)state;
    for (int bits = 8; bits <= 16; bits += 8) {
        vs_picture picture = noise(37, 23, bits), back;
        unsigned char *bytes;
        size_t length;
        vs_faults faults = {0};
        CHECK_OK(vs_png_write(&picture, &bytes, &length));
        CHECK_OK(vs_png_read(bytes, length, &back, &faults));
        CHECK_TRUE(back.width == 37 && back.height == 23 && back.bits == bits);
        CHECK_TRUE(memcmp(back.sample, picture.sample, sizeof(uint16_t) * 3 * 37 * 23) == 0);
        free(bytes);
        vs_picture_free(&back);
        vs_picture_free(&back);
        vs_picture_free(&picture);
    }
}

static void eight_bits_round_to_nearest(void **state) {
    (void)state;
    vs_picture picture, back;
    CHECK_OK(vs_picture_init(&picture, 256, 1, 8));
    for (unsigned i = 0; i < 256; i++) {
        int off = (int)(i % 3) - 1; /* up to 128 of 257 either way is the same code */
        int value = (int)(257 * i) + off * 128;
        picture.sample[3 * i] = (uint16_t)(value < 0 ? 0 : value > 65535 ? 65535 : value);
    }
    unsigned char *bytes;
    size_t length;
    vs_faults faults = {0};
    CHECK_OK(vs_png_write(&picture, &bytes, &length));
    CHECK_OK(vs_png_read(bytes, length, &back, &faults));
    for (unsigned i = 0; i < 256; i++) {
        CHECK_TRUE(back.sample[3 * i] == 257 * i);
    }
    free(bytes);
    vs_picture_free(&picture);
    vs_picture_free(&back);
}

/* Written by libpng's own simplified interface, in the forms cameras and tools write. */
/* libpng reads what was written without it: many stored blocks, an odd last one, one pixel. */
static void plain_files_are_those_of_libpng(void **state) {
    (void)state;
    static const size_t size[][2] = {{1, 1}, {320, 180}, {37, 23}, {21845, 1}};
    for (size_t i = 0; i < sizeof size / sizeof size[0]; i++) {
        size_t width = size[i][0] > VS_PICTURE_SIDE_MAX ? VS_PICTURE_SIDE_MAX : size[i][0];
        vs_picture picture = noise(width, size[i][1], 16), plain, packed;
        unsigned char *bytes;
        size_t length;
        vs_faults faults = {0};
        CHECK_OK(vs_png_write_plain(&picture, &bytes, &length));
        CHECK_OK(vs_png_read(bytes, length, &plain, &faults));
        free(bytes);
        picture.bits = 8;
        CHECK_OK(vs_png_write(&picture, &bytes, &length));
        CHECK_OK(vs_png_read(bytes, length, &packed, &faults));
        free(bytes);
        CHECK_TRUE(plain.width == packed.width && plain.height == packed.height);
        CHECK_TRUE(memcmp(plain.sample, packed.sample, 6 * plain.width * plain.height) == 0);
        vs_picture_free(&packed);
        vs_picture_free(&plain);
        vs_picture_free(&picture);
    }
    vs_picture none = {0};
    unsigned char *bytes;
    size_t length;
    CHECK_STATUS(vs_png_write_plain(&none, &bytes, &length), VS_ERR_DOMAIN);
    CHECK_TRUE(bytes == NULL && length == 0);
}

static void every_form_becomes_rgb(void **state) {
    (void)state;
    static const png_uint_32 format[] = {PNG_FORMAT_GRAY, PNG_FORMAT_RGB, PNG_FORMAT_RGBA,
                                         PNG_FORMAT_GA};
    unsigned char pixel[6 * 4 * 4];
    for (size_t i = 0; i < sizeof pixel; i++) {
        pixel[i] = (unsigned char)(i * 2);
    }
    for (size_t f = 0; f < 4; f++) {
        png_image image = {.version = PNG_IMAGE_VERSION, .width = 6, .height = 4};
        image.format = format[f];
        png_alloc_size_t size = 4096;
        unsigned char file[4096];
        CHECK_TRUE(png_image_write_to_memory(&image, file, &size, 0, pixel, 0, NULL));
        vs_picture picture;
        vs_faults faults = {0};
        CHECK_OK(vs_png_read(file, size, &picture, &faults));
        size_t channels = PNG_IMAGE_SAMPLE_CHANNELS(format[f]);
        for (size_t i = 0; i < 24; i++) {
            for (size_t c = 0; c < 3; c++) {
                size_t source = i * channels + (channels > 2 ? c : 0);
                CHECK_TRUE(picture.sample[3 * i + c] == 257 * pixel[source]);
            }
        }
        vs_picture_free(&picture);
    }
}

/* One line of fault, nothing returned. */
static void refused(const void *bytes, size_t length, const char *says) {
    vs_picture picture;
    vs_faults faults = {0};
    CHECK_STATUS(vs_png_read(bytes, length, &picture, &faults), VS_ERR_INPUT);
    CHECK_TRUE(faults.count == 1 && picture.sample == NULL);
    if (!strstr(faults.item[0].text, says)) {
        fail_msg("'%s' does not say '%s'", faults.item[0].text, says);
    }
}

static void what_is_no_png_is_refused(void **state) {
    (void)state;
    refused("", 0, "something else");
    refused("{ \"veilstop\": 1 }", 17, "something else");
    refused("\x89PNG\r\n\x1a\n", 8, "ends too early");
    refused("\x89PNG\r\n\x1a\nIDATIDATIDATIDAT", 24, "got one where");
}

static void cut_or_damaged_files_are_refused(void **state) {
    (void)state;
    vs_picture picture = noise(64, 48, 16);
    unsigned char *bytes;
    size_t length;
    CHECK_OK(vs_png_write(&picture, &bytes, &length));
    for (size_t keep = 8; keep < length; keep += 1 + length / 40) {
        refused(bytes, keep, keep < 1000 ? "where" : "ends too early");
    }
    refused(bytes, length - 1, "ends too early");
    bytes[length / 2] ^= 0x10;
    refused(bytes, length, "CRC");
    free(bytes);
    vs_picture_free(&picture);
}

static void put_32(unsigned char *at, unsigned long value) {
    for (int i = 0; i < 4; i++) {
        at[i] = (unsigned char)(value >> (24 - 8 * i) & 0xff);
    }
}

/* A header that claims a size, with a true checksum (PNG 5.3), and the rest of a small file. */
static void claim_size(unsigned char *file, unsigned long width, unsigned long height) {
    put_32(file + 16, width);
    put_32(file + 20, height);
    put_32(file + 29, crc32(0, file + 12, 17));
}

static void bombs_are_refused_before_they_burst(void **state) {
    (void)state;
    vs_picture picture = noise(8, 8, 8);
    unsigned char *bytes;
    size_t length;
    CHECK_OK(vs_png_write(&picture, &bytes, &length));
    claim_size(bytes, 2000000000, 2000000000);
    /* with 32 bits libpng itself has no room for such a row */
    refused(bytes, length, sizeof(size_t) > 4 ? "more than this reads" : "Invalid IHDR data");
    claim_size(bytes, 16384, 16384);
    refused(bytes, length, "more than this reads");
    claim_size(bytes, 8000, 8000); /* within the limits, but 192 MB cannot be in 300 bytes */
    refused(bytes, length, "cannot be in");
    claim_size(bytes, 8, 9); /* one row short */
    refused(bytes, length, "where");
    free(bytes);
    vs_picture_free(&picture);
}

/* A text chunk of 64 MB of blanks in 64 kB: dropped without being fully decompressed, or
 * refused. */
static void a_text_bomb_does_not_burst(void **state) {
    (void)state;
    vs_picture picture = noise(8, 8, 8), back;
    unsigned char *bytes;
    size_t length, blanks = 64u << 20;
    CHECK_OK(vs_png_write(&picture, &bytes, &length));
    unsigned char *text = malloc(blanks);
    memset(text, ' ', blanks);
    uLongf packed = compressBound(blanks);
    unsigned char *file = malloc(length + packed + 64);
    memcpy(file, bytes, 33); /* signature and IHDR */
    CHECK_TRUE(compress2(file + 33 + 8 + 3, &packed, text, blanks, 9) == Z_OK);
    put_32(file + 33, packed + 3);
    memcpy(file + 37, "zTXta\0\0", 7);
    put_32(file + 33 + 8 + 3 + packed, crc32(0, file + 37, (uInt)(4 + 3 + packed)));
    memcpy(file + 33 + 12 + 3 + packed, bytes + 33, length - 33);
    vs_faults faults = {0};
    vs_status status = vs_png_read(file, length + packed + 15, &back, &faults);
    CHECK_TRUE(status == VS_OK || (status == VS_ERR_INPUT && faults.count == 1));
    if (status == VS_OK) {
        CHECK_TRUE(memcmp(back.sample, picture.sample, sizeof(uint16_t) * 3 * 64) == 0);
    }
    vs_picture_free(&back);
    free(text);
    free(file);
    free(bytes);
    vs_picture_free(&picture);
}

static void sizes_are_bounded(void **state) {
    (void)state;
    vs_picture picture;
    CHECK_STATUS(vs_picture_init(&picture, 0, 5, 8), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_picture_init(&picture, 20000, 5, 8), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_picture_init(&picture, 16384, 16384, 8), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_picture_init(&picture, 5, 5, 10), VS_ERR_DOMAIN);
    unsigned char *bytes;
    size_t length;
    CHECK_STATUS(vs_png_write(&picture, &bytes, &length), VS_ERR_DOMAIN);
}

/* Means over squares by hand; incomplete squares are dropped; written back at full size. */
static void large_pictures_are_kept_smaller(void **state) {
    (void)state;
    vs_picture picture, kept, back;
    CHECK_OK(vs_picture_init(&picture, 11, 8, 16));
    for (size_t i = 0; i < 3 * 11 * 8; i++) {
        picture.sample[i] = (uint16_t)(i * 577 % 65536);
    }
    unsigned char *bytes;
    size_t length;
    CHECK_OK(vs_png_write(&picture, &bytes, &length));
    vs_png_size size;
    vs_faults faults = {0};
    CHECK_OK(vs_png_read_reduced(bytes, length, 10, &kept, &size, &faults));
    CHECK_TRUE(size.width == 11 && size.height == 8 && size.factor == 3);
    CHECK_TRUE(kept.width == 3 && kept.height == 2 && kept.bits == 16);
    for (size_t i = 0; i < 3 * 3 * 2; i++) {
        size_t x = i / 3 % 3, y = i / 9;
        double sum = 0;
        for (size_t k = 0; k < 9; k++) {
            sum += vs_picture_at(&picture, 3 * x + k % 3, 3 * y + k / 3)[i % 3];
        }
        CHECK_NEAR(kept.sample[i], sum / 9, 0, 0.5001);
    }
    free(bytes);
    CHECK_OK(vs_png_write_enlarged(&kept, &size, &bytes, &length));
    CHECK_OK(vs_png_read(bytes, length, &back, &faults));
    CHECK_TRUE(back.width == 11 && back.height == 8);
    for (size_t y = 0; y < 8; y++) {
        for (size_t x = 0; x < 11; x++) {
            const uint16_t *from =
                vs_picture_at(&kept, x / 3 < 3 ? x / 3 : 2, y / 3 < 2 ? y / 3 : 1);
            CHECK_TRUE(memcmp(vs_picture_at(&back, x, y), from, 6) == 0);
        }
    }
    free(bytes);
    vs_picture_free(&picture);
    vs_picture_free(&kept);
    vs_picture_free(&back);
}

/* What is written is told again; a file that says nothing, or is none, tells nothing. */
static void files_tell_what_their_values_mean(void **state) {
    (void)state;
    const vs_png_colour of[] = {{1, 8, false, 1, "light over 8"}, {0, 0, true, 0.45455, NULL}, {0}};
    vs_picture picture;
    CHECK_OK(vs_picture_init(&picture, 5, 4, 8));
    for (size_t i = 0; i < sizeof of / sizeof *of; i++) {
        unsigned char *bytes;
        size_t length;
        char note[VS_PNG_NOTE_SIZE];
        vs_png_colour told;
        CHECK_OK(vs_png_write_colour(&picture, &of[i], &bytes, &length));
        vs_png_read_colour(bytes, length, &told, note);
        CHECK_TRUE(told.primaries == of[i].primaries && told.transfer == of[i].transfer);
        CHECK_TRUE(told.srgb == of[i].srgb);
        CHECK_NEAR(told.gamma, of[i].gamma, 0, 1e-5);
        CHECK_TRUE(of[i].note ? told.note && strcmp(told.note, of[i].note) == 0 : !told.note);
        for (size_t cut = 0; cut < length; cut++) { /* in memory of just that size */
            unsigned char *part = malloc(cut + 1);
            CHECK_TRUE(part != NULL);
            memcpy(part, bytes, cut);
            vs_png_read_colour(part, cut, &told, note);
            free(part);
        }
        vs_png_read_colour("not a picture", 13, &told, note);
        CHECK_TRUE(told.transfer == 0 && !told.srgb && !told.note);
        free(bytes);
    }
    vs_picture_free(&picture);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(large_pictures_are_kept_smaller),
        cmocka_unit_test(files_tell_what_their_values_mean),
        cmocka_unit_test(pictures_come_back_as_they_were),
        cmocka_unit_test(eight_bits_round_to_nearest),
        cmocka_unit_test(plain_files_are_those_of_libpng),
        cmocka_unit_test(every_form_becomes_rgb),
        cmocka_unit_test(what_is_no_png_is_refused),
        cmocka_unit_test(cut_or_damaged_files_are_refused),
        cmocka_unit_test(bombs_are_refused_before_they_burst),
        cmocka_unit_test(a_text_bomb_does_not_burst),
        cmocka_unit_test(sizes_are_bounded),
    };
    return RUN_TESTS(tests);
}
