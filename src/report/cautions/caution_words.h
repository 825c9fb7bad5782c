/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words and layout shared by the cautions. */
#ifndef VEILSTOP_REPORT_CAUTIONS_CAUTION_WORDS_H
#define VEILSTOP_REPORT_CAUTIONS_CAUTION_WORDS_H

#include "veilstop/report/cautions.h"

/* Fixed words: docs/words.md. */
#define VS_CAUTION_ALARM                                                                           \
    "expect an alarm: have the system isolated by whoever is responsible for it, with a fire "     \
    "watch, before any haze"
#define VS_CAUTION_DEFER "Defer to local code, the venue and licensed practice."

/* Heading of the venue's own rules in the checklist. */
#define VS_CAUTION_RULE_WHEN "the venue's own rules"
#define VS_CAUTION_RULE_WHO  "everyone"

/* A figure as its source gives it: "10", "6.67", without trailing zeros. */
const char *vs_caution_plain(double value, char text[16]);

/* The period over which a limit is averaged: "8 h", "15 min", "peak". */
void vs_caution_averaging(vs_text *out, const vs_exposure_limit *limit);

/* The wavelength at which a kind of detector was evaluated: its own, or that of extinctions if the
 * fluid is a measured one. */
double vs_caution_wavelength_nm(const vs_safety_tables *tables, const vs_caution_optics *optics,
                                vs_detector_kind kind);

/* How a figure is known, in words: "from memory". */
const char *vs_caution_status_words(vs_source_status status);

/* State shared by the parts of the sheet; a line is collected in `line`, then wrapped into
 * `out`. */
typedef struct {
    vs_text *out;
    const vs_style *style;
    const vs_cautions_answer *answer;
    const vs_scene *scene;
    const vs_cautions *cautions;
    vs_text line;
} vs_caution_sheet;

#define VS_CAUTION_FIGURE_COLUMNS 6 /* [columns] of a figure in a table */

void vs_caution_heading(vs_caution_sheet *sheet, const char *text);
/* Writes the collected line, indented by `first` and then `indent`, and starts the next. */
void vs_caution_end_item(vs_caution_sheet *sheet, size_t first, size_t indent);
void vs_caution_end_line(vs_caution_sheet *sheet);
/* The time of day to which an alarm is told: "min 10 (07:40)". */
void vs_caution_moment(vs_caution_sheet *sheet, vs_text *out, double at_s);

#endif
