/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part about smoke detectors: the venue's own, and one of each kind. */
#include "report/cautions/cautions_detectors.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/units.h"

#define ROOM_COLUMNS 14 /* [columns] of a room's name */
#define ROOMS_A_ROW  3  /* rooms per table */

static void detector_heads(vs_caution_sheet *s) {
    static const char *const heads[] = {"nm", "dB/m", "%/ft", "alarm"};
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "  detector", 20, false);
    vs_style_cell(s->out, "kind", 20, false);
    vs_style_cell(s->out, "room", ROOM_COLUMNS - 1, false);
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++) {
        vs_style_cell(s->out, heads[i], VS_CAUTION_FIGURE_COLUMNS, true);
    }
    vs_text_addf(s->out, "reached");
    vs_style_end_line(s->out);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
}

static void detector_line(vs_caution_sheet *s, size_t i) {
    const vs_scene_detector *d = &s->scene->venue.detector[i];
    const vs_detector_caution *c = &s->cautions->detector[i];
    const vs_detector_type *type = &s->answer->tables->detector[d->kind];
    vs_text_addf(s->out, "  ");
    vs_style_cell(s->out, d->name, 18, false);
    vs_style_cell(s->out, type->title, 20, false);
    vs_style_cell(s->out, s->scene->room[d->room].name, ROOM_COLUMNS - 1, false);
    vs_style_figure(s->out, VS_CAUTION_FIGURE_COLUMNS, "%.0f",
                    vs_caution_wavelength_nm(s->answer->tables, s->answer->optics, d->kind));
    vs_style_number_cell(s->out, VS_CAUTION_FIGURE_COLUMNS, vs_obscuration_db_per_m(c->peak_per_m));
    vs_style_number_cell(s->out, VS_CAUTION_FIGURE_COLUMNS,
                         vs_obscuration_percent(c->peak_per_m, VS_M_PER_FT));
    vs_style_number_cell(s->out, VS_CAUTION_FIGURE_COLUMNS,
                         vs_obscuration_db_per_m(c->alarm_per_m));
    vs_style_ink(s->out, s->style, c->reached ? VS_INK_BAD : VS_INK_PLAIN);
    if (c->reached) {
        vs_caution_moment(s, s->out, c->reached_s);
    } else {
        vs_text_addf(s->out, "-");
    }
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    vs_style_end_line(s->out);
}

/* The threshold, of any kind and room, that is reached first; NULL if none is. */
static const vs_threshold_caution *first_threshold(const vs_cautions *c) {
    const vs_threshold_caution *first = NULL;
    for (size_t i = 0; i < c->threshold_count; i++) {
        const vs_threshold_caution *t = &c->threshold[i];
        if (!isnan(t->reached_low_s) && (!first || t->reached_low_s < first->reached_low_s)) {
            first = t;
        }
    }
    return first;
}

static void first_alarm(vs_caution_sheet *s) {
    const vs_cautions *c = s->cautions;
    const vs_threshold_caution *any = first_threshold(c);
    if (c->first_detector != VS_NONE) {
        vs_text_addf(&s->line, "The first, %s, is reached from about ",
                     s->scene->venue.detector[c->first_detector].name);
        vs_caution_moment(s, &s->line, c->detector[c->first_detector].reached_s);
        vs_text_addf(&s->line, " on: " VS_CAUTION_ALARM ". ");
    } else if (c->detector_count > 0) {
        vs_text_addf(&s->line, "None of these is reached by these figures, which are of evenly "
                               "mixed air. ");
    } else {
        vs_text_addf(&s->line, "The scene names no detectors: ask the venue what hangs where. ");
    }
    if (any && c->first_detector == VS_NONE) {
        vs_text_addf(&s->line, "Of the kinds below the first is the %s in %s (%s), from about ",
                     s->answer->tables->detector[any->kind].title, s->scene->room[any->room].name,
                     any->threshold->name);
        vs_caution_moment(s, &s->line, any->reached_low_s);
        vs_text_addf(&s->line, ": " VS_CAUTION_ALARM ". ");
    }
    vs_text_addf(&s->line, "Near the hazer the haze is thicker, and alarms come sooner.");
    vs_caution_end_line(s);
}

/* ---- detectors of each kind, as if they hung in every room ---- */

static void add_alarm(vs_text *out, const vs_detector_threshold *t) {
    static const char *const units[] = {"dB/m", "%/m", "%/ft", "% of path"};
    char low[16], high[16];
    vs_text_addf(out, "%s", vs_caution_plain(t->low, low));
    if (t->high > t->low) {
        vs_text_addf(out, " to %s", vs_caution_plain(t->high, high));
    }
    vs_text_addf(out, " %s", units[t->unit]);
}

