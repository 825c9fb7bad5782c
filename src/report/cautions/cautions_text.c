/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All the cautions as tables for people: figures beside limits, each with its source. */
#include <math.h>
#include <string.h>

#include "report/cautions/caution_words.h"
#include "report/cautions/cautions_detectors.h"
#include "veilstop/base/units.h"

#define NAME_COLUMNS 46 /* [columns] of a limit's name */
#define KIND_COLUMNS 8  /* [columns] law, guidance or advice */

/* ---- exposure ---- */

static void figure(vs_caution_sheet *s, double value) {
    vs_style_number_cell(s->out, VS_CAUTION_FIGURE_COLUMNS, value);
}

static void droplets(vs_caution_sheet *s) {
    const vs_caution_optics *o = s->answer->optics;
    const vs_class_extinction *range = &s->answer->tables->class_extinction[s->scene->fluid.class_];
    char low[16], high[16], own[16];
    vs_text_addf(&s->line,
                 "Low to high, for the same look: a gram of droplets may take %s to %s m2; ",
                 vs_caution_plain(o->high_m2_per_g, high), vs_caution_plain(o->low_m2_per_g, low));
    if (o->size_known) {
        vs_text_addf(&s->line,
                     "the fluid's droplets take %s, and these are of droplets from a half smaller "
                     "to a half larger.",
                     vs_caution_plain(o->extinction_m2_per_g, own));
    } else {
        vs_text_addf(&s->line,
                     "%s was measured, no droplet size is known, and these are its class's (%s: "
                     "%s; %s).",
                     vs_caution_plain(o->extinction_m2_per_g, own),
                     vs_fluid_class_words[s->scene->fluid.class_], range->source,
                     vs_caution_status_words(range->status));
    }
    vs_caution_end_line(s);
}

static void peak_line(vs_caution_sheet *s) {
    const vs_cautions *c = s->cautions;
    char k[16], low[16], high[16];
    vs_text_addf(&s->line, "The peak is in %s: %s /m, %s to %s mg/m3, at ",
                 s->scene->room[c->thickest].name, vs_style_number(c->peak_per_m[c->thickest], k),
                 vs_style_number(c->peak_mass.low * VS_MG_PER_G, low),
                 vs_style_number(c->peak_mass.high * VS_MG_PER_G, high));
    vs_caution_moment(s, &s->line, c->peak_at_s[c->thickest]);
    vs_text_addf(&s->line, ". Everyone is taken to be in the thickest room, at the worst hours.");
    vs_caution_end_line(s);
}

/* The number of a limit among those shown, from 1. */
static size_t footnote(const vs_caution_sheet *s, const vs_exposure_limit *limit) {
    size_t n = 0;
    for (const vs_exposure_limit *l = s->answer->tables->limit; l <= limit; l++) {
        n += vs_exposure_limit_is_for(l, s->scene->fluid.class_);
    }
    return n;
}

/* Over with the whole range, with part of it, or not; a star if the dose spread over the limit's
 * own hours is under it. */
static void exposure_mark(vs_caution_sheet *s, const vs_exposure_caution *e) {
    bool over = e->low >= e->limit_g_per_m3, may_be = e->high >= e->limit_g_per_m3;
    bool spread_under = e->spread_high < e->limit_g_per_m3;
    vs_style_ink(s->out, s->style, may_be ? VS_INK_BAD : VS_INK_PLAIN);
    vs_text_addf(s->out, "%s%s",
                 over     ? "over"
                 : may_be ? "may be over"
                          : "",
                 may_be && spread_under ? "*" : "");
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
}

static void exposure_line(vs_caution_sheet *s, const vs_exposure_caution *e) {
    vs_text cell;
    vs_text_init(&cell);
    vs_text_addf(&cell, "  [%zu] %s", footnote(s, e->limit), e->limit->name);
    vs_style_cell(s->out, vs_text_words(&cell, s->out), NAME_COLUMNS, false);
    vs_style_cell(s->out, vs_limit_kind_words[e->limit->kind], KIND_COLUMNS, false);
    cell.length = 0;
    vs_caution_averaging(&cell, e->limit);
    vs_style_cell(s->out, vs_text_words(&cell, s->out), VS_CAUTION_FIGURE_COLUMNS, true);
    char limit[16];
    vs_style_figure(s->out, VS_CAUTION_FIGURE_COLUMNS, "%s",
                    vs_caution_plain(e->limit_g_per_m3 * VS_MG_PER_G, limit));
    figure(s, e->low * VS_MG_PER_G);
    figure(s, e->high * VS_MG_PER_G);
    exposure_mark(s, e);
    vs_style_end_line(s->out);
    vs_text_free(&cell);
}

