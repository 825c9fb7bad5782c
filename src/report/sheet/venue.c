/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page for the venue: what haze, how much, when, which detectors would see it, what is asked
 * of whom, and space to sign. */
#include "report/sheet/sheet.h"

#include <math.h>

#include "report/cautions/caution_words.h"
#include "veilstop/base/units.h"

static void term(vs_sheet *s, const char *words) {
    vs_text_addf(s->out, "<dt>%s</dt><dd>", words);
}

static void end_term(vs_sheet *s) {
    vs_text_addf(s->out, "</dd>\n");
}

static void what(vs_sheet *s) {
    static const char *const class_words[VS_FLUID_CLASS_COUNT] = {
        "water-based, of glycols", "water-based, of glycerol", "oil"};
    const vs_fluid *fluid = &s->scene->fluid;
    term(s, "What");
    vs_text_addf(s->out, "theatrical haze: a mist of droplets of a fluid (%s",
                 class_words[fluid->class_]);
    if (fluid->name) {
        vs_text_addf(s->out, "; planned with the figures of &#34;");
        vs_sheet_text(s->out, fluid->name);
        vs_text_addf(s->out, "&#34;");
    }
    vs_text_addf(s->out, ")");
    end_term(s);
    term(s, "Machines");
    for (size_t i = 0; i < s->scene->hazer.machine_count; i++) {
        const vs_scene_machine *m = &s->scene->hazer.machine[i];
        vs_text_addf(s->out, "%sin ", i > 0 ? "; " : "");
        vs_sheet_text(s->out, s->scene->room[m->room].name);
        vs_text_addf(s->out, ", up to %.3g ml of fluid an hour", m->fluid_ml_per_s * VS_S_PER_H);
    }
    vs_text_addf(s->out, "%s", s->scene->hazer.machine_count == 0 ? "none named yet" : "");
    end_term(s);
}

static void how_much(vs_sheet *s) {
    size_t thick = s->cautions->thickest;
    term(s, "How much");
    if (s->dwell) {
        vs_sheet_number(s->out, s->dwell->fluid_ml, "dwell/fluid_ml");
        vs_text_addf(s->out, "&nbsp;ml of fluid in the day; ");
    }
    vs_text_addf(s->out, "at the thickest, in ");
    vs_sheet_text(s->out, s->scene->room[thick].name);
    vs_text_addf(s->out, ", ");
    vs_sheet_number(s->out, s->cautions->peak_per_m[thick],
                    "cautions/rooms/%zu/peak_extinction_per_m", thick);
    vs_text_addf(s->out, "&nbsp;/m, ");
    vs_sheet_number(s->out, s->cautions->peak_mass.low * VS_MG_PER_G,
                    "cautions/rooms/%zu/peak_low_mg_per_m3", thick);
    vs_text_addf(s->out, " to ");
    vs_sheet_number(s->out, s->cautions->peak_mass.high * VS_MG_PER_G,
                    "cautions/rooms/%zu/peak_high_mg_per_m3", thick);
    vs_text_addf(s->out, " mg of droplets in a cubic metre");
    end_term(s);
}

/* The event that begins the clearing, and the one that ends it. */
static size_t event_of(const vs_dwell *d, vs_dwell_do act) {
    for (size_t i = 0; i < d->event_count; i++) {
        if (d->event[i].act == act) {
            return i;
        }
    }
    return VS_NONE;
}

