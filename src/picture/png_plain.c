/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Source: W3C PNG (third edition) 5 and 11.2; RFC 1950 for the checksum and RFC 1951, 3.2.4, for
 * blocks that are stored as they are. */
#include "veilstop/picture/png_plain.h"

#include <stdlib.h>
#include <string.h>

#define BLOCK_MOST    65535u /* [bytes] RFC 1951, 3.2.4 */
#define BLOCK_HEAD    5      /* [bytes] likewise */
#define CHUNK_AROUND  12     /* [bytes] length, type, checksum: PNG 5.3 */
#define ADLER_MODULUS 65521u /* RFC 1950, 8.2 */

typedef struct {
    unsigned char *bytes;
    size_t length;
} file;

static void put(file *f, const void *bytes, size_t length) {
    memcpy(f->bytes + f->length, bytes, length);
    f->length += length;
}

static void put_number(file *f, uint32_t number) {
    unsigned char four[4] = {(unsigned char)(number >> 24), (unsigned char)(number >> 16),
                             (unsigned char)(number >> 8), (unsigned char)number};
    put(f, four, sizeof four);
}

/* PNG, annex D. */
static uint32_t crc_of(const unsigned char *bytes, size_t length) {
    uint32_t crc = 0xffffffffu;
    for (size_t i = 0; i < length; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = crc & 1 ? crc >> 1 ^ 0xedb88320u : crc >> 1;
        }
    }
    return ~crc;
}

static uint32_t adler_of(const unsigned char *bytes, size_t length) {
    uint32_t a = 1, b = 0;
    for (size_t i = 0; i < length; i++) {
        a = (a + bytes[i]) % ADLER_MODULUS;
        b = (b + a) % ADLER_MODULUS;
    }
    return b << 16 | a;
}

/* A chunk's length and type; end_chunk takes where its type stands. */
static size_t begin_chunk(file *f, const char *type, size_t length) {
    put_number(f, (uint32_t)length);
    put(f, type, 4);
    return f->length - 4;
}

static void end_chunk(file *f, size_t from) {
    put_number(f, crc_of(f->bytes + from, f->length - from));
}

static void put_header(file *f, const vs_picture *picture) {
    static const unsigned char form[5] = {8, 2, 0, 0, 0}; /* 8 bits, RGB, deflate, no interlace */
    size_t from = begin_chunk(f, "IHDR", 13);
    put_number(f, (uint32_t)picture->width);
    put_number(f, (uint32_t)picture->height);
    put(f, form, sizeof form);
    end_chunk(f, from);
}

/* The rows, each behind a filter byte of 0: none. */
static unsigned char *make_rows(const vs_picture *picture, size_t length) {
    unsigned char *rows = calloc(length, 1), *at = rows;
    for (size_t y = 0; rows && y < picture->height; y++) {
        *at++ = 0;
        for (size_t i = 0; i < 3 * picture->width; i++) {
            uint16_t code = vs_picture_at(picture, 0, y)[i];
            *at++ = (unsigned char)((code + 128u) / 257u);
        }
    }
    return rows;
}

static void put_rows(file *f, const unsigned char *rows, size_t length, size_t blocks) {
    static const unsigned char zlib[2] = {0x78, 0x01};
    size_t from = begin_chunk(f, "IDAT", 2 + length + BLOCK_HEAD * blocks + 4);
    put(f, zlib, sizeof zlib);
    for (size_t at = 0; at < length; at += BLOCK_MOST) {
        size_t n = length - at < BLOCK_MOST ? length - at : BLOCK_MOST;
        unsigned char head[BLOCK_HEAD] = {at + n == length, (unsigned char)n,
                                          (unsigned char)(n >> 8), (unsigned char)~n,
                                          (unsigned char)(~n >> 8)};
        put(f, head, sizeof head);
        put(f, rows + at, n);
    }
    put_number(f, adler_of(rows, length));
    end_chunk(f, from);
}

vs_status vs_png_write_plain(const vs_picture *picture, unsigned char **bytes, size_t *length) {
    static const unsigned char signature[8] = {137, 80, 78, 71, 13, 10, 26, 10};
    *bytes = NULL;
    *length = 0;
    if (!picture->sample || picture->width * picture->height > VS_PNG_PLAIN_PIXELS_MAX) {
        return VS_ERR_DOMAIN;
    }
    size_t raw = picture->height * (3 * picture->width + 1);
    size_t blocks = (raw + BLOCK_MOST - 1) / BLOCK_MOST;
    unsigned char *rows = make_rows(picture, raw);
    file f = {malloc(sizeof signature + (size_t)3 * CHUNK_AROUND + 13 + 2 + raw +
                     BLOCK_HEAD * blocks + 4),
              0};
    if (!rows || !f.bytes) {
        free(rows);
        free(f.bytes);
        return VS_ERR_MEMORY;
    }
    put(&f, signature, sizeof signature);
    put_header(&f, picture);
    put_rows(&f, rows, raw, blocks);
    end_chunk(&f, begin_chunk(&f, "IEND", 0));
    free(rows);
    *bytes = f.bytes;
    *length = f.length;
    return VS_OK;
}
