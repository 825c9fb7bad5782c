/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The run sheet, in a crew's words: a time, then what to do. */
#include "veilstop/report/dwell.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"
#include "veilstop/report/rooms.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/density.h"

#define CHART_COLUMNS 64    /* [columns] of a sparkline, at most */
#define NAME_COLUMNS  20    /* [columns] of a name in a table */
#define LOSS_COLUMNS  11    /* [columns] of a loss */
#define LEVELS        8     /* block elements, U+2581 to U+2588 */
#define AT_LIMIT      1.001 /* [1] a burst so near a limit of the hazer stands at it */
#define TRACE         0.01  /* [1] of the peak: less is shown as blank; our choice */

/* State shared by the parts of a sheet; a line is collected in `line`, then wrapped into `out`. */
typedef struct {
    vs_text *out;
    const vs_style *style;
    const vs_scene *scene;
    const vs_dwell *dwell;
    vs_text line;
} sheet;

/* Wraps the collected line onto the answer, and starts the next. */
static void end_line(sheet *s, size_t indent) {
    vs_style_wrap(s->out, vs_text_words(&s->line, s->out), indent);
    s->line.length = 0;
}

static void add_density(sheet *s, double extinction_per_m) {
    vs_report_density(&s->line, extinction_per_m);
}

/* A density and how far one sees in it: "0.0300 /m (visibility 130 m)". */
static void add_target(sheet *s, double extinction_per_m) {
    add_density(s, extinction_per_m);
    vs_text_addf(&s->line, " (visibility ");
    vs_report_visibility(&s->line, s->style, vs_visible_range_m(extinction_per_m));
    vs_text_addf(&s->line, ")");
}

static size_t moment_columns(const sheet *s) {
    return isnan(s->scene->start_s) ? 9 : 19;
}

/* "   12.5  07:42:30  ", the second column only if the scene has a start time. */
static void add_moment(sheet *s, double at_s) {
    vs_text_addf(s->out, "%7.1f  ", at_s / VS_S_PER_MIN);
    if (!isnan(s->scene->start_s)) {
        long clock = lround(s->scene->start_s + at_s) % VS_S_PER_DAY;
        vs_text_addf(s->out, "%02ld:%02ld:%02ld  ", clock / 3600, clock / 60 % 60, clock % 60);
    }
}

static void end_moment(sheet *s) {
    end_line(s, moment_columns(s) + 2);
}

static void losses(sheet *s) {
    static const char *const names[] = {"fresh air", "on walls", "settling", "evaporation", "all"};
    vs_style_ink(s->out, s->style, VS_INK_FAINT);
    vs_style_cell(s->out, "losses per hour", NAME_COLUMNS, false);
    for (size_t i = 0; i < 5; i++) {
        vs_style_cell(s->out, names[i], LOSS_COLUMNS, true);
    }
    vs_text_addf(s->out, "  half gone in\n");
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    for (size_t i = 0; i < s->dwell->room_count; i++) {
        const vs_dwell_room *room = &s->dwell->room[i];
        vs_style_cell(s->out, s->scene->room[i].name, NAME_COLUMNS, false);
        vs_style_figure(s->out, LOSS_COLUMNS, "%.2f", room->loss.air * VS_S_PER_H);
        vs_style_figure(s->out, LOSS_COLUMNS, "%.2f", room->loss.deposition * VS_S_PER_H);
        vs_style_figure(s->out, LOSS_COLUMNS, "%.3f", room->loss.settling * VS_S_PER_H);
        vs_style_figure(s->out, LOSS_COLUMNS, "%.2f", room->loss.evaporation * VS_S_PER_H);
        vs_style_figure(s->out, LOSS_COLUMNS, "%.2f", room->loss.total * VS_S_PER_H);
        vs_text_addf(s->out, "  ");
        if (isfinite(room->half_life_s)) {
            vs_style_time(s->out, room->half_life_s);
        } else {
            vs_text_addf(s->out, "never");
        }
        vs_text_addf(s->out, "\n");
    }
}

static const vs_dwell_shot *plan_of(const vs_dwell *dwell, size_t shot) {
    for (size_t i = 0; i < dwell->shot_count; i++) {
        if (dwell->shot[i].shot == shot) {
            return &dwell->shot[i];
        }
    }
    return NULL;
}

