/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PNG in and out of memory, with libpng. Code values pass unchanged: no gamma, no colour profile;
 * their meaning may be stated in the file. Source: W3C PNG (third edition) by libpng 1.6. */
#ifndef VEILSTOP_PICTURE_PNG_H
#define VEILSTOP_PICTURE_PNG_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/picture/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Reads a PNG of any kind: grey and palette become RGB, 8 bits become 16 (times 257), alpha is
 *  dropped.
 *  bytes    the whole file
 *  picture  out; zero on error
 *  faults   gets one line on error: not a PNG, over the limits of picture.h, truncated, damaged
 *  Errors: VS_ERR_INPUT, VS_ERR_MEMORY.
 *  Guards: the size is checked before memory is allocated for pixels; a file too short for its size
 *  at deflate's best ratio is refused; compressed chunks of text or profiles are bounded.
 *  Checked: tests/unit/test_png.c against libpng's simplified interface. */
VS_WARN_UNUSED vs_status vs_png_read(const void *bytes, size_t length, vs_picture *picture,
                                     vs_faults *faults);

/** Writes RGB with the picture's own bits (8: rounded to nearest).
 *  bytes   out, the whole file; the caller frees it with free(); NULL on error
 *  Errors: VS_ERR_DOMAIN (no picture), VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_png_write(const vs_picture *picture, unsigned char **bytes,
                                      size_t *length);

/** The meaning of code values, stated in the file. Zero throughout: nothing is stated. */
typedef struct {
    unsigned primaries, transfer; /* code points of ITU-T H.273, full range RGB; 0: no cICP chunk */
    bool srgb;                    /* an sRGB chunk; when read, or a profile (iCCP) */
    double gamma;                 /* of a gAMA chunk, for readers without cICP; 0: none */
    const char *note;             /* a tEXt chunk, "Comment"; NULL: none */
} vs_png_colour;

/** As vs_png_write, with the meaning of the code values (PNG third edition, 11.3.2). */
VS_WARN_UNUSED vs_status vs_png_write_colour(const vs_picture *picture, const vs_png_colour *colour,
                                             unsigned char **bytes, size_t *length);

#define VS_PNG_NOTE_SIZE 96 /* [bytes] of a comment that is kept; our choice */

/** What a file says of its code values, in the chunks before its pixels; zero where it says nothing
 *  or is no PNG. Nothing is checked but lengths: a damaged file is for vs_png_read to refuse.
 *  note  room for a comment, which colour->note then is
 *  Checked: tests/unit/test_png.c */
void vs_png_read_colour(const void *bytes, size_t length, vs_png_colour *colour,
                        char note[VS_PNG_NOTE_SIZE]);

/** The size of a file's picture, and its reduction: one pixel for factor x factor of the file. */
typedef struct {
    size_t width, height, factor;
} vs_png_size;

/** As vs_png_read, but a picture of more than `pixels_most` is reduced, by means of code values
 *  over squares of whole pixels, so that memory is bounded whatever the file contains.
 *  size    out; zero if an error occurs before it is known
 *  Errors: those of vs_png_read; an interlaced picture of more pixels, whose order cannot be
 *  reduced while reading, is a fault.   Checked: tests/unit/test_png.c */
VS_WARN_UNUSED vs_status vs_png_read_reduced(const void *bytes, size_t length, size_t pixels_most,
                                             vs_picture *picture, vs_png_size *size,
                                             vs_faults *faults);

/** As vs_png_write, repeating each pixel factor x factor times, the last ones more or less, so that
 *  the file has the size of `as`. */
VS_WARN_UNUSED vs_status vs_png_write_enlarged(const vs_picture *picture, const vs_png_size *as,
                                               unsigned char **bytes, size_t *length);

#ifdef __cplusplus
}
#endif
#endif
