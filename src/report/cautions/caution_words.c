/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Figures, times and lines of the cautions, for people. */
#include "report/cautions/caution_words.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"

const char *vs_caution_plain(double value, char text[16]) {
    if (fabs(value) >= 1000) {
        return vs_style_number(value, text);
    }
    snprintf(text, 16, "%.3g", value);
    return text;
}

void vs_caution_averaging(vs_text *out, const vs_exposure_limit *limit) {
    double minutes = limit->length_s / VS_S_PER_MIN;
    if (limit->average == VS_AVERAGE_PEAK) {
        vs_text_addf(out, "peak");
    } else if (fmod(minutes, 60) == 0) {
        vs_text_addf(out, "%.0f h", minutes / 60);
    } else {
        vs_text_addf(out, "%.0f min", minutes);
    }
}

double vs_caution_wavelength_nm(const vs_safety_tables *tables, const vs_caution_optics *optics,
                                vs_detector_kind kind) {
    return optics->size_known ? tables->detector[kind].wavelength_m * VS_NM_PER_M
                              : VS_BAND_GREEN_NM;
}

const char *vs_caution_status_words(vs_source_status status) {
    static const char *const words[VS_SOURCE_STATUS_COUNT] = {
        "read", "from memory", "common practice, no source", "worked out", "an assumption"};
    return words[status];
}

void vs_caution_heading(vs_caution_sheet *sheet, const char *text) {
    vs_style_ink(sheet->out, sheet->style, VS_INK_HEAD);
    vs_style_wrap(sheet->out, text, 2);
    vs_style_ink(sheet->out, sheet->style, VS_INK_PLAIN);
}

void vs_caution_end_item(vs_caution_sheet *sheet, size_t first, size_t indent) {
    vs_style_blanks(sheet->out, first);
    vs_style_wrap(sheet->out, vs_text_words(&sheet->line, sheet->out), indent);
    sheet->line.length = 0;
}

void vs_caution_end_line(vs_caution_sheet *sheet) {
    vs_caution_end_item(sheet, 0, 0);
}

void vs_caution_moment(vs_caution_sheet *sheet, vs_text *out, double at_s) {
    double from_s = vs_caution_about_s(at_s);
    vs_text_addf(out, "min %.0f", from_s / VS_S_PER_MIN);
    if (!isnan(sheet->scene->start_s)) {
        long clock = lround(sheet->scene->start_s + from_s) % VS_S_PER_DAY;
        vs_text_addf(out, " (%02ld:%02ld)", clock / 3600, clock / 60 % 60);
    }
}