static void run(sheet *s, const vs_dwell_event *event, const vs_dwell_shot *plan) {
    vs_text_addf(&s->line, "for %s: hazer on full for ", s->scene->shot[event->shot].name);
    vs_style_time(&s->line, event->length_s);
    vs_text_addf(&s->line, ", enough for ");
    add_target(s, plan->held_extinction_per_m);
    end_moment(s);
    double share = plan->stop_ratio * plan->target_extinction_per_m / plan->held_extinction_per_m;
    add_moment(s, event->at_s + event->length_s);
    vs_text_addf(s->out, "  ");
    vs_text_addf(&s->line, "hazer off; a reading now gives %.0f %% of it", 100 * share);
    end_moment(s);
}

static void purge_or_wait(sheet *s, const vs_dwell_event *event, const vs_dwell_shot *plan) {
    bool purges = event->act == VS_DWELL_PURGE;
    vs_text_addf(plan ? s->out : &s->line, "%s", plan ? "  " : "hazer off for good; ");
    vs_text_addf(&s->line, "%s", purges ? "open doors, fans on, for " : "wait ");
    vs_style_time(&s->line, event->length_s);
    if (plan && purges) {
        vs_text_addf(&s->line, ", then close them again");
    } else if (plan) {
        vs_text_addf(&s->line, plan->run_s > 0 ? " while it mixes in" : " while it thins out");
    }
    end_moment(s);
}

/* "every reset", "every 2nd reset" ...: with takes, bursts go by resets, not by the clock. */
static void add_resets(vs_text *out, double resets) {
    long n = lround(resets);
    if (n == 1) {
        vs_text_addf(out, "in every reset ");
    } else {
        vs_text_addf(out, "in every %ld%s reset ", n, n == 2 ? "nd" : n == 3 ? "rd" : "th");
    }
}

static void bursts_line(sheet *s, const vs_dwell_shot *plan, const vs_dwell_bursts *bursts) {
    if (!(bursts->burst_s > 0)) {
        return;
    }
    const vs_scene_shot *shot = &s->scene->shot[plan->shot];
    bool takes = !isnan(shot->roll_s), once = bursts->count <= bursts->group;
    add_moment(s, plan->start_s + bursts->from_s + bursts->first_s);
    vs_text_addf(s->out, "  ");
    vs_text_addf(&s->line, "hold: ");
    if (takes && once) {
        vs_text_addf(&s->line, "in this reset ");
    } else if (takes) {
        add_resets(&s->line, bursts->every_s / (shot->roll_s + shot->reset_s));
    }
    vs_text_addf(&s->line, "hazer on for ");
    vs_style_time(&s->line, bursts->burst_s);
    if (bursts->group > 1) {
        vs_text_addf(&s->line, ", %zu times, ", bursts->group);
        vs_style_time(&s->line, bursts->spacing_s);
        vs_text_addf(&s->line, " apart");
    }
    if (!takes && bursts->count > 1) {
        vs_text_addf(&s->line, ", every ");
        vs_style_time(&s->line, bursts->every_s);
        vs_text_addf(&s->line, ", %zu times", bursts->count);
    }
    vs_text_addf(&s->line, takes ? "; never while rolling" : "");
    end_moment(s);
}

static void start(sheet *s, const vs_dwell_event *event, const vs_dwell_shot *plan) {
    vs_style_ink(s->out, s->style, VS_INK_HEAD);
    vs_text_addf(&s->line, "ROLL %s, ", s->scene->shot[event->shot].name);
    vs_style_time(&s->line, event->length_s);
    if (plan->target_extinction_per_m > 0) {
        bool lowered = plan->held_extinction_per_m < plan->target_extinction_per_m;
        vs_text_addf(&s->line, ", at ");
        add_target(s, lowered ? plan->held_extinction_per_m : plan->target_extinction_per_m);
        if (lowered) {
            vs_text_addf(&s->line, ", not the ");
            add_density(s, plan->target_extinction_per_m);
            vs_text_addf(&s->line, " asked for");
        }
    } else {
        vs_text_addf(&s->line, ", in clear air");
    }
    end_moment(s);
    vs_style_ink(s->out, s->style, VS_INK_PLAIN);
    const double *held = s->dwell->held_per_m + (plan - s->dwell->shot) * s->dwell->room_count;
    if (vs_report_thicker_room(&s->line, s->scene, &s->scene->shot[plan->shot], held)) {
        add_moment(s, event->at_s);
        vs_text_addf(s->out, "  ");
        end_moment(s);
    }
    bool bursts = false;
    for (size_t i = 0; i < plan->bursts_count; i++) {
        bursts_line(s, plan, &plan->bursts[i]);
        bursts = bursts || plan->bursts[i].burst_s > 0;
    }
    if (!bursts && plan->target_extinction_per_m > 0 && event->length_s > 0) {
        add_moment(s, event->at_s);
        vs_text_addf(s->out, "  leave the hazer off\n");
    }
}

