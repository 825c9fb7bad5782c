/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each picture is written as a PNG of its own; its image data then goes into the chunks of the
 * animation, which libpng writes without knowing them. */
#include "veilstop/picture/apng.h"

#include "base/growable.h"
#include <png.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#define SIGNATURE  8  /* [bytes] PNG 5.2 */
#define NAME       4  /* [bytes] a chunk: length, name, data, check; PNG 5.3 */
#define AROUND     12 /* [bytes] of a chunk that are not data */
#define ACTL_BYTES 8
#define FCTL_BYTES 26

typedef struct {
    png_structp png;
    unsigned char *bytes;
    size_t length, size;
    size_t frames, added;
    unsigned frames_per_s, sequence; /* number of the next fcTL or fdAT */
    size_t width, height;
    int bits;
    bool over; /* more than fits */
} file;

static void put(png_structp png, png_bytep data, size_t count) {
    file *f = png_get_io_ptr(png);
    if (count == 0) {
        return;
    }
    f->over = f->over || f->length + count > VS_APNG_BYTES_MAX;
    unsigned char *bytes =
        f->over ? NULL : vs_growable_reserve_many(f->bytes, f->length, count, &f->size, 1);
    if (!bytes) {
        png_error(png, "no room");
    }
    f->bytes = bytes;
    memcpy(f->bytes + f->length, data, count);
    f->length += count;
}

static void flush_nothing(png_structp png) {
    (void)png;
}

static void on_error(png_structp png, png_const_charp message) {
    (void)message;
    png_longjmp(png, 1);
}

vs_status vs_apng_begin(vs_apng *apng, size_t frames, unsigned frames_per_s) {
    apng->kept = NULL;
    if (frames < 1 || frames > VS_APNG_FRAMES_MAX || frames_per_s < 1 || frames_per_s > 1000) {
        return VS_ERR_DOMAIN;
    }
    file *f = calloc(1, sizeof *f);
    if (!f) {
        return VS_ERR_MEMORY;
    }
    f->frames = frames;
    f->frames_per_s = frames_per_s;
    f->png = png_create_write_struct(PNG_LIBPNG_VER_STRING, f, on_error, NULL);
    if (!f->png) {
        free(f);
        return VS_ERR_MEMORY;
    }
    png_set_write_fn(f->png, f, put, flush_nothing);
    apng->kept = f;
    return VS_OK;
}

void vs_apng_free(vs_apng *apng) {
    file *f = apng->kept;
    if (f) {
        png_destroy_write_struct(&f->png, NULL);
        free(f->bytes);
    }
    free(f);
    apng->kept = NULL;
}

/* A chunk of a PNG in memory. */
typedef struct {
    const unsigned char *name, *data;
    size_t length;
} chunk;

/* The chunk at *at, which moves on to the next; false past the last. */
static bool next_chunk(const unsigned char *bytes, size_t length, size_t *at, chunk *c) {
    if (length - *at < AROUND) {
        return false;
    }
    c->length = png_get_uint_32(bytes + *at);
    c->name = bytes + *at + 4;
    c->data = c->name + NAME;
    *at += c->length + AROUND;
    return true;
}

static bool is(const chunk *c, const char *name) {
    return memcmp(c->name, name, NAME) == 0;
}

static void put_actl(const file *f) {
    unsigned char data[ACTL_BYTES];
    png_save_uint_32(data, (png_uint_32)f->frames);
    png_save_uint_32(data + 4, 0); /* number of plays; 0: forever */
    png_write_chunk(f->png, (png_const_bytep) "acTL", data, sizeof data);
}

/* The whole picture, which replaces the one before. */
static void put_fctl(file *f) {
    unsigned char data[FCTL_BYTES] = {0};
    png_save_uint_32(data, f->sequence++);
    png_save_uint_32(data + 4, (png_uint_32)f->width);
    png_save_uint_32(data + 8, (png_uint_32)f->height);
    png_save_uint_16(data + 20, 1); /* delay [s]: numerator, denominator */
    png_save_uint_16(data + 22, f->frames_per_s);
    png_write_chunk(f->png, (png_const_bytep) "fcTL", data, sizeof data);
}

static void put_fdat(file *f, const chunk *c) {
    unsigned char number[4];
    png_save_uint_32(number, f->sequence++);
    png_write_chunk_start(f->png, (png_const_bytep) "fdAT", (png_uint_32)(c->length + 4));
    png_write_chunk_data(f->png, number, sizeof number);
    png_write_chunk_data(f->png, c->data, c->length);
    png_write_chunk_end(f->png);
}

/* All chunks of the first picture but the last; only the image data of the others. */
static void put_chunks(file *f, const unsigned char *bytes, size_t length) {
    size_t at = SIGNATURE;
    bool first = f->added == 0, begun = false;
    for (chunk c; next_chunk(bytes, length, &at, &c);) {
        if (is(&c, "IDAT") && !begun) {
            put_fctl(f);
            begun = true;
        }
        if (is(&c, "IDAT") && !first) {
            put_fdat(f, &c);
        } else if (first && !is(&c, "IEND")) {
            png_write_chunk(f->png, c.name, c.data, c.length);
        }
        if (first && is(&c, "IHDR")) {
            put_actl(f);
        }
    }
}

/* Everything that may jump. bytes: a PNG to add; NULL: the end. */
static bool try_put(file *f, const unsigned char *bytes, size_t length) {
    if (setjmp(png_jmpbuf(f->png))) {
        return false;
    }
    if (!bytes) {
        png_write_chunk(f->png, (png_const_bytep) "IEND", NULL, 0);
        return true;
    }
    if (f->added == 0) {
        png_write_sig(f->png);
    }
    put_chunks(f, bytes, length);
    return true;
}

static vs_status put_or_fail(file *f, const unsigned char *bytes, size_t length) {
    return try_put(f, bytes, length) ? VS_OK : f->over ? VS_ERR_UNREACHABLE : VS_ERR_MEMORY;
}

vs_status vs_apng_add(vs_apng *apng, const vs_picture *picture, const vs_png_colour *colour) {
    file *f = apng->kept;
    unsigned char *bytes;
    size_t length;
    bool same = f->added == 0 || (picture->width == f->width && picture->height == f->height &&
                                  picture->bits == f->bits);
    if (!same || f->added == f->frames) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = vs_png_write_colour(picture, colour, &bytes, &length);
    if (status != VS_OK) {
        return status;
    }
    f->width = picture->width;
    f->height = picture->height;
    f->bits = picture->bits;
    status = put_or_fail(f, bytes, length);
    f->added++;
    free(bytes);
    return status;
}

vs_status vs_apng_end(vs_apng *apng, unsigned char **bytes, size_t *length) {
    file *f = apng->kept;
    *bytes = NULL;
    *length = 0;
    if (f->added != f->frames) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = put_or_fail(f, NULL, 0);
    if (status == VS_OK) {
        *bytes = f->bytes;
        *length = f->length;
        f->bytes = NULL;
    }
    return status;
}