/* The dose of a shift shorter than a limit's hours, spread over them; one line per person. */
static void spread_line(vs_caution_sheet *s, size_t person) {
    for (size_t i = 0; i < s->cautions->exposure_count; i++) {
        const vs_exposure_caution *e = &s->cautions->exposure[i];
        char low[16], high[16];
        if (e->person == person && !isnan(e->spread_high)) {
            vs_text_addf(
                &s->line, "* the same spread over %.0f h, with clear air for the rest: %s to %s",
                e->limit->length_s / VS_S_PER_H, vs_style_number(e->spread_low * VS_MG_PER_G, low),
                vs_style_number(e->spread_high * VS_MG_PER_G, high));
            vs_caution_end_item(s, 6, 8);
            return;
        }
    }
}

static void person_lines(vs_caution_sheet *s, size_t person) {
    const vs_scene_person *p = &s->cautions->person[person];
    vs_style_ink(s->out, s->style, VS_INK_HEAD);
    vs_text_addf(&s->line, "%s, ", p->who);
    vs_style_time(&s->line, p->length_s);
    if (s->scene->venue.person_count == 0) {
        vs_text_addf(&s->line, " (no people are given)");
    }
    vs_caution_end_item(s, 0, 2);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    for (size_t i = 0; i < s->cautions->exposure_count; i++) {
        if (s->cautions->exposure[i].person == person) {
            exposure_line(s, &s->cautions->exposure[i]);
        }
    }
    spread_line(s, person);
}

static void footnotes(vs_caution_sheet *s) {
    for (size_t i = 0; i < s->answer->tables->limit_count; i++) {
        const vs_exposure_limit *limit = &s->answer->tables->limit[i];
        char text[16];
        if (!vs_exposure_limit_is_for(limit, s->scene->fluid.class_)) {
            continue;
        }
        vs_text_addf(&s->line, "[%zu] %s mg/m3; %s; %s", footnote(s, limit),
                     vs_caution_plain(limit->limit_g_per_m3 * VS_MG_PER_G, text), limit->source,
                     vs_caution_status_words(limit->status));
        if (limit->remark) {
            vs_text_addf(&s->line, "; %s", limit->remark);
        }
        vs_caution_end_item(s, 2, 6);
    }
}

static void exposure(vs_caution_sheet *s) {
    vs_caution_heading(s, "exposure: mg of droplets in a cubic metre of air, vapour not counted");
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "", NAME_COLUMNS, false);
    vs_style_cell(s->out, "", KIND_COLUMNS, false);
    vs_style_cell(s->out, "mean", VS_CAUTION_FIGURE_COLUMNS, true);
    vs_style_cell(s->out, "limit", VS_CAUTION_FIGURE_COLUMNS, true);
    vs_style_cell(s->out, "low", VS_CAUTION_FIGURE_COLUMNS, true);
    vs_style_cell(s->out, "high", VS_CAUTION_FIGURE_COLUMNS, true);
    vs_style_end_line(s->out);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    for (size_t person = 0; person < s->cautions->person_count; person++) {
        person_lines(s, person);
    }
    footnotes(s);
    droplets(s);
    if (s->cautions->peak_per_m[s->cautions->thickest] > 0) {
        peak_line(s);
    }
    vs_text_addf(&s->line, "Where a day is longer than a limit's hours, the limit is lowered by "
                           "their ratio. A figure under a limit is a figure, no leave to breathe "
                           "it.");
    vs_caution_end_line(s);
}

/* ---- exits ---- */

static void add_distance(vs_caution_sheet *s, double length_m) {
    char text[16];
    if (isinf(length_m)) {
        vs_text_addf(&s->line, "any distance");
    } else {
        vs_text_addf(&s->line, "%s %s", vs_caution_plain(vs_style_length(s->style, length_m), text),
                     vs_style_length_unit(s->style));
    }
}

static void way_out(vs_caution_sheet *s) {
    const vs_exit_caution *e = &s->cautions->exit;
    if (isnan(s->scene->venue.exit_m)) {
        vs_text_addf(&s->line, "exit_m is not given: measure how far the way out is");
    } else {
        vs_text_addf(&s->line, "the way out, ");
        add_distance(s, s->scene->venue.exit_m);
        vs_text_addf(&s->line, " by a %s sign: %s",
                     s->scene->venue.exit_reflecting ? "reflecting" : "lit",
                     e->exit_seen ? "shows at the peak" : "does NOT show at the peak");
    }
    vs_caution_end_item(s, 2, 4);
}