static void end(sheet *s, const vs_dwell_event *event, const vs_dwell_shot *plan) {
    vs_text_addf(&s->line, "cut %s", s->scene->shot[event->shot].name);
    if (plan->target_extinction_per_m > 0 && isfinite(plan->lowest_ratio)) {
        vs_text_addf(&s->line, "; it held %.0f to %.0f %% of the density asked for",
                     100 * plan->lowest_ratio, 100 * plan->highest_ratio);
    }
    end_moment(s);
}

static void clear(sheet *s) {
    vs_text_addf(&s->line, "clear: every room loses under %.0f %% of contrast over %.1f %s",
                 100 * VS_DWELL_CLEAR_LOSS, vs_style_length(s->style, s->dwell->longest_sight_m),
                 vs_style_length_unit(s->style));
    end_moment(s);
}

/* What is done for a shot. Its bursts are described at its start. */
static void shot_event(sheet *s, const vs_dwell_event *event, const vs_dwell_shot *plan) {
    switch (event->act) {
    case VS_DWELL_RUN:
        run(s, event, plan);
        break;
    case VS_DWELL_PURGE:
    case VS_DWELL_WAIT:
        purge_or_wait(s, event, plan);
        break;
    case VS_DWELL_START:
        start(s, event, plan);
        break;
    case VS_DWELL_END:
        end(s, event, plan);
        break;
    case VS_DWELL_BURST:
    case VS_DWELL_WARM_UP:
    case VS_DWELL_CLEAR:
        break;
    }
}

/* What is done before the first shot or after the last. */
static void day_event(sheet *s, const vs_dwell_event *event) {
    if (event->act == VS_DWELL_WARM_UP) {
        bool several = s->scene->hazer.machine_count > 1;
        vs_text_addf(&s->line, several
                                   ? "switch all hazers on and leave them on: they run and pause "
                                     "together; the slowest warms up for "
                                   : "switch the hazer on and leave it on; it warms up for ");
        vs_style_time(&s->line, event->length_s);
        end_moment(s);
    } else if (event->act == VS_DWELL_CLEAR) {
        clear(s);
    } else {
        purge_or_wait(s, event, NULL);
    }
}

static void event_lines(sheet *s, const vs_dwell_event *event) {
    const vs_dwell_shot *plan = event->shot == VS_NONE ? NULL : plan_of(s->dwell, event->shot);
    if (event->act == VS_DWELL_BURST) {
        return;
    }
    add_moment(s, event->at_s);
    if (plan) {
        shot_event(s, event, plan);
    } else {
        day_event(s, event);
    }
}

static void totals(sheet *s) {
    char fluid[16];
    const vs_dwell *d = s->dwell;
    vs_text_addf(s->out, "\nfluid  %s ml\nclear  ", vs_style_number(d->fluid_ml, fluid));
    if (isnan(d->clear_s)) {
        vs_text_addf(&s->line, "not within seven days");
    } else {
        vs_style_time(&s->line, d->clear_s);
        vs_text_addf(&s->line, " after the last cut%s (under ",
                     d->purged ? " with doors open and fans on" : "");
        add_density(s, d->clear_extinction_per_m);
        vs_text_addf(&s->line, ")");
    }
    if (d->purged && !isnan(d->clear_closed_s)) {
        vs_text_addf(&s->line, "; with doors shut ");
        vs_style_time(&s->line, d->clear_closed_s);
    } else if (d->purged) {
        vs_text_addf(&s->line, "; with doors shut never");
    }
    end_line(s, 7);
}

/* The mean density of a room between two moments, from the samples of the curve, linear in
 * between. */
static double mean_between(const vs_dwell *d, size_t room, double from_s, double to_s) {
    double sum = 0, covered_s = 0;
    for (size_t i = 1; i < d->sample_count; i++) {
        double a_s = fmax(d->sample_s[i - 1], from_s), b_s = fmin(d->sample_s[i], to_s);
        if (b_s > a_s) {
            double a = d->sample_g_per_m3[(i - 1) * d->room_count + room];
            double b = d->sample_g_per_m3[i * d->room_count + room];
            sum += 0.5 * (a + b) * (b_s - a_s);
            covered_s += b_s - a_s;
        }
    }
    return covered_s > 0 ? sum / covered_s : 0;
}

