/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The density of the rooms over the day, drawn: shots, what they want, where heads alarm, where
 * limits lie, when the hazer is on. Time runs to the right. */
#include "report/sheet/sheet.h"

#include <math.h>
#include <stdio.h>

#include "report/sheet/labels.h"
#include "veilstop/base/units.h"

/* The drawing's own units: a tenth of a letter's height. */
#define WIDE        640.0
#define NARROW      345.0 /* beside the plan */
#define HIGH        156.0
#define LOW         112.0 /* with as many shots as a page holds */
#define HIGHER      13.0  /* more for each shot less */
#define LEFT        40.0
#define RIGHT       8.0
#define TOP         16.0
#define BOTTOM      26.0
#define ROOMS_DRAWN 6    /* the thickest; more lines cannot be told apart on paper */
#define NUMBER_WIDE 14.0 /* of a shot over its ground */
#define MARK_WIDE   42.0 /* of a clock time under the axis */
#define HEADROOM    1.2  /* [1] of the peak; our choice */
#define LINE_FAR    2.0  /* [1] of the peak: alarms and limits over it are named, not drawn */

typedef struct {
    vs_sheet *s;
    const vs_day *day;
    double width, height, end_s, top_per_m;
    vs_sheet_labels labels;
    double last_number; /* x of the last shot number */
} chart;

static double x_of(const chart *c, double at_s) {
    return LEFT + (c->width - LEFT - RIGHT) * at_s / c->end_s;
}

static double y_of(const chart *c, double extinction_per_m) {
    return c->height - BOTTOM - (c->height - TOP - BOTTOM) * extinction_per_m / c->top_per_m;
}

/* The density at 549 nm at which a head of the venue alarms [1/m]; NaN if unknown. */
static double alarm_at(const vs_sheet *s, size_t detector) {
    const vs_scene_detector *d = &s->scene->venue.detector[detector];
    return s->cautions->detector[detector].alarm_per_m /
           s->answer->cautions.optics->at_detector[d->kind];
}

/* The density at which the high end of the mass breathed reaches a limit [1/m]; NaN: no limit. */
static double limit_at(const vs_sheet *s) {
    const vs_exposure_limit *limit = vs_caution_lowest_limit(
        s->answer->cautions.tables, s->scene->fluid.class_, VS_AVERAGE_PEAK);
    return limit ? limit->limit_g_per_m3 * s->answer->cautions.optics->low_m2_per_g : (double)NAN;
}

static chart make_chart(vs_sheet *s) {
    chart c = {
        .s = s, .day = s->answer->cautions.day, .width = s->beside ? NARROW : WIDE, .height = HIGH};
    double peak = 0;
    if (s->beside) {
        size_t fewer = VS_SHEET_TWO_PAGES - vs_sheet_shot_count(s);
        c.height = LOW + HIGHER * (double)fewer;
    }
    c.labels.right = c.width;
    c.labels.bottom = c.height - BOTTOM;
    for (size_t r = 0; r < s->scene->room_count; r++) {
        peak = fmax(peak, s->cautions->peak_per_m[r]);
    }
    c.top_per_m = peak;
    for (size_t i = 0; i < s->scene->venue.detector_count; i++) {
        double k = alarm_at(s, i);
        c.top_per_m = k <= LINE_FAR * peak ? fmax(c.top_per_m, k) : c.top_per_m;
    }
    c.top_per_m *= HEADROOM;
    c.end_s = c.day->sample_count > 0 ? c.day->at_s[c.day->sample_count - 1] : 0;
    return c;
}

static void text_at(const chart *c, double x, double y, const char *anchor, const char *words) {
    vs_text_addf(c->s->out, "<text x=\"%.1f\" y=\"%.1f\"%s%s%s>", x, y,
                 anchor[0] ? " text-anchor=\"" : "", anchor, anchor[0] ? "\"" : "");
    vs_sheet_text(c->s->out, words);
    vs_text_addf(c->s->out, "</text>\n");
}

/* ---- axes ---- */

/* 1, 2 or 5 times a power of ten: about that many steps. */
static double step_of(double range, double steps) {
    double raw = range / steps, power = pow(10, floor(log10(raw)));
    double digit = raw / power;
    return power * (digit < 1.5 ? 1 : digit < 3.5 ? 2 : digit < 7.5 ? 5 : 10);
}

