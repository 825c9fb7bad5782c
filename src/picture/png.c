/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PNG through libpng's full interface, which reports errors by longjmp: everything that must
 * survive a jump is in one struct outside the function that may be left that way. */
#include "veilstop/picture/png.h"

#include "base/growable.h"
#include <png.h>
#include <setjmp.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SIGNATURE_LENGTH 8    /* [bytes] PNG 5.2 */
#define CHUNK_FRAME      12   /* [bytes] of a chunk's length, type and check sum, PNG 5.3 */
#define GAMMA_UNIT       1e5  /* [1] of a gAMA chunk, PNG 11.3.2.2 */
#define DEFLATE_RATIO    1032 /* [1] deflate's greatest ratio (zlib's technical details) */
/* [bytes] of one decompressed chunk: more than any profile */
#define CHUNK_BYTES_MAX (1u << 22)
#define CHUNK_COUNT_MAX 1000 /* chunks kept from a file: our choice */
#define COMPRESSION     3    /* zlib level: compresses 4K pictures in a fraction of a second */

typedef struct {
    const unsigned char *bytes;
    size_t length, at;
    png_structp png;
    png_infop info;
    png_bytep *row;
    vs_picture *picture;
    size_t pixels_most; /* kept; larger pictures are reduced while reading */
    vs_png_size *size;  /* of the file */
    uint16_t *line;     /* one row of the file, if it is reduced */
    uint32_t *sum;      /* of the rows that become one */
    bool out_of_memory;
    char message[128];
} reader;

static void on_error(png_structp png, png_const_charp message) {
    reader *r = png_get_error_ptr(png);
    snprintf(r->message, sizeof r->message, "%s", message);
    png_longjmp(png, 1);
}

static void on_warning(png_structp png, png_const_charp message) {
    (void)png;
    (void)message;
}

static void take(png_structp png, png_bytep out, size_t count) {
    reader *r = png_get_io_ptr(png);
    if (count > r->length - r->at) {
        png_error(png, "it ends too early");
    }
    memcpy(out, r->bytes + r->at, count);
    r->at += count;
}

/* Sets the form to which every PNG is converted: RGB of 16 bits in native byte order. */
static void set_form(reader *r) {
    png_set_expand(r->png);
    png_set_expand_16(r->png);
    png_set_strip_alpha(r->png);
    png_set_gray_to_rgb(r->png);
    const uint16_t one = 1;
    if (*(const unsigned char *)&one == 1) {
        png_set_swap(r->png);
    }
    png_set_interlace_handling(r->png);
    png_read_update_info(r->png, r->info);
}

/* Whether the size is accepted; if not, the message says why. */
static bool size_allowed(reader *r, size_t width, size_t height) {
    size_t bits =
        (size_t)png_get_bit_depth(r->png, r->info) * (size_t)png_get_channels(r->png, r->info);
    if (width > VS_PICTURE_SIDE_MAX || height > VS_PICTURE_SIDE_MAX ||
        width * height > VS_PICTURE_PIXELS_MAX) {
        snprintf(r->message, sizeof r->message, "%zu x %zu pixels are more than this reads", width,
                 height);
        return false;
    }
    if (width * bits / 8 * height > DEFLATE_RATIO * r->length) {
        snprintf(r->message, sizeof r->message, "%zu x %zu pixels cannot be in %zu bytes", width,
                 height, r->length);
        return false;
    }
    return true;
}

/* The factor by which each side must be reduced to keep at most `pixels_most`. */
static size_t reduction(size_t width, size_t height, size_t pixels_most) {
    size_t factor = 1;
    while ((width / factor) * (height / factor) > pixels_most) {
        factor++;
    }
    return factor;
}

/* Reads row by row and keeps the means of factor x factor pixels; incomplete squares at the right
 * and the bottom are dropped. */