static void add_block(vs_text *out, double share) {
    int level = (int)(share * LEVELS + 0.5);
    if (level < 1) {
        vs_text_addf(out, share > TRACE ? "." : " ");
        return;
    }
    const char block[3] = {(char)0xe2, (char)0x96,
                           (char)(0x80 + (level < LEVELS ? level : LEVELS))};
    vs_text_add(out, block, sizeof block);
}

/* The number in the day (1 to 9, then +) of the shot on at a time, or a dot. */
static char shot_at(const vs_dwell *d, double at_s) {
    for (size_t i = 0; i < d->shot_count; i++) {
        if (at_s >= d->shot[i].start_s && at_s < d->shot[i].end_s) {
            return i < 9 ? (char)('1' + i) : '+';
        }
    }
    return '.';
}

static void chart(sheet *s) {
    const vs_dwell *d = s->dwell;
    double length_s = d->sample_count ? d->sample_s[d->sample_count - 1] : 0, top = 0;
    for (size_t i = 0; i < d->room_count; i++) {
        top = fmax(top, d->room[i].peak_g_per_m3);
    }
    if (!(length_s > 0) || !(top > 0)) {
        return;
    }
    double each_s = ceil(length_s / CHART_COLUMNS / VS_S_PER_MIN) * VS_S_PER_MIN;
    int columns = (int)ceil(length_s / each_s);
    char per_m[16], title[96];
    snprintf(title, sizeof title, "haze over the day: a full block is %s /m, a column %.0f min\n",
             vs_style_number(top * d->extinction_m2_per_g, per_m), each_s / VS_S_PER_MIN);
    vs_text_addf(s->out, "\n");
    vs_style_words(s->out, s->style, VS_INK_HEAD, title);
    for (size_t room = 0; room < d->room_count; room++) {
        vs_style_cell(s->out, s->scene->room[room].name, NAME_COLUMNS, false);
        for (int c = 0; c < columns; c++) {
            add_block(s->out, mean_between(d, room, c * each_s, (c + 1) * each_s) / top);
        }
        vs_style_end_line(s->out);
    }
    vs_style_cell(s->out, "shot on", NAME_COLUMNS, false);
    for (int c = 0; c < columns; c++) {
        vs_text_addf(s->out, "%c", shot_at(d, (c + 0.5) * each_s));
    }
    vs_text_addf(s->out, "\n");
}

static void fill_trouble(sheet *s, const vs_dwell_shot *plan) {
    const char *room = s->scene->room[plan->room].name;
    switch (plan->fill_trouble) {
    case VS_DWELL_WEAK:
        vs_text_addf(&s->line, "the hazer is too weak for what %s loses: always on, it gets to ",
                     room);
        add_density(s, plan->within_reach_per_m);
        vs_text_addf(&s->line, " and no further; the sheet holds ");
        add_density(s, plan->held_extinction_per_m);
        break;
    case VS_DWELL_SLOW_FILL:
        vs_text_addf(&s->line, "filling %s takes over two hours; the sheet stops there, at ", room);
        add_density(s, plan->held_extinction_per_m);
        break;
    case VS_DWELL_SLOW_MIXING:
        vs_text_addf(&s->line, "mixing is slow: the haze takes over two hours to spread into %s",
                     room);
        break;
    case VS_DWELL_SLOW_FALL:
        vs_text_addf(&s->line,
                     "%s does not thin out to this within two hours: play it before the thicker "
                     "ones, or open up more",
                     room);
        break;
    case VS_DWELL_OVERSHOOT:
        vs_text_addf(&s->line, "even the hazer's shortest burst leads to ");
        add_density(s, plan->within_reach_per_m);
        vs_text_addf(&s->line, "; the sheet waits for it to come down");
        break;
    default:
        break;
    }
}

/* Which of the hazer's limits the bursts stand at. */
static void burst_reason(sheet *s, const vs_dwell_shot *plan) {
    const vs_scene_hazer *hazer = &s->scene->hazer;
    double burst_s = plan->hold.burst_s;
    bool shortest = burst_s <= hazer->burst_min_s * AT_LIMIT;
    if (!shortest && burst_s * AT_LIMIT < hazer->burst_max_s) {
        vs_text_addf(&s->line, "the bursts the hazer can make are too short or too long for that");
        return;
    }
    vs_text_addf(&s->line,
                 shortest ? "the hazer's shortest burst, " : "the hazer's longest burst, ");
    vs_style_time(&s->line, shortest ? hazer->burst_min_s : hazer->burst_max_s);
    vs_text_addf(&s->line, shortest ? ", gives too much at once" : ", gives too little");
}

