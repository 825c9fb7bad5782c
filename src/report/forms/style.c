/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cells, wrapping, units. Terminal escapes follow ECMA-48. */
#include "veilstop/report/style.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define HALF_A_DIGIT 5e-4 /* [1] half of the third digit: 0.9996 is 1.00, not 1.000 */

void vs_style_ink(vs_text *out, const vs_style *style, vs_ink ink) {
    static const char *const escape[] = {"\033[0m", "\033[1m", "\033[32m", "\033[31m", "\033[2m"};
    if (style->colour) {
        vs_text_add(out, escape[ink], strlen(escape[ink]));
    }
}

void vs_style_words(vs_text *out, const vs_style *style, vs_ink ink, const char *words) {
    vs_style_ink(out, style, ink);
    vs_text_addf(out, "%s", words);
    vs_style_ink(out, style, VS_INK_PLAIN);
}

void vs_style_blanks(vs_text *out, size_t count) {
    for (size_t i = 0; i < count; i++) {
        vs_text_add(out, " ", 1);
    }
}

/* Bytes of the first `columns` characters. */
static size_t bytes_of(const char *utf8, size_t columns) {
    size_t i = 0;
    for (size_t seen = 0; utf8[i]; i++) {
        if (((unsigned char)utf8[i] & 0xc0) != 0x80 && seen++ == columns) {
            break;
        }
    }
    return i;
}

void vs_style_cell(vs_text *out, const char *utf8, size_t columns, bool right) {
    size_t width = vs_text_columns(utf8);
    if (width > columns) {
        vs_text_add(out, utf8, bytes_of(utf8, columns - 1));
        vs_text_addf(out, "\xe2\x80\xa6 "); /* U+2026, an ellipsis */
        return;
    }
    if (right) {
        vs_style_blanks(out, columns - width);
    }
    vs_text_add(out, utf8, strlen(utf8));
    vs_style_blanks(out, (right ? 0 : columns - width) + 1);
}

void vs_style_figure(vs_text *out, size_t columns, const char *format, ...) {
    char text[64];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    size_t width = vs_text_columns(text);
    vs_style_cell(out, text, width > columns ? width : columns, true);
}

/* "4.44e-04" to "4.44e-4": saves a column. */
static void tighten(char *number) {
    char *e = strchr(number, 'e');
    if (e && e[2] == '0') {
        memmove(e + 2, e + 3, strlen(e + 3) + 1);
    }
}

const char *vs_style_number_within(double value, size_t columns, char text[16]) {
    vs_style_number(value, text);
    tighten(text);
    for (int digits = 2; digits > 0 && vs_text_columns(text) > columns; digits--) {
        snprintf(text, 16, "%.*g", digits, value);
        tighten(text);
    }
    return text;
}

void vs_style_stops(vs_text *out, size_t columns, double stops) {
    vs_style_figure(out, columns, "%+.2f", fabs(stops) < 0.005 ? 0 : stops);
}

void vs_style_number_cell(vs_text *out, size_t columns, double value) {
    char text[16];
    vs_style_figure(out, columns, "%s", vs_style_number_within(value, columns, text));
}

void vs_style_end_line(vs_text *out) {
    while (out->length > 0 && out->bytes[out->length - 1] == ' ') {
        out->bytes[--out->length] = '\0';
    }
    vs_text_add(out, "\n", 1);
}

/* Columns used so far on the current line. */
static size_t columns_taken(const vs_text *out) {
    size_t start = out->length;
    while (start > 0 && out->bytes[start - 1] != '\n') {
        start--;
    }
    return out->length > 0 ? vs_text_columns(out->bytes + start) : 0;
}

void vs_style_wrap(vs_text *out, const char *utf8, size_t indent) {
    size_t column = columns_taken(out);
    bool line_has_words = false;
    for (const char *word = utf8; *word;) {
        size_t length = strcspn(word, " ");
        char line[VS_REPORT_COLUMNS * 4 + 1];
        snprintf(line, sizeof line, "%.*s", (int)length, word);
        size_t width = vs_text_columns(line);
        if (line_has_words && column + 1 + width > VS_REPORT_COLUMNS) {
            vs_text_add(out, "\n", 1);
            vs_style_blanks(out, indent);
            column = indent;
        } else if (line_has_words) {
            vs_text_add(out, " ", 1);
            column++;
        }
        vs_text_add(out, line, strlen(line));
        line_has_words = true;
        column += width;
        word += length;
        word += strspn(word, " ");
    }
    vs_text_add(out, "\n", 1);
}

double vs_style_length(const vs_style *style, double length_m) {
    return length_m / vs_length_unit_m(style->units);
}

const char *vs_style_length_unit(const vs_style *style) {
    return style->units == VS_LENGTH_FT ? "ft" : "m";
}

double vs_style_luminance(const vs_style *style, double nits) {
    return style->units == VS_LENGTH_FT ? nits / VS_NITS_PER_FL : nits;
}

const char *vs_style_luminance_unit(const vs_style *style) {
    return style->units == VS_LENGTH_FT ? "fL" : "nits";
}

const char *vs_style_number(double value, char text[16]) {
    double size = fabs(value);
    if (size == 0) {
        snprintf(text, 16, "0");
    } else if (!isfinite(value)) {
        snprintf(text, 16, "-");
    } else if (size < 1e-5 || size >= 1e9) {
        snprintf(text, 16, "%.2e", value);
    } else {
        int decimals = 2 - (int)floor(log10(size * (1 + HALF_A_DIGIT)));
        double whole = decimals < 0 ? pow(10, -decimals) : 0;
        snprintf(text, 16, "%.*f", decimals > 0 ? decimals : 0,
                 whole > 0 ? whole * round(value / whole) : value);
    }
    return text;
}

void vs_style_time(vs_text *out, double seconds) {
    long s = lround(seconds);
    long m = lround(seconds / VS_S_PER_MIN);
    if (s < 60) {
        vs_text_addf(out, "%ld s", s);
    } else if (s < 600 && s % 60) {
        vs_text_addf(out, "%ld min %ld s", s / 60, s % 60);
    } else if (m < 60) {
        vs_text_addf(out, "%ld min", m);
    } else if (m % 60) {
        vs_text_addf(out, "%ld h %ld min", m / 60, m % 60);
    } else {
        vs_text_addf(out, "%ld h", m / 60);
    }
}
