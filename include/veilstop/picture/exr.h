/* SPDX-License-Identifier: GPL-3.0-or-later */
/* OpenEXR files from planes of numbers, with OpenEXR's C core. */
#ifndef VEILSTOP_PICTURE_EXR_H
#define VEILSTOP_PICTURE_EXR_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    const char *name;   /* "R", "veil.R" */
    const float *plane; /* width x height, borrowed */
    bool whole;         /* 32 bits; else a half float */
} vs_exr_channel;

/** Writes one part of scan lines, ZIP, channels by name.
 *  channel  array of `count`; names differ
 *  note     free text of the header, "comments"; may be NULL
 *  bytes    out, the whole file; the caller frees it with free(); NULL on error
 *  Half floats reach 65504: larger values are written as that.
 *  Errors: VS_ERR_DOMAIN (no channel, a size of 0 or over 2^24), VS_ERR_MEMORY.
 *  Source: OpenEXR file layout, by libOpenEXRCore 3.1.  Checked: tests/outside/test_exr.c, read
 *  back by OpenEXR's C++ library. */
VS_WARN_UNUSED vs_status vs_exr_write(const vs_exr_channel *channel, size_t count, size_t width,
                                      size_t height, const char *note, unsigned char **bytes,
                                      size_t *length);

#ifdef __cplusplus
}
#endif
#endif