static void hours(vs_sheet *s) {
    const vs_dwell *d = s->dwell;
    term(s, "When");
    if (!d || d->shot_count == 0) {
        vs_text_addf(s->out, "from ______ to ______");
        end_term(s);
        return;
    }
    size_t on = event_of(d, VS_DWELL_WARM_UP), clear = event_of(d, VS_DWELL_CLEAR);
    if (on != VS_NONE) {
        vs_text_addf(s->out, "hazer switched on ");
        vs_sheet_moment(s, d->event[on].at_s, "dwell/events/%zu/min", on);
        vs_text_addf(s->out, "; ");
    }
    vs_text_addf(s->out, "last cut ");
    vs_sheet_moment(s, d->end_s, "dwell/shots/%zu/end_min", d->shot_count - 1);
    if (clear != VS_NONE) {
        vs_text_addf(s->out, "; rooms clear ");
        vs_sheet_moment(s, d->event[clear].at_s, "dwell/events/%zu/min", clear);
    }
    vs_text_addf(s->out, ". Date ____________");
    end_term(s);
}

static void clearing(vs_sheet *s) {
    const vs_dwell *d = s->dwell;
    term(s, "Clearing");
    if (!d) {
        vs_text_addf(s->out, "not worked out: no hazer is named yet");
    } else if (isnan(d->clear_s)) {
        vs_text_addf(s->out, "<b>NOT</b> within seven days: too little takes the haze out");
    } else {
        vs_sheet_time(s->out, d->clear_s, d->clear_s / VS_S_PER_MIN, "dwell/clear/minutes");
        vs_text_addf(s->out, " after the last cut%s. Detection comes back after that, not before.",
                     d->purged ? ", doors open and fans on" : "");
    }
    end_term(s);
}

static void sheet_of_fluid(vs_sheet *s) {
    term(s, "Fluid");
    vs_text_addf(s->out,
                 "maker and product ______________________ safety data sheet, number and date "
                 "____________ ");
    vs_sheet_tick(s->out, "safety data sheet attached");
    vs_text_addf(s->out, "attached");
    end_term(s);
}

/* ---- detectors ---- */

static void detector_row(vs_sheet *s, size_t i) {
    const vs_scene_detector *d = &s->scene->venue.detector[i];
    const vs_detector_caution *c = &s->cautions->detector[i];
    char alarm[16];
    double alarm_db = vs_obscuration_db_per_m(c->alarm_per_m);
    vs_text_addf(s->out, "<tr><th scope=\"row\">");
    vs_sheet_text(s->out, d->name);
    vs_text_addf(s->out, "</th><td>");
    vs_sheet_text(s->out, s->scene->room[d->room].name);
    vs_text_addf(s->out, "</td><td>");
    vs_sheet_text(s->out, s->answer->cautions.tables->detector[d->kind].title
                              ? s->answer->cautions.tables->detector[d->kind].title
                              : vs_detector_kind_words[d->kind]);
    vs_text_addf(s->out, "</td><td>");
    vs_sheet_figure(s->out, alarm_db, "", vs_caution_plain(alarm_db, alarm),
                    "cautions/detectors/%zu/alarm_db_per_m", i);
    vs_text_addf(s->out, "%s</td><td>", c->own ? "" : " (lowest of its kind)");
    vs_sheet_number(s->out, vs_obscuration_db_per_m(c->peak_per_m),
                    "cautions/detectors/%zu/peak_db_per_m", i);
    vs_text_addf(s->out, "</td><td>");
    if (c->reached && isfinite(c->reached_s)) {
        vs_text_addf(s->out, "<b>about ");
        vs_sheet_rough_moment(s, c->reached_s, "cautions/detectors/%zu/reached_min", i);
        vs_text_addf(s->out, "</b>");
    } else {
        vs_text_addf(s->out, c->reached ? "<b>expect an alarm</b>" : "not by these figures");
    }
    vs_text_addf(s->out, "</td></tr>\n");
}

