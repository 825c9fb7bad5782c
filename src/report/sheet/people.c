/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which alarm is reached, what is breathed, whether the way out shows, when the rooms are clear;
 * and the checklist. */
#include "report/sheet/sheet.h"

#include <math.h>
#include <string.h>

#include "report/cautions/caution_words.h"
#include "veilstop/base/units.h"

#define VENUES_WHO "whoever is responsible" /* likewise: for the fire alarm, for the sprinklers */
#define DAY_BEGINS "before any haze" /* in data/notices.json: lines before it are due earlier */

/* The heads that the day reaches, then the fixed words. */
void vs_sheet_alarm(vs_sheet *s) {
    const vs_cautions *c = s->cautions;
    const vs_scene_venue *venue = &s->scene->venue;
    size_t reached = 0;
    vs_text_addf(s->out, "<p class=\"alarm\"><strong>Alarm: ");
    for (size_t i = 0; i < c->detector_count; i++) {
        if (!c->detector[i].reached) {
            continue;
        }
        vs_text_addf(s->out, "%s", reached++ ? "; " : "");
        vs_sheet_text(s->out, venue->detector[i].name);
        vs_text_addf(s->out, " in ");
        vs_sheet_text(s->out, s->scene->room[venue->detector[i].room].name);
        if (isfinite(c->detector[i].reached_s)) {
            vs_text_addf(s->out, " from about ");
            vs_sheet_rough_moment(s, c->detector[i].reached_s, "cautions/detectors/%zu/reached_min",
                                  i);
        }
    }
    if (reached == 0) {
        vs_text_addf(s->out, venue->detector_count > 0
                                 ? "By these figures no head named here is reached; near the hazer "
                                   "the haze is thicker, and others may hang there"
                                 : "Ask the venue which detectors hang where");
    }
    vs_text_addf(s->out, ": " VS_CAUTION_ALARM ".</strong> " VS_CAUTION_DEFER "</p>\n");
}

/* Of a person's limits of one kind, the one that is nearest to being reached; VS_NONE: none. */
static size_t nearest(const vs_cautions *c, size_t person, bool peak) {
    size_t found = VS_NONE;
    for (size_t i = 0; i < c->exposure_count; i++) {
        const vs_exposure_caution *e = &c->exposure[i];
        if (e->person != person || (e->limit->average == VS_AVERAGE_PEAK) != peak) {
            continue;
        }
        if (found == VS_NONE || e->high / e->limit_g_per_m3 >
                                    c->exposure[found].high / c->exposure[found].limit_g_per_m3) {
            found = i;
        }
    }
    return found;
}

static void milligrams(vs_sheet *s, double g_per_m3, const char *key, size_t i) {
    vs_sheet_number(s->out, g_per_m3 * VS_MG_PER_G, "cautions/exposure/%zu/%s", i, key);
}

static void exposure_cell(vs_sheet *s, size_t i) {
    char limit[16];
    if (i == VS_NONE) {
        vs_text_addf(s->out, "<td>no limit known</td>");
        return;
    }
    const vs_exposure_caution *e = &s->cautions->exposure[i];
    bool over = e->low >= e->limit_g_per_m3, may_be = !(e->high < e->limit_g_per_m3);
    vs_text_addf(s->out, "<td>");
    milligrams(s, e->low, "low_mg_per_m3", i);
    vs_text_addf(s->out, " to ");
    milligrams(s, e->high, "high_mg_per_m3", i);
    vs_text_addf(s->out, "; limit ");
    vs_sheet_figure(s->out, e->limit_g_per_m3 * VS_MG_PER_G, "",
                    vs_caution_plain(e->limit_g_per_m3 * VS_MG_PER_G, limit),
                    "cautions/exposure/%zu/limit_mg_per_m3", i);
    vs_text_addf(s->out, ", ");
    vs_sheet_text(s->out, e->limit->name);
    vs_text_addf(s->out, "%s</td>", over ? " <b>OVER</b>" : may_be ? " <b>MAY BE OVER</b>" : "");
}

static void person_row(vs_sheet *s, size_t person) {
    const vs_scene_person *p = &s->cautions->person[person];
    vs_text_addf(s->out, "<tr><th scope=\"row\">");
    vs_sheet_text(s->out, p->who);
    vs_text_addf(s->out, ", ");
    vs_style_time(s->out, p->length_s);
    vs_text_addf(s->out, "</th>");
    exposure_cell(s, nearest(s->cautions, person, false));
    exposure_cell(s, nearest(s->cautions, person, true));
    vs_text_addf(s->out, "</tr>\n");
}

static void distance(vs_sheet *s, double length_m, const char *key) {
    if (isfinite(length_m)) {
        vs_sheet_length(s, -1, length_m, "cautions/exits/%s", key);
    } else {
        vs_text_addf(s->out, "any distance");
    }
}

static void way_out(vs_sheet *s) {
    const vs_exit_caution *e = &s->cautions->exit;
    vs_text_addf(s->out, "<b>Way out.</b> In the thickest haze a lit sign shows to ");
    distance(s, e->lit_m, "lit_m");
    vs_text_addf(s->out, ", a reflecting one to ");
    distance(s, e->reflecting_m, "reflecting_m");
    if (isnan(s->scene->venue.exit_m)) {
        vs_text_addf(s->out, "; measure how far it is.");
    } else {
        vs_text_addf(s->out, "; it is ");
        distance(s, s->scene->venue.exit_m, "exit_m");
        vs_text_addf(s->out, " away by a %s sign, which %s.",
                     s->scene->venue.exit_reflecting ? "reflecting" : "lit",
                     e->exit_seen ? "shows" : "<b>does NOT show</b>");
    }
    vs_text_addf(s->out, "\n");
}