static void density_axis(const chart *c) {
    double step = step_of(c->top_per_m, 4);
    for (int i = 0; i * step < c->top_per_m; i++) {
        char number[24];
        snprintf(number, sizeof number, "%.4g", i * step);
        vs_text_addf(
            c->s->out,
            "<path d=\"M%.1f %.1fH%.1f\" stroke=\"#000\" stroke-width=\"%s\" fill=\"none\"/>\n",
            LEFT, y_of(c, i * step), c->width - RIGHT, i == 0 ? "1" : ".2");
        text_at(c, LEFT - 4, y_of(c, i * step) + 3, "end", number);
    }
    text_at(c, LEFT - 4, TOP - 6, "end", "/m");
}

/* Minutes between the marks of time. */
static double minutes_a_mark(const chart *c) {
    static const double each[] = {5, 10, 15, 30, 60, 120, 240, 480, 1440};
    size_t i = 0;
    while (i + 1 < sizeof each / sizeof each[0] &&
           c->end_s / VS_S_PER_MIN / each[i] > (c->width - LEFT) / MARK_WIDE) {
        i++;
    }
    return each[i];
}

static void time_axis(const chart *c) {
    double start_s = c->s->scene->start_s, each_s = minutes_a_mark(c) * VS_S_PER_MIN;
    double first_s = isnan(start_s) ? 0 : ceil(start_s / each_s) * each_s - start_s;
    for (double at_s = first_s; at_s <= c->end_s; at_s += each_s) {
        char words[24];
        double x = x_of(c, at_s);
        if (isnan(start_s)) {
            snprintf(words, sizeof words, "%.0f", at_s / VS_S_PER_MIN);
        } else {
            long clock = lround(start_s + at_s) % VS_S_PER_DAY;
            snprintf(words, sizeof words, "%02ld:%02ld", clock / 3600, clock / 60 % 60);
        }
        vs_text_addf(c->s->out, "<path d=\"M%.1f %.1fv4\" stroke=\"#000\" fill=\"none\"/>\n", x,
                     c->height - BOTTOM);
        text_at(c, fmin(x, c->width - RIGHT - 12), c->height - BOTTOM + 13, "middle", words);
    }
    if (isnan(start_s)) {
        text_at(c, LEFT - 4, c->height - BOTTOM + 13, "end", "min");
    }
}

/* ---- the day ---- */

/* A shot as a grey ground, its number over it, the range that its wants allow as a bracket. */
static void shot_band(chart *c, size_t place) {
    const vs_dwell_shot *plan = &c->s->dwell->shot[place];
    const vs_choice *choice = &c->s->answer->choices->shot[plan->shot];
    double from = x_of(c, plan->start_s), to = x_of(c, plan->end_s);
    char number[24];
    snprintf(number, sizeof number, "%zu", place + 1);
    vs_text_addf(c->s->out,
                 "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"#e4e4e4\"/>\n",
                 from, TOP, to - from, c->height - TOP - BOTTOM);
    if ((from + to) / 2 - c->last_number > NUMBER_WIDE) {
        text_at(c, (from + to) / 2, TOP - 4, "middle", number);
        c->last_number = (from + to) / 2;
    }
    if (choice->want_count == 0 || !choice->met || isnan(choice->lowest_per_m)) {
        return;
    }
    double low = y_of(c, fmin(choice->lowest_per_m, c->top_per_m));
    double high = y_of(c, fmin(choice->highest_per_m, c->top_per_m));
    double tick = fmin(5, (to - from) / 3);
    vs_text_addf(c->s->out,
                 "<path d=\"M%.1f %.1fh-%.1fV%.1fh%.1fM%.1f %.1fh%.1fV%.1fh-%.1f\" fill=\"none\" "
                 "stroke=\"#000\" stroke-width=\".8\"/>\n",
                 from + tick, low, tick, high, tick, to - tick, low, tick, high, tick);
}

