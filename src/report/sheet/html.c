/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text, figures and moments in HTML. */
#include "report/sheet/sheet.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/base/utf8.h"

#define PLACE_SIZE 160 /* [bytes] of a figure's place in an answer: names are not in it */

/* HTML allows no control characters but these, and no noncharacters (13.2.3.5). */
static bool is_text(const unsigned char *c, size_t length) {
    bool noncharacter = length == 3 && c[0] == 0xef && c[1] == 0xbf && c[2] >= 0xbe;
    bool control = c[0] == 0x7f || (c[0] < 0x20 && c[0] != '\t' && c[0] != '\n') ||
                   (length == 2 && c[0] == 0xc2 && c[1] < 0xa0);
    return length > 0 && !noncharacter && !control;
}

void vs_sheet_text(vs_text *out, const char *utf8) {
    for (const char *c = utf8; *c;) {
        size_t length = vs_utf8_character(c);
        if (!is_text((const unsigned char *)c, length)) {
            vs_text_addf(out, "\xef\xbf\xbd");
        } else if (strchr("&<>\"", *c)) {
            vs_text_addf(out, "&#%d;", *c);
        } else {
            vs_text_add(out, c, length);
        }
        c += length ? length : 1;
    }
}

static void figure_at(vs_text *out, double value, const char *as, const char *shown, const char *of,
                      va_list rest) {
    char place[PLACE_SIZE];
    vsnprintf(place, sizeof place, of, rest);
    vs_text_addf(out, "<data value=\"%.9g\" data-of=\"%s\"", value, place);
    if (as[0]) {
        vs_text_addf(out, " data-as=\"%s\"", as);
    }
    vs_text_addf(out, ">%s</data>", shown);
}

void vs_sheet_figure(vs_text *out, double value, const char *as, const char *shown, const char *of,
                     ...) {
    va_list rest;
    va_start(rest, of);
    figure_at(out, value, as, shown, of, rest);
    va_end(rest);
}

void vs_sheet_number(vs_text *out, double value, const char *of, ...) {
    char shown[16];
    va_list rest;
    va_start(rest, of);
    figure_at(out, value, "", vs_style_number(value, shown), of, rest);
    va_end(rest);
}

void vs_sheet_decimals(vs_text *out, int decimals, double value, const char *of, ...) {
    char shown[48];
    va_list rest;
    snprintf(shown, sizeof shown, "%.*f", decimals, value);
    va_start(rest, of);
    figure_at(out, value, "", shown, of, rest);
    va_end(rest);
}

void vs_sheet_stops(vs_text *out, int decimals, double value, const char *of, ...) {
    char shown[48];
    va_list rest;
    snprintf(shown, sizeof shown, "%+.*f", decimals, value);
    va_start(rest, of);
    figure_at(out, value, "", shown, of, rest);
    va_end(rest);
}

void vs_sheet_length(const vs_sheet *s, int decimals, double length_m, const char *of, ...) {
    char shown[48];
    double length = vs_style_length(s->style, length_m);
    va_list rest;
    if (decimals < 0) {
        char number[16];
        snprintf(shown, sizeof shown, "%s", vs_style_number(length, number));
    } else {
        snprintf(shown, sizeof shown, "%.*f", decimals, length);
    }
    va_start(rest, of);
    figure_at(s->out, length_m, s->style->units == VS_LENGTH_FT ? "ft" : "", shown, of, rest);
    va_end(rest);
    vs_text_addf(s->out, "&nbsp;%s", vs_style_length_unit(s->style));
}

void vs_sheet_time(vs_text *out, double seconds, double value, const char *of, ...) {
    vs_text shown;
    va_list rest;
    vs_text_init(&shown);
    vs_style_time(&shown, seconds);
    va_start(rest, of);
    figure_at(out, value, "time", vs_text_words(&shown, out), of, rest);
    va_end(rest);
    vs_text_free(&shown);
}

/* The clock of a moment, or its minute. */
static void moment_words(const vs_sheet *s, double at_s, bool seconds, char *shown, size_t size) {
    if (isnan(s->scene->start_s)) {
        snprintf(shown, size, seconds ? "%.1f<small>&nbsp;min</small>" : "%.0f&nbsp;min",
                 at_s / VS_S_PER_MIN);
        return;
    }
    long clock = lround(s->scene->start_s + at_s) % VS_S_PER_DAY;
    int used = snprintf(shown, size, "%02ld:%02ld", clock / 3600, clock / 60 % 60);
    if (seconds && clock % 60 != 0) {
        snprintf(shown + used, size - (size_t)used, "<small>:%02ld</small>", clock % 60);
    }
}

void vs_sheet_moment(const vs_sheet *s, double at_s, const char *of, ...) {
    char shown[64];
    va_list rest;
    moment_words(s, at_s, true, shown, sizeof shown);
    va_start(rest, of);
    figure_at(s->out, at_s / VS_S_PER_MIN, isnan(s->scene->start_s) ? "minute" : "clock", shown, of,
              rest);
    va_end(rest);
}

void vs_sheet_rough_moment(const vs_sheet *s, double at_s, const char *of, ...) {
    char shown[64];
    va_list rest;
    double from_s = vs_caution_about_s(at_s);
    moment_words(s, from_s, false, shown, sizeof shown);
    va_start(rest, of);
    figure_at(s->out, at_s / VS_S_PER_MIN, "rough", shown, of, rest);
    va_end(rest);
}

void vs_sheet_tick(vs_text *out, const char *words) {
    vs_text_addf(out, "<input type=\"checkbox\" aria-label=\"");
    vs_sheet_text(out, words);
    vs_text_addf(out, "\">");
}

void vs_sheet_base64(vs_text *out, const void *bytes, size_t length) {
    static const char digit[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const unsigned char *b = bytes;
    for (size_t i = 0; i < length; i += 3) {
        size_t have = length - i < 3 ? length - i : 3;
        unsigned group = (unsigned)b[i] << 16;
        group |= have > 1 ? (unsigned)b[i + 1] << 8 : 0;
        group |= have > 2 ? (unsigned)b[i + 2] : 0;
        char four[4] = {digit[group >> 18], digit[group >> 12 & 63],
                        have > 1 ? digit[group >> 6 & 63] : '=',
                        have > 2 ? digit[group & 63] : '='};
        vs_text_add(out, four, sizeof four);
    }
}
