/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Style of tables for people: metres or feet, with or without colour; table cells and the figures
 * in them. */
#ifndef VEILSTOP_REPORT_STYLE_H
#define VEILSTOP_REPORT_STYLE_H

#include <stdbool.h>

#include "veilstop/base/units.h"
#include "veilstop/report/text.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_REPORT_COLUMNS 100 /* no line of a table is wider: our choice */

typedef struct {
    vs_length_unit units;
    bool colour; /* terminal escapes allowed */
} vs_style;

typedef enum { VS_INK_PLAIN, VS_INK_HEAD, VS_INK_GOOD, VS_INK_BAD, VS_INK_FAINT } vs_ink;

/** Switches the colour if colour is allowed. */
void vs_style_ink(vs_text *out, const vs_style *style, vs_ink ink);
/** Words in an ink, plain after them. */
void vs_style_words(vs_text *out, const vs_style *style, vs_ink ink, const char *words);

/** Words in a cell of `columns` columns, followed by a blank: cut with "…" if too long, padded on
 *  the right, or on the left if `right`. Not for figures.
 *  utf8  borrowed */
void vs_style_cell(vs_text *out, const char *utf8, size_t columns, bool right);
/** The same for a formatted figure, aligned right and never cut: one that is too long pushes on
 *  what follows. */
void vs_style_figure(vs_text *out, size_t columns, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 3, 4)))
#endif
    ;

/** The same for stops with their sign, "+0.61"; what rounds to zero is "+0.00". */
void vs_style_stops(vs_text *out, size_t columns, double stops);

/** The same for a number, as vs_style_number_within writes it. */
void vs_style_number_cell(vs_text *out, size_t columns, double value);

void vs_style_blanks(vs_text *out, size_t count);

/** Ends a line, without trailing blanks. */
void vs_style_end_line(vs_text *out);

/** Text wrapped at VS_REPORT_COLUMNS, continuing the current line; later lines indented. */
void vs_style_wrap(vs_text *out, const char *utf8, size_t indent);

/** Values in the units of the style. */
double vs_style_length(const vs_style *style, double length_m);
const char *vs_style_length_unit(const vs_style *style); /* "m" or "ft" */
double vs_style_luminance(const vs_style *style, double nits);
const char *vs_style_luminance_unit(const vs_style *style); /* "nits" or "fL" */

/** Three significant digits, or "0", without an exponent between 1e-5 and 1e9: written to 16
 *  bytes. */
const char *vs_style_number(double value, char text[16]);
/** The same with as many of the three digits as fit the columns, at least one. */
const char *vs_style_number_within(double value, size_t columns, char text[16]);

/** "45 s", "3 min", "3 min 20 s", "1 h 5 min": to the second under 10 min. */
void vs_style_time(vs_text *out, double seconds);

#ifdef __cplusplus
}
#endif
#endif
