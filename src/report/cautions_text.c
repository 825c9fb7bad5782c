/* The whole of the cautions as tables for people: figures beside limits, each with its source. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/caution_words.h"
#include "veilstop/base/units.h"
#include "veilstop/report/cautions.h"

#define NAME_COLUMNS   46
#define KIND_COLUMNS   8
#define FIGURE_COLUMNS 6
#define ROOM_COLUMNS   14
#define ROOMS_A_ROW    3 /* rooms side by side in a table */
#define S_PER_DAY      86400

/* What the parts share; a line is gathered in `line`, then wrapped into `out`. */
typedef struct {
    vs_text *out;
    const vs_style *style;
    const vs_cautions_answer *answer;
    const vs_scene *scene;
    const vs_cautions *cautions;
    vs_text line;
} sheet;

/* Writes the line gathered, its first row and the ones after it indented, and starts the next. */
static void end_item(sheet *s, size_t first, size_t indent) {
    vs_style_blanks(s->out, first);
    vs_style_wrap(s->out, s->line.length ? s->line.bytes : "", indent);
    s->out->failed = s->out->failed || s->line.failed;
    s->line.length = 0;
}

static void end_line(sheet *s) {
    end_item(s, 0, 0);
}

static void heading(sheet *s, const char *text) {
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_wrap(s->out, text, 2);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
}

static void figure(sheet *s, double value) {
    char text[16];
    vs_style_cell(s->out, vs_style_number(value, text), FIGURE_COLUMNS, true);
}

static const char *number(double value, char text[16]) {
    return vs_style_number(value, text);
}

static const char *status_words(vs_source_status status) {
    static const char *const words[VS_SOURCE_STATUS_COUNT] = {
        "read", "from memory", "common practice, no source", "worked out", "an assumption"};
    return words[status];
}

/* The moment of the day, to five minutes, rounded down: "min 10 (07:40)". */
static void add_moment(sheet *s, vs_text *out, double at_s) {
    double from_s = floor(at_s / VS_CAUTION_REACHED_TO_S) * VS_CAUTION_REACHED_TO_S;
    vs_text_addf(out, "min %.0f", from_s / VS_S_PER_MIN);
    if (!isnan(s->scene->start_s)) {
        long clock = lround(s->scene->start_s + from_s) % S_PER_DAY;
        vs_text_addf(out, " (%02ld:%02ld)", clock / 3600, clock / 60 % 60);
    }
}

/* ---- exposure ---- */

static void droplets(sheet *s) {
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
                     status_words(range->status));
    }
    end_line(s);
}

static void peak_line(sheet *s) {
    const vs_cautions *c = s->cautions;
    char k[16], low[16], high[16];
    vs_text_addf(&s->line, "The peak is in %s: %s /m, %s to %s mg/m3, at ",
                 s->scene->room[c->thickest].name, number(c->peak_per_m[c->thickest], k),
                 number(c->peak_mass.low * VS_MG_PER_G, low),
                 number(c->peak_mass.high * VS_MG_PER_G, high));
    add_moment(s, &s->line, c->peak_at_s[c->thickest]);
    vs_text_addf(&s->line, ". Everyone is taken to be in the thickest room, at the worst hours.");
    end_line(s);
}

/* The number of a limit among those shown, from 1. */
static size_t footnote(const sheet *s, const vs_exposure_limit *limit) {
    size_t n = 0;
    for (const vs_exposure_limit *l = s->answer->tables->limit; l <= limit; l++) {
        n += vs_exposure_limit_is_for(l, s->scene->fluid.class_);
    }
    return n;
}

/* Over with the whole range, with a part of it, or neither; a star where the dose spread over the
 * limit's own hours is under it. */