static void read_reduced(reader *r, size_t factor) {
    vs_picture *p = r->picture;
    uint32_t area = (uint32_t)(factor * factor);
    for (size_t y = 0; y < r->size->height; y++) {
        png_read_row(r->png, (png_bytep)r->line, NULL);
        if (y / factor >= p->height) {
            continue;
        }
        if (y % factor == 0) {
            memset(r->sum, 0, 3 * p->width * sizeof *r->sum);
        }
        for (size_t x = 0; x < p->width * factor; x++) {
            for (size_t c = 0; c < 3; c++) {
                r->sum[3 * (x / factor) + c] += r->line[3 * x + c];
            }
        }
        uint16_t *out = vs_picture_at(p, 0, y / factor);
        for (size_t i = 0; y % factor == factor - 1 && i < 3 * p->width; i++) {
            out[i] = (uint16_t)((r->sum[i] + area / 2) / area);
        }
    }
}

static void read_whole(reader *r) {
    for (size_t y = 0; y < r->picture->height; y++) {
        r->row[y] = (png_bytep)vs_picture_at(r->picture, 0, y);
    }
    png_read_image(r->png, r->row);
}

/* Allocates the pixels to keep, and a row of the file. */
static bool take_memory(reader *r, int bits) {
    size_t factor = r->size->factor, width = r->size->width;
    vs_status status = vs_picture_init(r->picture, width / factor, r->size->height / factor, bits);
    r->row = malloc(r->size->height * sizeof *r->row);
    r->line = malloc(3 * width * sizeof *r->line);
    r->sum = malloc(3 * width * sizeof *r->sum);
    r->out_of_memory = status != VS_OK || !r->row || !r->line || !r->sum ||
                       png_get_rowbytes(r->png, r->info) != 3 * sizeof(uint16_t) * width;
    return !r->out_of_memory;
}

/* Everything that libpng may jump out of. */
static bool read_pixels(reader *r) {
    if (setjmp(png_jmpbuf(r->png))) {
        return false;
    }
    png_set_read_fn(r->png, r, take);
    png_set_user_limits(r->png, 0x7fffffff, 0x7fffffff); /* our limits have a better message */
    png_set_chunk_malloc_max(r->png, CHUNK_BYTES_MAX);
    png_set_chunk_cache_max(r->png, CHUNK_COUNT_MAX);
    png_read_info(r->png, r->info);
    size_t width = png_get_image_width(r->png, r->info);
    size_t height = png_get_image_height(r->png, r->info);
    if (!size_allowed(r, width, height)) {
        return false;
    }
    r->size->width = width;
    r->size->height = height;
    r->size->factor = reduction(width, height, r->pixels_most);
    if (r->size->factor > 1 && png_get_interlace_type(r->png, r->info) != PNG_INTERLACE_NONE) {
        snprintf(r->message, sizeof r->message, "more than %zu pixels are interlaced",
                 r->pixels_most);
        return false;
    }
    int bits = png_get_bit_depth(r->png, r->info) == 16 ? 16 : 8;
    set_form(r);
    if (!take_memory(r, bits)) {
        return false;
    }
    if (r->size->factor > 1) {
        read_reduced(r, r->size->factor);
    } else {
        read_whole(r);
    }
    png_read_end(r->png, NULL);
    return true;
}

vs_status vs_png_read(const void *bytes, size_t length, vs_picture *picture, vs_faults *faults) {
    vs_png_size size;
    return vs_png_read_reduced(bytes, length, VS_PICTURE_PIXELS_MAX, picture, &size, faults);
}

vs_status vs_png_read_reduced(const void *bytes, size_t length, size_t pixels_most,
                              vs_picture *picture, vs_png_size *size, vs_faults *faults) {
    memset(size, 0, sizeof *size);
    memset(picture, 0, sizeof *picture);
    if (length < SIGNATURE_LENGTH || png_sig_cmp(bytes, 0, SIGNATURE_LENGTH) != 0) {
        vs_faults_add(faults, "", "must be a PNG picture (got something else)");
        return VS_ERR_INPUT;
    }
    reader r = {.bytes = bytes,
                .length = length,
                .picture = picture,
                .pixels_most = pixels_most,
                .size = size};
    r.png = png_create_read_struct(PNG_LIBPNG_VER_STRING, &r, on_error, on_warning);
    r.info = r.png ? png_create_info_struct(r.png) : NULL;
    vs_status status = VS_ERR_MEMORY;
    if (r.info) {
        status = read_pixels(&r) ? VS_OK : r.out_of_memory ? VS_ERR_MEMORY : VS_ERR_INPUT;
    }
    if (status == VS_ERR_INPUT) {
        vs_faults_add(faults, "",
                      "must be a whole and sound PNG picture of at most %u pixels "
                      "(got one where %s)",
                      VS_PICTURE_PIXELS_MAX, r.message);
    }
    if (status != VS_OK) {
        vs_picture_free(picture);
    }
    png_destroy_read_struct(&r.png, &r.info, NULL);
    free(r.row);
    free(r.line);
    free(r.sum);
    return status;
}