/* A room's curve as points of the drawing. */
static void room_curve(const chart *c, size_t room, size_t rank) {
    static const char *const dash[ROOMS_DRAWN] = {"", "6 3", "2 3", "9 3 2 3", "1 4", "12 4"};
    const double *k = c->day->extinction_per_m + room * c->day->sample_size;
    vs_text_addf(
        c->s->out,
        "<polyline fill=\"none\" stroke=\"#000\" stroke-width=\"%s\" stroke-linejoin=\"round\"",
        rank == 0 ? "1.8" : "1.2");
    if (dash[rank][0]) {
        vs_text_addf(c->s->out, " stroke-dasharray=\"%s\"", dash[rank]);
    }
    vs_text_addf(c->s->out, " data-room=\"%zu\" points=\"", room);
    for (size_t i = 0; i < c->day->sample_count; i++) {
        vs_text_addf(c->s->out, "%s%.2f,%.2f", i > 0 ? " " : "", x_of(c, c->day->at_s[i]),
                     y_of(c, k[i]));
    }
    vs_text_addf(c->s->out, "\"/>\n");
}

/* Rooms by their peaks, the thickest first. Returns how many are drawn. */
static size_t rank_rooms(const chart *c, size_t ranked[ROOMS_DRAWN]) {
    size_t count = 0;
    const double *peak = c->s->cautions->peak_per_m;
    for (size_t room = 0; room < c->s->scene->room_count; room++) {
        size_t at = count;
        while (at > 0 && peak[room] > peak[ranked[at - 1]]) {
            at--;
        }
        if (at == ROOMS_DRAWN) {
            continue;
        }
        count += count < ROOMS_DRAWN;
        for (size_t i = count - 1; i > at; i--) {
            ranked[i] = ranked[i - 1];
        }
        ranked[at] = room;
    }
    return count;
}

/* A room's name beside its curve's peak, clear of other words. */
static void room_label(chart *c, size_t room) {
    double at_s = c->s->cautions->peak_at_s[room];
    if (!isfinite(at_s)) {
        return;
    }
    const char *name = c->s->scene->room[room].name;
    vs_sheet_label box = vs_sheet_labels_place(&c->labels, x_of(c, at_s),
                                               y_of(c, c->s->cautions->peak_per_m[room]) - 8, name);
    vs_text_addf(c->s->out, "<g font-weight=\"700\" paint-order=\"stroke\" stroke=\"#fff\" "
                            "stroke-width=\"2\">");
    text_at(c, box.x, box.y, "", name);
    vs_text_addf(c->s->out, "</g>\n");
}

/* A horizontal line with its name at the right end, over or under it. */
static void across(chart *c, double extinction_per_m, const char *dash, const char *before,
                   const char *name) {
    vs_text words;
    double y = y_of(c, extinction_per_m);
    if (!(extinction_per_m <= c->top_per_m)) {
        return;
    }
    vs_text_init(&words);
    vs_text_addf(&words, "%s%s", before, name);
    vs_sheet_label box = vs_sheet_labels_at_end(&c->labels, c->width - RIGHT - 2, y,
                                                vs_text_words(&words, c->s->out));
    vs_text_addf(c->s->out,
                 "<path d=\"M%.1f %.1fH%.1f\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.2\" "
                 "stroke-dasharray=\"%s\"/>\n<g paint-order=\"stroke\" stroke=\"#fff\" "
                 "stroke-width=\"2\">",
                 LEFT, y, c->width - RIGHT, dash);
    text_at(c, box.x + box.width, box.y, "end", vs_text_words(&words, c->s->out));
    vs_text_addf(c->s->out, "</g>\n");
    vs_text_free(&words);
}

/* Calls `with` for each horizontal line: the heads' alarms, then the breathing limit. */
static void each_line(chart *c, void (*with)(chart *c, double extinction_per_m, const char *dash,
                                             const char *before, const char *name)) {
    for (size_t i = 0; i < c->s->scene->venue.detector_count; i++) {
        with(c, alarm_at(c->s, i), "3 2", "alarm: ", c->s->scene->venue.detector[i].name);
    }
    with(c, limit_at(c->s), "10 2 2 2", "", "breathing limit");
}

