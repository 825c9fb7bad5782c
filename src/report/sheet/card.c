/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table for readings of a black-and-white card: what haze should leave of its contrast, and
 * room for what is read. */
#include "report/sheet/sheet.h"

#include <stdio.h>

#define ROWS_ROOMY 13 /* less two for each shot, whose lines the run sheet needs; our choice */

/* Where a shot's card stands: the furthest point that the camera sees, where the reading is most
 * accurate; VS_NONE: no point. */
static size_t card_point(const vs_shot_prediction *p) {
    size_t far = VS_NONE;
    for (size_t i = 0; i < p->shot->point_count; i++) {
        const vs_point_prediction *point = &p->point[i];
        if (!point->hidden && point->in_frame &&
            (far == VS_NONE || point->distance_m > p->point[far].distance_m)) {
            far = i;
        }
    }
    return far;
}

static void blanks(vs_sheet *s, int count) {
    for (int i = 0; i < count; i++) {
        vs_text_addf(s->out, "<td class=\"blank\"></td>");
    }
    vs_text_addf(s->out, "</tr>\n");
}

static void row(vs_sheet *s, size_t place) {
    size_t shot = vs_sheet_shot_at(s, place);
    const vs_shot_prediction *p = s->answer->shot[shot].prediction;
    size_t at = card_point(p);
    vs_text_addf(s->out, "<tr><th scope=\"row\">");
    vs_sheet_text(s->out, p->shot->name);
    vs_text_addf(s->out, "</th>");
    if (at == VS_NONE) {
        vs_text_addf(s->out, "<td></td><td></td><td></td>");
        blanks(s, 6);
        return;
    }
    char kept[16];
    double share = vs_bands_luminance(p->point[at].transmission);
    vs_text_addf(s->out, "<td>");
    vs_sheet_text(s->out, p->shot->point[at].name);
    vs_text_addf(s->out, "</td><td>");
    vs_sheet_length(s, 1, p->point[at].distance_m, "predict/shots/%zu/points/%zu/distance_m", shot,
                    at);
    snprintf(kept, sizeof kept, "%.0f", 100 * share);
    vs_text_addf(s->out, "</td><td><b>");
    vs_sheet_figure(s->out, share, "percent", kept, "predict/shots/%zu/points/%zu/transmission",
                    shot, at);
    vs_text_addf(s->out, "&nbsp;%%</b></td>");
    blanks(s, 6);
}

void vs_sheet_card(vs_sheet *s) {
    size_t count = vs_sheet_shot_count(s),
           rows = s->tight ? VS_SHEET_TWO_PAGES : ROWS_ROOMY - 2 * count;
    vs_text_addf(
        s->out,
        "<h2>Card readings</h2>\n<section class=\"wide\" tabindex=\"0\" "
        "aria-label=\"Card readings\">\n<table class=\"card\">\n<thead><tr>"
        "<th scope=\"col\">shot</th><th scope=\"col\">card at</th><th scope=\"col\">away</th>"
        "<th scope=\"col\">kept, expected</th><th scope=\"col\">no haze: white</th>"
        "<th scope=\"col\">no haze: black</th><th scope=\"col\">haze: white</th>"
        "<th scope=\"col\">haze: black</th><th scope=\"col\">kept&nbsp;%%</th>"
        "<th scope=\"col\">time</th></tr></thead>\n<tbody>\n");
    for (size_t place = 0; place < count; place++) {
        row(s, place);
    }
    for (size_t i = count; i < rows; i++) {
        vs_text_addf(s->out, "<tr><td></td><td></td><td></td><td></td>");
        blanks(s, 6);
    }
    vs_text_addf(s->out,
                 "</tbody>\n</table>\n</section>\n<p class=\"note\">Card lit from close by. Kept: "
                 "white less black in haze, over the same without. Less than expected: "
                 "too thick, wait; more: too thin.</p>\n");
}
