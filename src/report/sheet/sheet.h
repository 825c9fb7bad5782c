/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the sheet share, and how they write HTML. Source of the language: the HTML
 * Living Standard; of the drawings: SVG 2. */
#ifndef VEILSTOP_REPORT_SHEET_SHEET_H
#define VEILSTOP_REPORT_SHEET_SHEET_H

#include "veilstop/report/sheet.h"

typedef struct {
    vs_text *out;
    const vs_style *style;
    const vs_sheet_answer *answer;
    const vs_scene *scene;
    const vs_dwell *dwell; /* NULL: none */
    const vs_cautions *cautions;
    bool tight;  /* smaller letters, several things in one line */
    bool beside; /* the curve stands beside the plan, on one page with the shots */
} vs_sheet;

/* ---- HTML ---- */

/* Words between tags or inside a quoted attribute: HTML's own characters are written as
 * references, what is no text as U+FFFD. */
void vs_sheet_text(vs_text *out, const char *utf8);

/* A figure of a JSON answer: `shown`, with its value as the JSON has it and its place there. as:
 * how it is shown: "" as it is, "ft" [m] in feet, "percent" [1] or already, "clock" [min] */
void vs_sheet_figure(vs_text *out, double value, const char *as, const char *shown, const char *of,
                     ...) __attribute__((format(printf, 5, 6)));
/* The same with three significant digits. */
void vs_sheet_number(vs_text *out, double value, const char *of, ...)
    __attribute__((format(printf, 3, 4)));
/* The same with so many decimals. */
void vs_sheet_decimals(vs_text *out, int decimals, double value, const char *of, ...)
    __attribute__((format(printf, 4, 5)));
/* The same with its sign. */
void vs_sheet_stops(vs_text *out, int decimals, double value, const char *of, ...)
    __attribute__((format(printf, 4, 5)));
/* A length [m] in the sheet's unit, with it. decimals under 0: three significant digits */
void vs_sheet_length(const vs_sheet *s, int decimals, double length_m, const char *of, ...)
    __attribute__((format(printf, 4, 5)));
/* A duration [s], whose JSON has `value`. */
void vs_sheet_time(vs_text *out, double seconds, double value, const char *of, ...)
    __attribute__((format(printf, 4, 5)));

/* The moment of the day [s]: "07:42" and small seconds, or "12.1 min" where the scene has no start.
 */
void vs_sheet_moment(const vs_sheet *s, double at_s, const char *of, ...)
    __attribute__((format(printf, 3, 4)));
/* As roughly as the cautions tell an alarm. */
void vs_sheet_rough_moment(const vs_sheet *s, double at_s, const char *of, ...)
    __attribute__((format(printf, 3, 4)));

/* An empty box to tick, with words that name it for a screen reader. */
void vs_sheet_tick(vs_text *out, const char *words);

/* Bytes as base64 (RFC 4648). */
void vs_sheet_base64(vs_text *out, const void *bytes, size_t length);

/* All the styles. */
void vs_sheet_add_style(vs_sheet *s);

/* ---- the day ---- */

/* How many shots the day has, and which shot of the scene is at a place of it. */
size_t vs_sheet_shot_count(const vs_sheet *s);
size_t vs_sheet_shot_at(const vs_sheet *s, size_t place);

/* Days of so many shots have two pages; longer ones as many as they need. Our choice. */
#define VS_SHEET_TWO_PAGES 12

/* Whether the day does not fit on two pages in large letters. */
bool vs_sheet_is_crowded(const vs_sheet *s);

/* Whether a light shines in a shot of the day. */
bool vs_sheet_shines(const vs_sheet *s, size_t light);

/* ---- the parts, in the order of the paper ---- */

void vs_sheet_shots(vs_sheet *s);
void vs_sheet_curve(vs_sheet *s);
void vs_sheet_run(vs_sheet *s);
void vs_sheet_plan(vs_sheet *s);
void vs_sheet_card(vs_sheet *s);
void vs_sheet_people(vs_sheet *s);
void vs_sheet_checklist(vs_sheet *s);
/* The part of the checklist that the production does before the day. */
void vs_sheet_preparation(vs_sheet *s);
/* Whether a line of the checklist is for somebody of the venue. */
bool vs_sheet_is_venues(const vs_notice *notice);
void vs_sheet_venue(vs_sheet *s);

/* The line about alarms that begins both parts. */
void vs_sheet_alarm(vs_sheet *s);

#endif
