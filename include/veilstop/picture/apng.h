/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Animated PNG: pictures of one size, one after the other, in one file. Source: W3C PNG (third
 * edition), 4.9 and 11.3.6 (acTL, fcTL, fdAT). */
#ifndef VEILSTOP_PICTURE_APNG_H
#define VEILSTOP_PICTURE_APNG_H

#include "veilstop/picture/png.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_APNG_FRAMES_MAX 10000u       /* our choice */
#define VS_APNG_BYTES_MAX  (1ull << 30) /* [bytes] of a file, held in memory: our choice */

/** A file in the making. */
typedef struct {
    void *kept; /* opaque */
} vs_apng;

/** frames        1 to VS_APNG_FRAMES_MAX, all of which are to be added
 *  frames_per_s  1 to 1000
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY. Nothing needs to be freed then. */
VS_WARN_UNUSED vs_status vs_apng_begin(vs_apng *apng, size_t frames, unsigned frames_per_s);
void vs_apng_free(vs_apng *apng);

/** Adds the next picture. The first is also what a reader shows that knows no animation.
 *  colour  as for vs_png_write_colour; that of the first counts
 *  Errors: VS_ERR_DOMAIN: it has another size or other bits than the first, or is one too many;
 *  VS_ERR_UNREACHABLE: the file would have more than VS_APNG_BYTES_MAX; VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_apng_add(vs_apng *apng, const vs_picture *picture,
                                     const vs_png_colour *colour);

/** The file, once all pictures are in; it plays over and over.
 *  bytes  out; the caller frees it with free(); NULL on error
 *  Errors: VS_ERR_DOMAIN: pictures are missing; VS_ERR_MEMORY.
 *  Checked: tests/unit/test_apng.c, by the chunks' own rules and libpng's simplified interface. */
VS_WARN_UNUSED vs_status vs_apng_end(vs_apng *apng, unsigned char **bytes, size_t *length);

#ifdef __cplusplus
}
#endif
#endif