static void criterion_line(vs_caution_sheet *s, const vs_exit_criterion *criterion) {
    const vs_exit_caution *e = &s->cautions->exit;
    add_distance(s, criterion->needed_m);
    vs_text_addf(&s->line, " are needed in %s: lit sign %s, reflecting %s (%s; %s)",
                 criterion->where, e->lit_m >= criterion->needed_m ? "shows" : "does NOT show",
                 e->reflecting_m >= criterion->needed_m ? "shows" : "does NOT show",
                 criterion->source, vs_caution_status_words(criterion->status));
    vs_caution_end_item(s, 2, 4);
}

static void exits(vs_caution_sheet *s) {
    const vs_exit_caution *e = &s->cautions->exit;
    char k[16];
    vs_caution_heading(s, "the way out, at the day's peak");
    vs_text_addf(&s->line, "at %s /m a lit sign shows to ",
                 vs_style_number(e->extinction_per_m, k));
    add_distance(s, e->lit_m);
    vs_text_addf(&s->line, ", a reflecting one to ");
    add_distance(s, e->reflecting_m);
    vs_text_addf(&s->line, " (Jin: 8 and 3 over the haze in /m; later work says less for "
                           "reflecting signs)");
    vs_caution_end_item(s, 2, 4);
    way_out(s);
    for (size_t i = 0; i < s->answer->tables->exit_count; i++) {
        criterion_line(s, &s->answer->tables->exit[i]);
    }
    vs_text_addf(&s->line,
                 "emergency lighting was laid out for clear air: straight down from the ceiling "
                 "%.0f %% of it arrives unscattered, and haze in its beams hides what lies behind",
                 100 * e->light_share);
    vs_caution_end_item(s, 2, 4);
}

/* ---- clearing, checklist ---- */

static void clearing(vs_caution_sheet *s) {
    const vs_day *day = s->answer->day;
    char k[16];
    vs_caution_heading(s, "clearing, before the rooms are handed back");
    if (!day->planned) {
        vs_text_addf(&s->line, "not worked out: the scene has no hazer, so each shot's density is "
                               "taken to stand for as long as the shot lasts");
        vs_caution_end_item(s, 2, 4);
        return;
    }
    if (isnan(day->clear_s)) {
        vs_text_addf(&s->line, "the rooms do NOT clear within seven days");
    } else {
        vs_style_time(&s->line, day->clear_s);
        vs_text_addf(&s->line, " after the last cut%s every room is under %s /m",
                     day->purged ? ", doors open and fans on," : "",
                     vs_caution_plain(day->clear_extinction_per_m, k));
    }
    if (day->purged) {
        vs_text_addf(&s->line, "; shut, ");
        if (isnan(day->clear_closed_s)) {
            vs_text_addf(&s->line, "it never is");
        } else {
            vs_style_time(&s->line, day->clear_closed_s);
        }
    }
    vs_text_addf(&s->line, ". Detection comes back after that, not before.");
    vs_caution_end_item(s, 2, 4);
}

static void task(vs_caution_sheet *s, const char *who, const char *text, const char *after) {
    vs_text_addf(&s->line, "[ ] %s: %s%s", who, text, after);
    vs_caution_end_item(s, 2, 6);
}

static void checklist(vs_caution_sheet *s) {
    const char *when = "";
    vs_caution_heading(s, "checklist");
    for (size_t i = 0; i < s->answer->tables->notice_count; i++) {
        const vs_notice *notice = &s->answer->tables->notice[i];
        if (!vs_notice_is_for(notice, s->scene->fluid.class_)) {
            continue;
        }
        if (strcmp(when, notice->when) != 0) {
            vs_text_addf(s->out, "%s\n", notice->when);
            when = notice->when;
        }
        bool practice = notice->status == VS_SOURCE_PRACTICE;
        task(s, notice->who, notice->text, practice ? " (common practice)" : "");
    }
    if (s->scene->venue.rule_count > 0) {
        vs_text_addf(s->out, "%s\n", VS_CAUTION_RULE_WHEN);
    }
    for (size_t i = 0; i < s->scene->venue.rule_count; i++) {
        task(s, VS_CAUTION_RULE_WHO, s->scene->venue.rule[i], "");
    }
}

void vs_report_cautions_text(vs_text *out, const vs_style *style,
                             const vs_cautions_answer *answer) {
    static void (*const part[])(vs_caution_sheet *) = {exposure, vs_caution_detectors, exits,
                                                       clearing, checklist};
    vs_caution_sheet s = {.out = out,
                          .style = style,
                          .answer = answer,
                          .scene = answer->scene,
                          .cautions = answer->cautions};
    vs_text_init(&s.line);
    for (size_t i = 0; i < sizeof part / sizeof part[0]; i++) {
        part[i](&s);
        vs_text_addf(out, "\n");
    }
    vs_text_addf(out, "! %s\n", VS_CAUTION_DEFER);
    vs_text_free(&s.line);
}