static void exposure_mark(sheet *s, const vs_exposure_caution *e) {
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

static void exposure_line(sheet *s, const vs_exposure_caution *e) {
    vs_text cell;
    vs_text_init(&cell);
    vs_text_addf(&cell, "  [%zu] %s", footnote(s, e->limit), e->limit->name);
    vs_style_cell(s->out, cell.bytes ? cell.bytes : "", NAME_COLUMNS, false);
    vs_style_cell(s->out, vs_limit_kind_words[e->limit->kind], KIND_COLUMNS, false);
    cell.length = 0;
    vs_caution_averaging(&cell, e->limit);
    vs_style_cell(s->out, cell.bytes ? cell.bytes : "", FIGURE_COLUMNS, true);
    char limit[16];
    vs_style_cell(s->out, vs_caution_plain(e->limit_g_per_m3 * VS_MG_PER_G, limit), FIGURE_COLUMNS,
                  true);
    figure(s, e->low * VS_MG_PER_G);
    figure(s, e->high * VS_MG_PER_G);
    exposure_mark(s, e);
    vs_style_end_line(s->out);
    vs_text_free(&cell);
}

/* What a shift shorter than a limit's hours is, spread over them; one line a person. */
static void spread_line(sheet *s, size_t person) {
    for (size_t i = 0; i < s->cautions->exposure_count; i++) {
        const vs_exposure_caution *e = &s->cautions->exposure[i];
        char low[16], high[16];
        if (e->person == person && !isnan(e->spread_high)) {
            vs_text_addf(&s->line,
                         "* the same spread over %.0f h, with clear air for the rest: %s to %s",
                         e->limit->length_s / VS_S_PER_H, number(e->spread_low * VS_MG_PER_G, low),
                         number(e->spread_high * VS_MG_PER_G, high));
            end_item(s, 6, 8);
            return;
        }
    }
}

static void person_lines(sheet *s, size_t person) {
    const vs_scene_person *p = &s->cautions->person[person];
    vs_style_ink(s->out, s->style, VS_INK_HEAD);
    vs_text_addf(&s->line, "%s, ", p->who);
    vs_style_time(&s->line, p->length_s);
    if (s->scene->venue.person_count == 0) {
        vs_text_addf(&s->line, " (no people are given)");
    }
    end_item(s, 0, 2);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    for (size_t i = 0; i < s->cautions->exposure_count; i++) {
        if (s->cautions->exposure[i].person == person) {
            exposure_line(s, &s->cautions->exposure[i]);
        }
    }
    spread_line(s, person);
}

static void footnotes(sheet *s) {
    for (size_t i = 0; i < s->answer->tables->limit_count; i++) {
        const vs_exposure_limit *limit = &s->answer->tables->limit[i];
        char text[16];
        if (!vs_exposure_limit_is_for(limit, s->scene->fluid.class_)) {
            continue;
        }
        vs_text_addf(&s->line, "[%zu] %s mg/m3; %s; %s", footnote(s, limit),
                     vs_caution_plain(limit->limit_g_per_m3 * VS_MG_PER_G, text), limit->source,
                     status_words(limit->status));
        if (limit->remark) {
            vs_text_addf(&s->line, "; %s", limit->remark);
        }
        end_item(s, 2, 6);
    }
}

static void exposure(sheet *s) {
    heading(s, "exposure: mg of droplets in a cubic metre of air, vapour not counted");
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "", NAME_COLUMNS, false);
    vs_style_cell(s->out, "", KIND_COLUMNS, false);
    vs_style_cell(s->out, "over", FIGURE_COLUMNS, true);
    vs_style_cell(s->out, "limit", FIGURE_COLUMNS, true);
    vs_style_cell(s->out, "low", FIGURE_COLUMNS, true);
    vs_style_cell(s->out, "high", FIGURE_COLUMNS, true);
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
    end_line(s);
}

/* ---- detectors ---- */

static void detector_heads(sheet *s) {
    static const char *const heads[] = {"nm", "dB/m", "%/ft", "alarm"};
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "  the venue's own", 20, false);
    vs_style_cell(s->out, "kind", 20, false);
    vs_style_cell(s->out, "room", ROOM_COLUMNS - 1, false);
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++) {
        vs_style_cell(s->out, heads[i], FIGURE_COLUMNS, true);
    }
    vs_text_addf(s->out, "reached");
    vs_style_end_line(s->out);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
}

