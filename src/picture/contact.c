/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The layout of pictures and captions. */
#include "veilstop/picture/contact.h"

#include <string.h>

#include "picture/glyphs.h"

#define GAP_SHARE 80  /* of a picture's width: gaps between pictures */
#define DOT_SHARE 320 /* of a picture's width: about fifty letters across */
#define LINES     2   /* of a caption */
#define MARGIN    3   /* dots above and below each */

vs_contact vs_contact_make(size_t width, size_t height, size_t columns, size_t rows) {
    vs_contact c = {.width = width, .height = height, .columns = columns, .rows = rows};
    if (columns * rows > 1) {
        c.dot = width / DOT_SHARE > 1 ? width / DOT_SHARE : 1;
        c.gap = width / GAP_SHARE + 2;
        c.caption = (size_t)LINES * (VS_GLYPH_HEIGHT + 2 * MARGIN) * c.dot;
    }
    return c;
}

vs_status vs_contact_init(const vs_contact *c, int bits, vs_picture *sheet) {
    memset(sheet, 0, sizeof *sheet);
    if (c->columns > VS_PICTURE_SIDE_MAX || c->rows > VS_PICTURE_SIDE_MAX ||
        c->width > VS_PICTURE_SIDE_MAX || c->height > VS_PICTURE_SIDE_MAX) {
        return VS_ERR_DOMAIN;
    }
    return vs_picture_init(sheet, c->columns * (c->width + c->gap) + c->gap,
                           c->rows * (c->height + c->caption + c->gap) + c->gap, bits);
}

void vs_contact_place(const vs_contact *c, size_t column, size_t row, size_t *x, size_t *y) {
    *x = c->gap + column * (c->width + c->gap);
    *y = c->gap + row * (c->height + c->caption + c->gap);
}

void vs_contact_write(const vs_contact *c, vs_picture *sheet, size_t column, size_t row, int line,
                      const char *utf8, double signal) {
    size_t x, y;
    if (c->caption == 0) {
        return;
    }
    vs_contact_place(c, column, row, &x, &y);
    y += c->height + (MARGIN + (size_t)line * (VS_GLYPH_HEIGHT + 2 * MARGIN)) * c->dot;
    vs_glyphs_write(sheet, x, y, c->width, c->dot, utf8, signal);
}