static void hold_reason(sheet *s, const vs_dwell_shot *plan) {
    switch (plan->hold_trouble) {
    case VS_DWELL_TAKES:
        vs_text_addf(&s->line, "the hazer is silent too long between resets");
        return;
    case VS_DWELL_WEAK:
        vs_text_addf(&s->line, "the hazer is too weak for the losses");
        return;
    case VS_DWELL_BURSTS:
        burst_reason(s, plan);
        return;
    case VS_DWELL_REMOTE:
        vs_text_addf(&s->line, "the hazer stands in another room, and what it does arrives late: "
                               "move it here");
        return;
    default:
        vs_text_addf(&s->line, "haze drifts to and from other rooms faster than bursts follow");
        return;
    }
}

static void trouble_line(sheet *s, const vs_dwell_shot *plan, bool holding) {
    vs_text_addf(s->out, "  ");
    vs_text_addf(&s->line, "%s: ", s->scene->shot[plan->shot].name);
    if (holding) {
        vs_text_addf(&s->line, "cannot be held within %.0f %% (it runs from %.0f to %.0f %%): ",
                     100 * VS_DWELL_HOLD_WITHIN, 100 * plan->lowest_ratio,
                     100 * plan->highest_ratio);
        hold_reason(s, plan);
    } else {
        fill_trouble(s, plan);
    }
    end_line(s, 4);
}

/* The run sheet keeps the file's order and says so where shots ask for another. */
static void too_early(sheet *s) {
    bool headed = false;
    for (size_t i = 0; i < s->dwell->shot_count; i++) {
        const vs_scene_shot *shot = &s->scene->shot[s->dwell->shot[i].shot];
        for (size_t k = 0; k < shot->after_count; k++) {
            if (!vs_dwell_too_early(s->dwell, s->scene, i, k)) {
                continue;
            }
            if (!headed) {
                vs_style_words(s->out, s->style, VS_INK_BAD, "\nnot in this order\n");
                headed = true;
            }
            vs_text_addf(s->out, "  ");
            vs_text_addf(&s->line,
                         "%s must come after %s, and the sheet plays your file's order: move it, "
                         "or run `veilstop dwell --order chosen`",
                         shot->name, s->scene->shot[shot->after[k]].name);
            end_line(s, 4);
        }
    }
}

static void troubles(sheet *s) {
    if (vs_dwell_met(s->dwell)) {
        return;
    }
    vs_style_words(s->out, s->style, VS_INK_BAD, "\nout of reach\n");
    for (size_t i = 0; i < s->dwell->shot_count; i++) {
        const vs_dwell_shot *plan = &s->dwell->shot[i];
        if (plan->fill_trouble != VS_DWELL_FINE) {
            trouble_line(s, plan, false);
        }
        if (plan->hold_trouble != VS_DWELL_FINE) {
            trouble_line(s, plan, true);
        }
    }
    if (isnan(s->dwell->clear_s)) {
        vs_text_addf(s->out,
                     "  the rooms do not clear within seven days: too little takes the haze "
                     "out\n");
    }
}

void vs_report_no_hazer_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                             const vs_dwell *dwell) {
    sheet s = {.out = out, .style = style, .scene = scene, .dwell = dwell};
    vs_text_init(&s.line);
    losses(&s);
    vs_text_addf(&s.line, "The scene has no hazer: no day is planned. Name one under \"hazer\" for "
                          "a run sheet.");
    vs_text_addf(out, "\n");
    end_line(&s, 2);
    vs_text_free(&s.line);
}

void vs_report_dwell_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                          const vs_dwell *dwell) {
    sheet s = {.out = out, .style = style, .scene = scene, .dwell = dwell};
    vs_text_init(&s.line);
    losses(&s);
    vs_text_addf(out, "\n");
    vs_style_words(out, style, VS_INK_FAINT,
                   isnan(scene->start_s) ? "    min  run sheet\n"
                                         : "    min  clock     run sheet\n");
    for (size_t i = 0; i < dwell->event_count; i++) {
        event_lines(&s, &dwell->event[i]);
    }
    totals(&s);
    chart(&s);
    too_early(&s);
    troubles(&s);
    vs_text_free(&s.line);
}