static void detector_line(sheet *s, size_t i) {
    const vs_scene_detector *d = &s->scene->venue.detector[i];
    const vs_detector_caution *c = &s->cautions->detector[i];
    const vs_detector_type *type = &s->answer->tables->detector[d->kind];
    char text[16];
    vs_text_addf(s->out, "  ");
    vs_style_cell(s->out, d->name, 18, false);
    vs_style_cell(s->out, type->title, 20, false);
    vs_style_cell(s->out, s->scene->room[d->room].name, ROOM_COLUMNS - 1, false);
    vs_style_figure(s->out, FIGURE_COLUMNS, "%.0f",
                    vs_caution_wavelength_nm(s->answer->tables, s->answer->optics, d->kind));
    vs_style_cell(s->out, number(vs_obscuration_db_per_m(c->peak_per_m), text), FIGURE_COLUMNS,
                  true);
    vs_style_cell(s->out, number(vs_obscuration_percent(c->peak_per_m, VS_M_PER_FT), text),
                  FIGURE_COLUMNS, true);
    vs_style_cell(s->out, number(vs_obscuration_db_per_m(c->alarm_per_m), text), FIGURE_COLUMNS,
                  true);
    vs_style_ink(s->out, s->style, c->reached ? VS_INK_BAD : VS_INK_PLAIN);
    if (c->reached) {
        add_moment(s, s->out, c->reached_s);
    } else {
        vs_text_addf(s->out, "-");
    }
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    vs_style_end_line(s->out);
}

static void first_alarm(sheet *s) {
    const vs_cautions *c = s->cautions;
    if (c->first_detector != VS_NONE) {
        vs_text_addf(&s->line, "The first, %s, is reached from about ",
                     s->scene->venue.detector[c->first_detector].name);
        add_moment(s, &s->line, c->detector[c->first_detector].reached_s);
        vs_text_addf(&s->line, ", to five minutes: " VS_CAUTION_ALARM ".");
    } else if (c->detector_count > 0) {
        vs_text_addf(&s->line, "None of these is reached by the figures of even air.");
    } else {
        vs_text_addf(&s->line, "The scene names no detectors: ask the venue what hangs where.");
    }
    vs_text_addf(&s->line, " Near the hazer the haze is thicker, and alarms come sooner.");
    end_line(s);
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

/* The minute a threshold of a room is reached; for a range the minutes of both its ends. */
static void threshold_cell(sheet *s, const vs_threshold_caution *t) {
    double minutes_a_step = VS_CAUTION_REACHED_TO_S / VS_S_PER_MIN;
    char text[48] = "-";
    if (!isnan(t->reached_low_s)) {
        double low = floor(t->reached_low_s / VS_CAUTION_REACHED_TO_S) * minutes_a_step;
        double high = floor(t->reached_high_s / VS_CAUTION_REACHED_TO_S) * minutes_a_step;
        if (t->high_per_m == t->low_per_m) {
            snprintf(text, sizeof text, "min %.0f", low);
        } else if (isnan(high)) {
            snprintf(text, sizeof text, "min %.0f / -", low);
        } else {
            snprintf(text, sizeof text, "min %.0f / %.0f", low, high);
        }
    }
    vs_style_cell(s->out, text, ROOM_COLUMNS, true);
}

/* The thresholds of all kinds for the rooms [first, end). */
static void threshold_table(sheet *s, size_t first, size_t end) {
    size_t per_room = s->cautions->threshold_count / s->scene->room_count;
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "  any of its kind, by its data", 33, false);
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
            vs_text_addf(s->out, "  %s\n", s->answer->tables->detector[kind].title);
        }
        vs_text_addf(s->out, "    ");
        vs_style_cell(s->out, t->threshold->name, 29, false);
        vs_text alarm;
        vs_text_init(&alarm);
        add_alarm(&alarm, t->threshold);
        vs_style_cell(s->out, alarm.bytes ? alarm.bytes : "", 20, false);
        vs_text_free(&alarm);
        for (size_t room = first; room < end; room++) {
            threshold_cell(s, &s->cautions->threshold[room * per_room + i]);
        }
        vs_style_end_line(s->out);
    }
}

