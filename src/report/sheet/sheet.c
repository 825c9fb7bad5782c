/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sheet as a document: its head, what is signed, and the order of its parts. */
#include "report/sheet/sheet.h"

#include <math.h>

#include "veilstop/report/rooms.h"

/* A content security policy: nothing runs and nothing is loaded, whatever a scene's names
 * contain. */
static void add_document_head(vs_sheet *s) {
    vs_text_addf(s->out,
                 "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                 "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                 "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                 "img-src data:; style-src 'unsafe-inline'\">\n"
                 "<meta name=\"generator\" content=\"veilstop %s\">\n<title>",
                 VS_VERSION);
    vs_sheet_text(s->out, s->answer->title);
    vs_text_addf(s->out, ": the day's haze</title>\n<style>\n");
    vs_sheet_add_style(s);
    vs_text_addf(s->out, "</style>\n</head>\n");
}

static void fill_in(vs_sheet *s, const char *what, const char *class) {
    vs_text_addf(s->out, "<li class=\"%s\">%s <span class=\"rule\"></span></li>\n", class, what);
}

static void head(vs_sheet *s) {
    vs_text_addf(s->out, "<header>\n<h1>");
    vs_sheet_text(s->out, s->answer->title);
    vs_text_addf(s->out, "</h1>\n<ul class=\"fill\">\n");
    fill_in(s, "Date", "third");
    fill_in(s, "Place", "third");
    fill_in(s, "Hazer operator", "third");
    fill_in(s, "Responsible for the fire alarm, name and phone", "half");
    fill_in(s, "signed, with the time", "half");
    fill_in(s, "Fire watch, name and phone", "half");
    fill_in(s, "First assistant director, signed", "half");
    vs_text_addf(s->out, "</ul>\n</header>\n");
}

/* Where the file's lengths look as if they were in another unit: all that follows hangs on it. */
static void add_size_doubt(vs_sheet *s) {
    vs_text doubt;
    vs_text_init(&doubt);
    if (vs_report_size_doubt(&doubt, s->style, s->scene)) {
        vs_text_addf(s->out, "<p class=\"alarm\"><strong>Check the file: ");
        vs_sheet_text(s->out, vs_text_words(&doubt, s->out));
        vs_text_addf(s->out, "</strong></p>\n");
    }
    vs_text_free(&doubt);
}

/* Where another order waits less. */
static void add_other_order(vs_sheet *s) {
    if (isfinite(s->answer->shorter_s) && s->answer->shorter_s >= 60) {
        vs_text_addf(s->out, "<p class=\"note\">Another order waits ");
        vs_style_time(s->out, s->answer->shorter_s);
        vs_text_addf(s->out,
                     " less for haze: veilstop choose tells it, --order chosen prints it.</p>\n");
    }
}

static void first_page(vs_sheet *s) {
    bool whole = vs_sheet_shot_count(s) <= VS_SHEET_TWO_PAGES;
    vs_text_addf(s->out, "<section class=\"page%s%s\" aria-label=\"The day, first page\">\n",
                 s->tight ? " tight" : "", whole ? " whole" : "");
    head(s);
    add_size_doubt(s);
    vs_sheet_alarm(s);
    vs_sheet_shots(s);
    vs_text_addf(s->out, "<div class=\"%s\">\n<div>\n", s->beside ? "foot" : "foots");
    vs_sheet_curve(s);
    add_other_order(s);
    vs_text_addf(s->out, "</div>\n<div class=\"where\">\n");
    vs_sheet_plan(s);
    vs_text_addf(s->out, "</div>\n</div>\n</section>\n");
}

static void second_page(vs_sheet *s) {
    vs_text_addf(s->out, "<section class=\"page%s\" aria-label=\"The day, second page\">\n",
                 s->tight ? " tight" : "");
    vs_sheet_run(s);
    vs_sheet_card(s);
    vs_sheet_people(s);
    vs_sheet_checklist(s);
    vs_text_addf(s->out, "</section>\n");
}

void vs_report_sheet(vs_text *out, const vs_style *style, const vs_sheet_answer *answer) {
    vs_sheet s = {.out = out,
                  .style = style,
                  .answer = answer,
                  .scene = answer->scene,
                  .dwell = answer->dwell,
                  .cautions = answer->cautions.cautions};
    s.tight = vs_sheet_is_crowded(&s);
    s.beside = s.tight && vs_sheet_shot_count(&s) <= VS_SHEET_TWO_PAGES;
    add_document_head(&s);
    vs_text_addf(out, "<body>\n<main>\n");
    first_page(&s);
    second_page(&s);
    vs_text_addf(out, "<section class=\"page\" aria-label=\"For the venue\">\n");
    vs_sheet_venue(&s);
    vs_text_addf(out, "</section>\n</main>\n</body>\n</html>\n");
}