static size_t big_endian(const unsigned char *at) {
    return (size_t)at[0] << 24 | (size_t)at[1] << 16 | (size_t)at[2] << 8 | at[3];
}

/* One chunk (PNG 11.3). */
static void take_chunk(const unsigned char *type, const unsigned char *data, size_t length,
                       vs_png_colour *colour, char note[VS_PNG_NOTE_SIZE]) {
    static const char key[] = "Comment";
    if (memcmp(type, "cICP", 4) == 0 && length == 4) {
        colour->primaries = data[0];
        colour->transfer = data[1];
    } else if (memcmp(type, "sRGB", 4) == 0 || memcmp(type, "iCCP", 4) == 0) {
        colour->srgb = true; /* profiles of phones and screens have its curve */
    } else if (memcmp(type, "gAMA", 4) == 0 && length == 4) {
        colour->gamma = (double)big_endian(data) / GAMMA_UNIT;
    } else if (memcmp(type, "tEXt", 4) == 0 && length > sizeof key &&
               memcmp(data, key, sizeof key) == 0) {
        size_t size = length - sizeof key;
        size = size < VS_PNG_NOTE_SIZE ? size : VS_PNG_NOTE_SIZE - 1;
        memcpy(note, data + sizeof key, size);
        note[size] = '\0';
        colour->note = note;
    }
}

void vs_png_read_colour(const void *bytes, size_t length, vs_png_colour *colour,
                        char note[VS_PNG_NOTE_SIZE]) {
    const unsigned char *at = bytes;
    memset(colour, 0, sizeof *colour);
    note[0] = '\0';
    if (length < SIGNATURE_LENGTH || png_sig_cmp(at, 0, SIGNATURE_LENGTH) != 0) {
        return;
    }
    at += SIGNATURE_LENGTH;
    length -= SIGNATURE_LENGTH;
    while (length >= CHUNK_FRAME && memcmp(at + 4, "IDAT", 4) != 0) {
        size_t size = big_endian(at);
        if (size > length - CHUNK_FRAME) {
            return;
        }
        take_chunk(at + 4, at + 8, size, colour, note);
        at += size + CHUNK_FRAME;
        length -= size + CHUNK_FRAME;
    }
}

typedef struct {
    png_structp png;
    png_infop info;
    unsigned char *bytes, *row;
    size_t length, size;
    vs_png_size as; /* the size of the file */
    const vs_png_colour *colour;
} writer;

static void put(png_structp png, png_bytep data, size_t count) {
    writer *w = png_get_io_ptr(png);
    if (count == 0) {
        return;
    }
    unsigned char *bytes = vs_growable_reserve_many(w->bytes, w->length, count, &w->size, 1);
    if (!bytes) {
        png_error(png, "out of memory");
    }
    w->bytes = bytes;
    memcpy(w->bytes + w->length, data, count);
    w->length += count;
}

static void flush_nothing(png_structp png) {
    (void)png;
}

static void on_write_error(png_structp png, png_const_charp message) {
    (void)message;
    png_longjmp(png, 1);
}