static void threshold_sources(sheet *s) {
    vs_text_addf(&s->line, "Sources: ");
    size_t per_room = s->cautions->threshold_count / s->scene->room_count;
    for (size_t i = 0; i < per_room; i++) {
        const vs_detector_threshold *t = s->cautions->threshold[i].threshold;
        bool told = false;
        for (size_t k = 0; k < i && !told; k++) {
            told = strcmp(s->cautions->threshold[k].threshold->source, t->source) == 0;
        }
        if (!told) {
            vs_text_addf(&s->line, "%s%s (%s)", i ? "; " : "", t->source, status_words(t->status));
        }
    }
    vs_text_addf(&s->line, ".");
    end_item(s, 0, 2);
}

static void detectors(sheet *s) {
    heading(s,
            s->answer->optics->size_known
                ? "detectors: the peak in each room as each kind sees it, against where it alarms"
                : "detectors: the peak in each room against where each kind alarms; the "
                  "fluid is as measured, so 549 nm stands for what optical heads see at 900 nm");
    if (s->cautions->detector_count > 0) {
        detector_heads(s);
        for (size_t i = 0; i < s->cautions->detector_count; i++) {
            detector_line(s, i);
        }
    }
    first_alarm(s);
    for (size_t room = 0; room < s->scene->room_count; room += ROOMS_A_ROW) {
        size_t end = room + ROOMS_A_ROW;
        threshold_table(s, room, end < s->scene->room_count ? end : s->scene->room_count);
    }
    vs_text_addf(&s->line, "Minutes are when the low end is reached / the high end; -: never.");
    end_line(s);
    threshold_sources(s);
}

/* ---- the way out ---- */

static void add_distance(sheet *s, double length_m) {
    char text[16];
    if (isinf(length_m)) {
        vs_text_addf(&s->line, "any distance");
    } else {
        vs_text_addf(&s->line, "%s %s", vs_caution_plain(vs_style_length(s->style, length_m), text),
                     vs_style_length_unit(s->style));
    }
}

static void way_out(sheet *s) {
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
    end_item(s, 2, 4);
}

static void criterion_line(sheet *s, const vs_exit_criterion *criterion) {
    const vs_exit_caution *e = &s->cautions->exit;
    add_distance(s, criterion->needed_m);
    vs_text_addf(&s->line, " are needed in %s: lit sign %s, reflecting %s (%s; %s)",
                 criterion->where, e->lit_m >= criterion->needed_m ? "shows" : "does NOT show",
                 e->reflecting_m >= criterion->needed_m ? "shows" : "does NOT show",
                 criterion->source, status_words(criterion->status));
    end_item(s, 2, 4);
}

static void exits(sheet *s) {
    const vs_exit_caution *e = &s->cautions->exit;
    char k[16];
    heading(s, "the way out, at the day's peak");
    vs_text_addf(&s->line, "at %s /m a lit sign shows to ", number(e->extinction_per_m, k));
    add_distance(s, e->lit_m);
    vs_text_addf(&s->line, ", a reflecting one to ");
    add_distance(s, e->reflecting_m);
    vs_text_addf(&s->line, " (Jin: 8 and 3 over the extinction; later work says less for "
                           "reflecting signs)");
    end_item(s, 2, 4);
    way_out(s);
    for (size_t i = 0; i < s->answer->tables->exit_count; i++) {
        criterion_line(s, &s->answer->tables->exit[i]);
    }
    vs_text_addf(&s->line,
                 "emergency lighting was laid out for clear air: straight down from the ceiling "
                 "%.0f %% of it arrives unscattered, and haze in its beams hides what lies behind",
                 100 * e->light_share);
    end_item(s, 2, 4);
}

/* ---- clearing, checklist ---- */

static void clearing(sheet *s) {
    const vs_day *day = s->answer->day;
    char k[16];
    heading(s, "clearing, before the rooms are handed back");
    if (!day->planned) {
        vs_text_addf(&s->line, "not worked out: the scene has no hazer, so each shot's density is "
                               "taken to stand for as long as the shot lasts");
        end_item(s, 2, 4);
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
    end_item(s, 2, 4);
}

static void task(sheet *s, const char *who, const char *text, const char *after) {
    vs_text_addf(&s->line, "[ ] %s: %s%s", who, text, after);
    end_item(s, 2, 6);
}

static void checklist(sheet *s) {
    const char *when = "";
    heading(s, "checklist");
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
    static void (*const part[])(sheet *) = {exposure, detectors, exits, clearing, checklist};
    sheet s = {.out = out,
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