/* The minute at which a room reaches a threshold; for a range, the minutes of both ends. */
static void threshold_cell(vs_caution_sheet *s, const vs_threshold_caution *t) {
    char text[48] = "-";
    if (!isnan(t->reached_low_s)) {
        double low = vs_caution_about_s(t->reached_low_s) / VS_S_PER_MIN;
        double high = vs_caution_about_s(t->reached_high_s) / VS_S_PER_MIN;
        if (t->high_per_m == t->low_per_m) {
            snprintf(text, sizeof text, "min %.0f", low);
        } else if (isnan(high)) {
            snprintf(text, sizeof text, "min %.0f / -", low);
        } else {
            snprintf(text, sizeof text, high < 1000 ? "min %.0f / %.0f" : "min %.0f/%.0f", low,
                     high);
        }
    }
    vs_style_figure(s->out, ROOM_COLUMNS, "%s", text);
}

/* Two figures in a room's cell, "0.182, 1.27". */
static void pair_cell(vs_text *out, double a, double b) {
    char first[16], second[16];
    size_t each = (ROOM_COLUMNS - 2) / 2;
    vs_style_figure(out, ROOM_COLUMNS, "%s, %s", vs_style_number_within(a, each, first),
                    vs_style_number_within(b, each, second));
}

/* A kind, and each room's peak as that kind senses it; `i` is its first threshold in a room. */
static void kind_line(vs_caution_sheet *s, size_t i, size_t first, size_t end) {
    size_t per_room = s->cautions->threshold_count / s->scene->room_count;
    const vs_safety_tables *tables = s->answer->tables;
    vs_detector_kind kind = s->cautions->threshold[i].kind;
    char text[64];
    snprintf(text, sizeof text, "  %s, %.0f nm", tables->detector[kind].title,
             vs_caution_wavelength_nm(tables, s->answer->optics, kind));
    vs_style_cell(s->out, text, 33, false);
    vs_style_cell(s->out, "peak dB/m, %/ft", 20, false);
    for (size_t room = first; room < end; room++) {
        double k = s->cautions->threshold[room * per_room + i].peak_per_m;
        pair_cell(s->out, vs_obscuration_db_per_m(k), vs_obscuration_percent(k, VS_M_PER_FT));
    }
    vs_style_end_line(s->out);
}

/* The thresholds of all kinds for the rooms [first, end). */
static void threshold_table(vs_caution_sheet *s, size_t first, size_t end) {
    size_t per_room = s->cautions->threshold_count / s->scene->room_count;
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "  kind, by its data", 33, false);
    vs_style_cell(s->out, "alarms at", 20, false);
    for (size_t room = first; room < end; room++) {
        vs_style_cell(s->out, s->scene->room[room].name, ROOM_COLUMNS, true);
    }
    vs_style_end_line(s->out);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    for (size_t i = 0; i < per_room; i++) {
        const vs_threshold_caution *t = &s->cautions->threshold[i];
        vs_detector_kind kind = t->kind;
        if (i == 0 || s->cautions->threshold[i - 1].kind != kind) {
            kind_line(s, i, first, end);
        }
        vs_text_addf(s->out, "    ");
        vs_style_cell(s->out, t->threshold->name, 29, false);
        vs_text alarm;
        vs_text_init(&alarm);
        add_alarm(&alarm, t->threshold);
        vs_style_cell(s->out, vs_text_words(&alarm, s->out), 20, false);
        vs_text_free(&alarm);
        for (size_t room = first; room < end; room++) {
            threshold_cell(s, &s->cautions->threshold[room * per_room + i]);
        }
        vs_style_end_line(s->out);
    }
}

static void threshold_sources(vs_caution_sheet *s) {
    vs_text_addf(&s->line, "Sources: ");
    size_t per_room = s->cautions->threshold_count / s->scene->room_count;
    for (size_t i = 0; i < per_room; i++) {
        const vs_detector_threshold *t = s->cautions->threshold[i].threshold;
        bool listed = false;
        for (size_t k = 0; k < i && !listed; k++) {
            listed = strcmp(s->cautions->threshold[k].threshold->source, t->source) == 0;
        }
        if (!listed) {
            vs_text_addf(&s->line, "%s%s (%s)", i ? "; " : "", t->source,
                         vs_caution_status_words(t->status));
        }
    }
    vs_text_addf(&s->line, ".");
    vs_caution_end_item(s, 0, 2);
}

void vs_caution_detectors(vs_caution_sheet *sheet) {
    vs_caution_heading(
        sheet,
        sheet->answer->optics->size_known
            ? "detectors: the peak in each room as each kind sees it, against where it alarms"
            : "detectors: the peak in each room against where each kind alarms; the "
              "fluid is as measured, so 549 nm stands for what optical heads see at 900 nm");
    if (sheet->cautions->detector_count > 0) {
        detector_heads(sheet);
        for (size_t i = 0; i < sheet->cautions->detector_count; i++) {
            detector_line(sheet, i);
        }
    }
    first_alarm(sheet);
    for (size_t room = 0; room < sheet->scene->room_count; room += ROOMS_A_ROW) {
        size_t end = room + ROOMS_A_ROW;
        threshold_table(sheet, room,
                        end < sheet->scene->room_count ? end : sheet->scene->room_count);
    }
    vs_text_addf(&sheet->line, "Minutes are when the low end is reached / the high end; -: never.");
    vs_caution_end_line(sheet);
    threshold_sources(sheet);
}