/* One row of the file: big-endian 16 bits, or 8. */
static void fill_row(unsigned char *row, const vs_picture *picture, const vs_png_size *as,
                     size_t y) {
    size_t from_y = y / as->factor < picture->height ? y / as->factor : picture->height - 1;
    for (size_t x = 0; x < as->width; x++) {
        size_t from_x = x / as->factor < picture->width ? x / as->factor : picture->width - 1;
        const uint16_t *sample = vs_picture_at(picture, from_x, from_y);
        for (size_t c = 0; c < 3; c++, row += picture->bits / 8) {
            if (picture->bits == 16) {
                row[0] = (unsigned char)(sample[c] >> 8);
                row[1] = (unsigned char)(sample[c] & 0xff);
            } else {
                row[0] = (unsigned char)((sample[c] + 128u) / 257u);
            }
        }
    }
}

/* The chunks that libpng 1.6 knows, and the one it does not. */
static void write_colour(writer *w) {
    const vs_png_colour *c = w->colour;
    if (c->srgb) {
        png_set_sRGB(w->png, w->info, PNG_sRGB_INTENT_PERCEPTUAL);
    }
    if (c->gamma > 0) {
        png_set_gAMA(w->png, w->info, c->gamma);
    }
    png_write_info_before_PLTE(w->png, w->info);
    if (c->primaries > 0) {
        const png_byte points[4] = {(png_byte)c->primaries, (png_byte)c->transfer, 0, 1};
        png_write_chunk(w->png, (png_const_bytep) "cICP", points, sizeof points);
    }
    if (c->note) {
        char key[] = "Comment";
        size_t length = strlen(c->note);
        png_bytep chunk = png_malloc(w->png, sizeof key + length);
        memcpy(chunk, key, sizeof key);
        memcpy(chunk + sizeof key, c->note, length);
        png_write_chunk(w->png, (png_const_bytep) "tEXt", chunk, sizeof key + length);
        png_free(w->png, chunk);
    }
}

static bool write_pixels(writer *w, const vs_picture *picture) {
    if (setjmp(png_jmpbuf(w->png))) {
        return false;
    }
    png_set_write_fn(w->png, w, put, flush_nothing);
    png_set_compression_level(w->png, COMPRESSION);
    png_set_IHDR(w->png, w->info, (png_uint_32)w->as.width, (png_uint_32)w->as.height,
                 picture->bits, PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    write_colour(w);
    png_write_info(w->png, w->info);
    for (size_t y = 0; y < w->as.height; y++) {
        fill_row(w->row, picture, &w->as, y);
        png_write_row(w->png, w->row);
    }
    png_write_end(w->png, NULL);
    return true;
}

static vs_status write_out(const vs_picture *picture, const vs_png_size *as,
                           const vs_png_colour *colour, unsigned char **bytes, size_t *length) {
    *bytes = NULL;
    *length = 0;
    if (!picture->sample || as->factor < 1 || as->width > VS_PICTURE_SIDE_MAX ||
        as->height > VS_PICTURE_SIDE_MAX) {
        return VS_ERR_DOMAIN;
    }
    writer w = {.as = *as, .colour = colour};
    w.row = malloc(6 * as->width); /* at most three samples of two bytes */
    w.png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, on_write_error, on_warning);
    w.info = w.png ? png_create_info_struct(w.png) : NULL;
    bool good = w.row && w.info && write_pixels(&w, picture);
    png_destroy_write_struct(&w.png, &w.info);
    free(w.row);
    if (!good) {
        free(w.bytes);
        return VS_ERR_MEMORY;
    }
    *bytes = w.bytes;
    *length = w.length;
    return VS_OK;
}

vs_status vs_png_write(const vs_picture *picture, unsigned char **bytes, size_t *length) {
    const vs_png_colour none = {0};
    return vs_png_write_colour(picture, &none, bytes, length);
}

vs_status vs_png_write_colour(const vs_picture *picture, const vs_png_colour *colour,
                              unsigned char **bytes, size_t *length) {
    const vs_png_size as = {picture->width, picture->height, 1};
    return write_out(picture, &as, colour, bytes, length);
}

vs_status vs_png_write_enlarged(const vs_picture *picture, const vs_png_size *as,
                                unsigned char **bytes, size_t *length) {
    const vs_png_colour none = {0};
    return write_out(picture, as, &none, bytes, length);
}