/* Where the answer has a plan, when the rooms are clear again. */
static void clearing(vs_sheet *s) {
    const vs_dwell *d = s->dwell;
    if (!d) {
        return;
    }
    vs_text_addf(s->out, "<b>Clearing.</b> ");
    if (isnan(d->clear_s)) {
        vs_text_addf(s->out, "The rooms do <b>NOT</b> clear within seven days.\n");
        return;
    }
    vs_sheet_time(s->out, d->clear_s, d->clear_s / VS_S_PER_MIN, "dwell/clear/minutes");
    vs_text_addf(s->out, " after the last cut%s",
                 d->purged ? ", doors open and fans on; shut, " : ".");
    if (d->purged && isfinite(d->clear_closed_s)) {
        vs_sheet_time(s->out, d->clear_closed_s, d->clear_closed_s / VS_S_PER_MIN,
                      "dwell/clear/minutes_closed");
        vs_text_addf(s->out, ".");
    } else if (d->purged) {
        vs_text_addf(s->out, "never.");
    }
    vs_text_addf(s->out, " Detection comes back after that, not before.\n");
}

void vs_sheet_people(vs_sheet *s) {
    vs_text_addf(s->out,
                 "<h2>Cautions</h2>\n<section class=\"wide\" tabindex=\"0\" "
                 "aria-label=\"What is breathed\">\n<table class=\"people\">\n<caption>Breathed, "
                 "mg/m3 of droplets, low to high, their size not being known: in the thickest room "
                 "at the worst hours, against the limit that is nearest</caption>\n"
                 "<thead><tr><th scope=\"col\">who</th><th scope=\"col\">mean of the day</th>"
                 "<th scope=\"col\">at any moment</th></tr></thead>\n<tbody>\n");
    for (size_t i = 0; i < s->cautions->person_count; i++) {
        person_row(s, i);
    }
    vs_text_addf(s->out, "</tbody>\n</table>\n</section>\n<p class=\"note\">");
    way_out(s);
    clearing(s);
    vs_text_addf(s->out, "</p>\n");
}

/* ---- the checklist ---- */

static void task(vs_sheet *s, const char *who, const char *text) {
    vs_text_addf(s->out, "<li>");
    vs_sheet_tick(s->out, who);
    vs_text_addf(s->out, "<b>");
    vs_sheet_text(s->out, who);
    vs_text_addf(s->out, "</b>: ");
    vs_sheet_text(s->out, text);
    vs_text_addf(s->out, "</li>\n");
}

bool vs_sheet_is_venues(const vs_notice *notice) {
    return strncmp(notice->who, VENUES_WHO, strlen(VENUES_WHO)) == 0;
}

/* The first line of the checklist that belongs to the day itself; 0 where none says so. */
static size_t day_begins(const vs_safety_tables *tables) {
    for (size_t i = 0; i < tables->notice_count; i++) {
        if (strcmp(tables->notice[i].when, DAY_BEGINS) == 0) {
            return i;
        }
    }
    return 0;
}

/* The checklist's lines from `from` up to `to`, under the time they are due.
 * ours  those that are not for the venue */
static void tasks(vs_sheet *s, size_t from, size_t to, bool ours) {
    const vs_safety_tables *tables = s->answer->cautions.tables;
    const char *when = "";
    for (size_t i = from; i < to; i++) {
        const vs_notice *notice = &tables->notice[i];
        if (!vs_notice_is_for(notice, s->scene->fluid.class_) ||
            (ours && vs_sheet_is_venues(notice))) {
            continue;
        }
        if (strcmp(when, notice->when) != 0) {
            vs_text_addf(s->out, "%s<h3>", when[0] ? "</ul>\n" : "");
            vs_sheet_text(s->out, notice->when);
            vs_text_addf(s->out, "</h3>\n<ul>\n");
            when = notice->when;
        }
        task(s, notice->who, notice->text);
    }
    vs_text_addf(s->out, "%s", when[0] ? "</ul>\n" : "");
}

void vs_sheet_checklist(vs_sheet *s) {
    const vs_safety_tables *tables = s->answer->cautions.tables;
    const vs_scene_venue *venue = &s->scene->venue;
    vs_text_addf(s->out, "<h2>Checklist, by when and who</h2>\n<div class=\"checks columns\">\n");
    tasks(s, day_begins(tables), tables->notice_count, false);
    if (venue->rule_count > 0) {
        vs_text_addf(s->out, "<h3>" VS_CAUTION_RULE_WHEN "</h3>\n<ul>\n");
        for (size_t i = 0; i < venue->rule_count; i++) {
            task(s, VS_CAUTION_RULE_WHO, venue->rule[i]);
        }
        vs_text_addf(s->out, "</ul>\n");
    }
    vs_text_addf(s->out, "</div>\n");
}

void vs_sheet_preparation(vs_sheet *s) {
    size_t end = day_begins(s->answer->cautions.tables);
    if (end > 0) {
        vs_text_addf(s->out, "<h2>Before the day</h2>\n<div class=\"checks columns\">\n");
        tasks(s, 0, end, true);
        vs_text_addf(s->out, "</div>\n");
    }
}