static void keep_line_free(chart *c, double extinction_per_m, const char *dash, const char *before,
                           const char *name) {
    (void)dash;
    (void)before;
    (void)name;
    if (extinction_per_m <= c->top_per_m) {
        vs_sheet_labels_take(&c->labels, LEFT, y_of(c, extinction_per_m) - 0.5,
                             c->width - LEFT - RIGHT, 1);
    }
}

static void alarm_lines(chart *c) {
    each_line(c, keep_line_free);
    each_line(c, across);
    for (size_t i = 0; i < c->s->scene->venue.detector_count; i++) {
        const vs_detector_caution *d = &c->s->cautions->detector[i];
        double k = alarm_at(c->s, i);
        if (d->reached && isfinite(d->reached_s) && k <= c->top_per_m) {
            vs_text_addf(c->s->out,
                         "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"4.5\" fill=\"#fff\" stroke=\"#000\" "
                         "stroke-width=\"1.5\"/>\n",
                         x_of(c, d->reached_s), y_of(c, k));
        }
    }
}

/* Bars under the axis while the hazer is on. */
static void hazer_bars(const chart *c) {
    for (size_t i = 0; i < c->s->dwell->event_count; i++) {
        const vs_dwell_event *e = &c->s->dwell->event[i];
        if (e->act == VS_DWELL_RUN || e->act == VS_DWELL_BURST) {
            double from = x_of(c, e->at_s), to = x_of(c, e->at_s + e->length_s);
            vs_text_addf(c->s->out, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.2f\" height=\"6\"/>\n",
                         from, c->height - 9, fmax(to - from, 0.8));
        }
    }
    text_at(c, LEFT - 4, c->height - 3, "end", "hazer");
}

static void draw(chart *c) {
    size_t ranked[ROOMS_DRAWN];
    size_t rooms = rank_rooms(c, ranked);
    for (size_t i = 0; c->s->dwell && i < c->s->dwell->shot_count; i++) {
        shot_band(c, i);
    }
    density_axis(c);
    time_axis(c);
    for (size_t i = 0; i < rooms; i++) {
        room_curve(c, ranked[i], i);
    }
    alarm_lines(c);
    for (size_t i = 0; i < rooms; i++) {
        room_label(c, ranked[i]);
    }
    if (c->s->dwell) {
        hazer_bars(c);
    }
}

static void caption(const chart *c) {
    const vs_sheet *s = c->s;
    size_t thick = s->cautions->thickest;
    vs_text_addf(s->out, "<figcaption>Haze over the day. Peak in ");
    vs_sheet_text(s->out, s->scene->room[thick].name);
    vs_text_addf(s->out, ": ");
    vs_sheet_number(s->out, s->cautions->peak_per_m[thick],
                    "cautions/rooms/%zu/peak_extinction_per_m", thick);
    vs_text_addf(s->out,
                 "&nbsp;/m. Grey: a shot, by its place in the day; brackets: the haze it "
                 "wants; ring: an alarm is reached; bars: hazer on; breathing limit: at any "
                 "moment, with the least that it may be.");
    for (size_t i = 0; i < s->scene->venue.detector_count; i++) {
        if (!(alarm_at(s, i) <= c->top_per_m)) {
            vs_text_addf(s->out, " Off the drawing: alarm of ");
            vs_sheet_text(s->out, s->scene->venue.detector[i].name);
            vs_text_addf(s->out, ".");
        }
    }
    vs_text_addf(s->out, "</figcaption>\n");
}

void vs_sheet_curve(vs_sheet *s) {
    chart c = make_chart(s);
    if (!(c.end_s > 0) || !(c.top_per_m > 0)) {
        vs_text_addf(s->out, "<p class=\"note\">No haze is planned: there is no curve.</p>\n");
        return;
    }
    vs_text_addf(
        s->out,
        "<figure class=\"curve\">\n<svg viewBox=\"0 0 %.0f %.0f\" role=\"img\" "
        "aria-label=\"Density of the haze in each room over the day\" data-end-min=\"%.9g\" "
        "data-top-per-m=\"%.9g\">\n",
        c.width, c.height, c.end_s / VS_S_PER_MIN, c.top_per_m);
    draw(&c);
    vs_text_addf(s->out, "</svg>\n");
    caption(&c);
    vs_text_addf(s->out, "</figure>\n");
}
