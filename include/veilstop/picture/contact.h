/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A contact sheet: several pictures in rows and columns, a caption under each. */
#ifndef VEILSTOP_PICTURE_CONTACT_H
#define VEILSTOP_PICTURE_CONTACT_H

#include "veilstop/base/status.h"
#include "veilstop/picture/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    size_t width, height; /* [pixels] of each picture */
    size_t columns, rows; /* of pictures */
    size_t gap, caption;  /* [pixels] between pictures; height of a caption */
    size_t dot;           /* [pixels] side of a letter's dot */
} vs_contact;

/** The layout for pictures of a size: letters scale with them. A single picture has no caption. */
vs_contact vs_contact_make(size_t width, size_t height, size_t columns, size_t rows);

/** An empty sheet.  Errors: VS_ERR_DOMAIN if it would exceed the limits of picture.h,
 *  VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_contact_init(const vs_contact *contact, int bits, vs_picture *sheet);

/** The position of a picture's top left corner. */
void vs_contact_place(const vs_contact *contact, size_t column, size_t row, size_t *x, size_t *y);

/** Writes a line, 0 or 1, of the caption under a picture, in grey of a given signal; text that is
 *  too long ends in dots. */
void vs_contact_write(const vs_contact *contact, vs_picture *sheet, size_t column, size_t row,
                      int line, const char *utf8, double signal);

#ifdef __cplusplus
}
#endif
#endif
