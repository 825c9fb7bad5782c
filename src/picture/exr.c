/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The library's output goes to memory, so that a file appears whole or not at all.
 */
#include "veilstop/picture/exr.h"

#include <math.h>
#include <openexr.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define SIDE_MAX (1u << 24)    /* [pixels] the library's own bound is higher */
#define HALF_MAX 65504.0f      /* IEEE 754 binary16 */
#define NAME     "picture.exr" /* required by the library, never opened */

typedef struct {
    unsigned char *bytes;
    size_t length, size;
    bool failed;
} sink;

/* Receives what the library writes at an offset. */
static int64_t put(exr_const_context_t context, void *user, const void *buffer, uint64_t count,
                   uint64_t offset, exr_stream_error_func_ptr_t fail) {
    sink *s = user;
    size_t end = (size_t)(offset + count);
    if (end > s->size) {
        size_t size = s->size ? s->size : 1u << 20;
        while (size < end) {
            size *= 2;
        }
        unsigned char *bytes = realloc(s->bytes, size);
        if (!bytes) {
            s->failed = true;
            fail(context, EXR_ERR_OUT_OF_MEMORY, "out of memory");
            return -1;
        }
        s->bytes = bytes;
        s->size = size;
    }
    memcpy(s->bytes + offset, buffer, count);
    s->length = end > s->length ? end : s->length;
    return (int64_t)count;
}

static void say_nothing(exr_const_context_t context, exr_result_t code, const char *message) {
    (void)context;
    (void)code;
    (void)message;
}

/* A picture being written. */
typedef struct {
    exr_context_t context;
    int part;
    const vs_exr_channel *channel;
    size_t count, width, height;
    float *rows; /* channel x row of a chunk: the data written, clamped to the range of a half */
} writer;

static bool describe(writer *w, const char *note) {
    exr_context_t c = w->context;
    bool good =
        exr_add_part(c, "veilstop", EXR_STORAGE_SCANLINE, &w->part) == EXR_ERR_SUCCESS &&
        exr_initialize_required_attr_simple(c, w->part, (int32_t)w->width, (int32_t)w->height,
                                            EXR_COMPRESSION_ZIP) == EXR_ERR_SUCCESS;
    for (size_t i = 0; i < w->count && good; i++) {
        good = exr_add_channel(c, w->part, w->channel[i].name,
                               w->channel[i].whole ? EXR_PIXEL_FLOAT : EXR_PIXEL_HALF,
                               EXR_PERCEPTUALLY_LOGARITHMIC, 1, 1) == EXR_ERR_SUCCESS;
    }
    if (good && note) {
        good = exr_attr_set_string(c, w->part, "comments", note) == EXR_ERR_SUCCESS;
    }
    return good && exr_write_header(c) == EXR_ERR_SUCCESS;
}

static const vs_exr_channel *named(const writer *w, const char *name) {
    for (size_t i = 0; i < w->count; i++) {
        if (strcmp(w->channel[i].name, name) == 0) {
            return &w->channel[i];
        }
    }
    return NULL;
}

static void fill_row(float *out, const vs_exr_channel *channel, size_t width, size_t y) {
    const float *in = channel->plane + y * width;
    for (size_t x = 0; x < width; x++) {
        out[x] = channel->whole ? in[x] : fminf(in[x], HALF_MAX);
    }
}

/* Points the encoder to the rows of a chunk. */
static bool lend_rows(const writer *w, exr_encode_pipeline_t *encode) {
    size_t lines = (size_t)encode->chunk.height;
    for (int i = 0; i < encode->channel_count; i++) {
        exr_coding_channel_info_t *to = &encode->channels[i];
        const vs_exr_channel *from = named(w, to->channel_name);
        float *rows = w->rows + (size_t)i * lines * w->width;
        for (size_t y = 0; y < lines && from; y++) {
            fill_row(rows + y * w->width, from, w->width, (size_t)encode->chunk.start_y + y);
        }
        to->user_data_type = EXR_PIXEL_FLOAT;
        to->user_bytes_per_element = sizeof(float);
        to->user_pixel_stride = sizeof(float);
        to->user_line_stride = (int32_t)(w->width * sizeof(float));
        to->encode_from_ptr = (const uint8_t *)rows;
        if (!from) {
            return false;
        }
    }
    return true;
}

static bool write_chunks(writer *w) {
    int32_t lines = 0;
    exr_encode_pipeline_t encode = EXR_ENCODE_PIPELINE_INITIALIZER;
    bool good = exr_get_scanlines_per_chunk(w->context, w->part, &lines) == EXR_ERR_SUCCESS;
    w->rows = good ? malloc(w->count * (size_t)lines * w->width * sizeof *w->rows) : NULL;
    good = good && w->rows;
    for (size_t y = 0; y < w->height && good; y += (size_t)lines) {
        exr_chunk_info_t chunk;
        good =
            exr_write_scanline_chunk_info(w->context, w->part, (int)y, &chunk) == EXR_ERR_SUCCESS;
        if (good && y == 0) {
            good = exr_encoding_initialize(w->context, w->part, &chunk, &encode) == EXR_ERR_SUCCESS;
        } else if (good) {
            good = exr_encoding_update(w->context, w->part, &chunk, &encode) == EXR_ERR_SUCCESS;
        }
        good = good && lend_rows(w, &encode);
        if (good && y == 0) {
            good = exr_encoding_choose_default_routines(w->context, w->part, &encode) ==
                   EXR_ERR_SUCCESS;
        }
        good = good && exr_encoding_run(w->context, w->part, &encode) == EXR_ERR_SUCCESS;
    }
    exr_encoding_destroy(w->context, &encode);
    free(w->rows);
    return good;
}

vs_status vs_exr_write(const vs_exr_channel *channel, size_t count, size_t width, size_t height,
                       const char *note, unsigned char **bytes, size_t *length) {
    *bytes = NULL;
    *length = 0;
    if (count == 0 || width == 0 || height == 0 || width > SIDE_MAX || height > SIDE_MAX) {
        return VS_ERR_DOMAIN;
    }
    sink s = {0};
    writer w = {.channel = channel, .count = count, .width = width, .height = height};
    exr_context_initializer_t how = EXR_DEFAULT_CONTEXT_INITIALIZER;
    how.error_handler_fn = say_nothing;
    how.user_data = &s;
    how.write_fn = put;
    bool good = exr_start_write(&w.context, NAME, EXR_WRITE_FILE_DIRECTLY, &how) == EXR_ERR_SUCCESS;
    if (good) {
        good = describe(&w, note) && write_chunks(&w);
        good = exr_finish(&w.context) == EXR_ERR_SUCCESS && good;
    }
    if (!good || s.failed) {
        free(s.bytes);
        return VS_ERR_MEMORY;
    }
    *bytes = s.bytes;
    *length = s.length;
    return VS_OK;
}