static void detectors(vs_sheet *s) {
    vs_text_addf(s->out, "<h2>Detectors</h2>\n");
    if (s->scene->venue.detector_count == 0) {
        vs_text_addf(s->out,
                     "<p>None is named yet: please tell which hang where. Haze that reads on "
                     "camera usually sets off a smoke detector.</p>\n");
        return;
    }
    vs_text_addf(s->out, "<section class=\"wide\" tabindex=\"0\" "
                         "aria-label=\"Detectors\">\n<table class=\"detectors\">\n<thead><tr><th "
                         "scope=\"col\">detector</th>"
                         "<th scope=\"col\">room</th><th scope=\"col\">kind</th><th "
                         "scope=\"col\">alarms at, dB/m</th>"
                         "<th scope=\"col\">sees at the peak, dB/m</th><th scope=\"col\">alarm "
                         "reached</th></tr></thead>\n<tbody>\n");
    for (size_t i = 0; i < s->scene->venue.detector_count; i++) {
        detector_row(s, i);
    }
    vs_text_addf(s->out,
                 "</tbody>\n</table>\n</section>\n<p class=\"note\">Worked out for evenly mixed "
                 "rooms: near a hazer the haze is thicker, and alarms come sooner.</p>\n");
}

/* ---- what is asked ---- */

static void asked(vs_sheet *s) {
    const vs_safety_tables *tables = s->answer->cautions.tables;
    const vs_scene_venue *venue = &s->scene->venue;
    vs_text_addf(s->out, "<h2>What is asked of the venue</h2>\n<ul class=\"checks\">\n");
    for (size_t i = 0; i < tables->notice_count; i++) {
        const vs_notice *notice = &tables->notice[i];
        if (vs_notice_is_for(notice, s->scene->fluid.class_) && vs_sheet_is_venues(notice)) {
            vs_text_addf(s->out, "<li>");
            vs_sheet_tick(s->out, notice->who);
            vs_text_addf(s->out, "<b>%s, %s</b>: ", notice->who, notice->when);
            vs_sheet_text(s->out, notice->text);
            vs_text_addf(s->out, "</li>\n");
        }
    }
    vs_text_addf(s->out, "</ul>\n");
    if (venue->rule_count > 0) {
        vs_text_addf(s->out,
                     "<h2>The venue's own rules, as we have them</h2>\n<ul class=\"checks\">\n");
        for (size_t i = 0; i < venue->rule_count; i++) {
            vs_text_addf(s->out, "<li>");
            vs_sheet_tick(s->out, VS_CAUTION_RULE_WHEN);
            vs_sheet_text(s->out, venue->rule[i]);
            vs_text_addf(s->out, "</li>\n");
        }
        vs_text_addf(s->out, "</ul>\n");
    }
}

static void fill_in(vs_sheet *s, const char *words) {
    vs_text_addf(s->out, "<li>%s <span class=\"rule\"></span></li>\n", words);
}

static void signatures(vs_sheet *s) {
    vs_text_addf(s->out, "<h2>Agreed</h2>\n<ul class=\"fill\">\n");
    fill_in(s, "For the venue, name");
    fill_in(s, "signed, date");
    fill_in(s, "Responsible for the fire alarm, name and phone");
    fill_in(s, "signed, date");
    fill_in(s, "Detectors isolated, time");
    fill_in(s, "put back, time, confirmed by");
    fill_in(s, "For the production, name and phone");
    fill_in(s, "signed, date");
    vs_text_addf(s->out, "</ul>\n<p class=\"note\">" VS_CAUTION_DEFER "</p>\n");
}

void vs_sheet_venue(vs_sheet *s) {
    vs_text_addf(s->out, "<div class=\"venue\">\n<h1>For the venue: haze at ");
    vs_sheet_text(s->out, s->answer->title);
    vs_text_addf(s->out, "</h1>\n");
    vs_sheet_alarm(s);
    vs_text_addf(s->out, "<h2>The haze</h2>\n<dl>\n");
    what(s);
    how_much(s);
    hours(s);
    clearing(s);
    sheet_of_fluid(s);
    vs_text_addf(s->out, "</dl>\n");
    detectors(s);
    vs_sheet_preparation(s);
    asked(s);
    signatures(s);
    vs_text_addf(s->out, "</div>\n");
}
