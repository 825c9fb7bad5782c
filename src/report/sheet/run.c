/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The run sheet: a moment, a box to tick, what is done. Cuts stand where a shot rolls. */
#include "report/sheet/sheet.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/report/words.h"

#define TIMES_MOST 8 /* bursts whose clock times are listed; for more, their interval */

/* Begins a line: its time, from "min" of that event, and its box. */
static void begin(vs_sheet *s, const char *class, double at_s, size_t event, const char *words) {
    vs_text_addf(s->out, "<li class=\"%s\">", class);
    vs_sheet_tick(s->out, words);
    vs_text_addf(s->out, "<span class=\"time\">");
    vs_sheet_moment(s, at_s, "dwell/events/%zu/min", event);
    vs_text_addf(s->out, "</span><span class=\"do\">");
}

static void end(vs_sheet *s) {
    vs_text_addf(s->out, "</span></li>\n");
}

static void duration(vs_sheet *s, size_t event) {
    double seconds = s->dwell->event[event].length_s;
    vs_sheet_time(s->out, seconds, seconds, "dwell/events/%zu/seconds", event);
}

static void name(vs_sheet *s, size_t shot) {
    vs_sheet_text(s->out, s->scene->shot[shot].name);
}

/* Where lines are few, hazer off and the wait right after a run share its line. */
static bool joins_run_line(const vs_sheet *s, size_t event, size_t place) {
    const vs_dwell_event *e = &s->dwell->event[event];
    return s->tight && e->act == VS_DWELL_WAIT && s->dwell->shot[place].run_s > 0 && event > 0 &&
           e[-1].act == VS_DWELL_RUN;
}

static void run_line(vs_sheet *s, size_t event, size_t place) {
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    begin(s, "", s->dwell->event[event].at_s, event, "hazer on");
    vs_text_addf(s->out, "<strong>Hazer ON</strong>, full, ");
    duration(s, event);
    if (event + 1 < s->dwell->event_count && joins_run_line(s, event + 1, place)) {
        vs_text_addf(s->out, "; <strong>OFF</strong> ");
        vs_sheet_moment(s, s->dwell->event[event + 1].at_s, "dwell/events/%zu/min", event + 1);
        vs_text_addf(s->out, ", wait ");
        duration(s, event + 1);
    } else {
        vs_text_addf(s->out, ", for ");
        name(s, plan->shot);
    }
    end(s);
}

static void wait_line(vs_sheet *s, size_t event, size_t place) {
    const vs_dwell_event *e = &s->dwell->event[event];
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    bool purges = e->act == VS_DWELL_PURGE;
    if (joins_run_line(s, event, place)) {
        return;
    }
    begin(s, "", e->at_s, event, purges ? "open up" : "wait");
    if (purges) {
        vs_text_addf(s->out, "<strong>Doors open, fans on</strong>, ");
        duration(s, event);
        vs_text_addf(s->out, ", then close them again");
    } else if (plan->run_s > 0) {
        vs_text_addf(s->out, "<strong>Hazer OFF</strong>, wait ");
        duration(s, event);
        vs_text_addf(s->out, ": it mixes in");
    } else {
        vs_text_addf(s->out, "<strong>Wait</strong> ");
        duration(s, event);
        vs_text_addf(s->out, ": it thins out");
    }
    end(s);
}

/* ---- how a shot is held ---- */

/* The event of a shot's burst number `burst`; VS_NONE: none. */
static size_t burst_event(const vs_dwell *dwell, size_t shot, size_t burst) {
    for (size_t i = 0; i < dwell->event_count; i++) {
        const vs_dwell_event *e = &dwell->event[i];
        if (e->act == VS_DWELL_BURST && e->shot == shot && burst-- == 0) {
            return i;
        }
    }
    return VS_NONE;
}

static void burst_times(vs_sheet *s, size_t shot, size_t first, size_t count) {
    vs_text_addf(s->out, ": ");
    for (size_t i = 0; i < count; i++) {
        size_t event = burst_event(s->dwell, shot, first + i);
        if (event != VS_NONE) {
            vs_text_addf(s->out, "%s", i > 0 ? ", " : "");
            vs_sheet_moment(s, s->dwell->event[event].at_s, "dwell/events/%zu/min", event);
        }
    }
}

static void resets(vs_text *out, double each) {
    long n = lround(each);
    if (n == 1) {
        vs_text_addf(out, "in every reset ");
    } else {
        vs_text_addf(out, "in every %ld%s reset ", n, n == 2 ? "nd" : n == 3 ? "rd" : "th");
    }
}

/* Where a shot has one series of bursts the answer gives it under hold, else among its
 * stretches. */
static void burst_length(vs_sheet *s, size_t place, size_t series) {
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    double burst_s = plan->bursts[series].burst_s;
    if (plan->bursts_count > 1) {
        vs_sheet_time(s->out, burst_s, burst_s, "dwell/shots/%zu/stretches/%zu/burst_s", place,
                      series);
    } else {
        vs_sheet_time(s->out, burst_s, burst_s, "dwell/shots/%zu/hold/burst_s", place);
    }
}

/* One series of bursts, a line of its own or in the shot's. first: which burst of the shot it
 * begins with. */
static void series_line(vs_sheet *s, size_t place, size_t series, size_t first) {
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    const vs_dwell_bursts *b = &plan->bursts[series];
    const vs_scene_shot *shot = &s->scene->shot[plan->shot];
    bool takes = !isnan(shot->roll_s), once = b->count <= b->group;
    size_t event = burst_event(s->dwell, plan->shot, first);
    if (event == VS_NONE) {
        return;
    }
    if (s->tight) {
        vs_text_addf(s->out, "; hold from ");
        vs_sheet_moment(s, s->dwell->event[event].at_s, "dwell/events/%zu/min", event);
        vs_text_addf(s->out, ": ");
    } else {
        begin(s, "part", s->dwell->event[event].at_s, event, "hold");
        vs_text_addf(s->out, "hold: ");
    }
    if (takes && once) {
        vs_text_addf(s->out, "in this reset ");
    } else if (takes) {
        resets(s->out, b->every_s / (shot->roll_s + shot->reset_s));
    }
    vs_text_addf(s->out, "hazer on ");
    burst_length(s, place, series);
    if (b->group > 1) {
        vs_text_addf(s->out, ", %zu times, ", b->group);
        vs_style_time(s->out, b->spacing_s);
        vs_text_addf(s->out, " apart");
    }
    if (!takes && b->count > TIMES_MOST) {
        vs_text_addf(s->out, ", every ");
        vs_style_time(s->out, b->every_s);
        vs_text_addf(s->out, ", %zu times", b->count);
    } else if (!takes && b->count > 1) {
        burst_times(s, plan->shot, first, b->count);
    }
    vs_text_addf(s->out, takes && !s->tight ? ", never while rolling" : "");
    if (!s->tight) {
        end(s);
    }
}

static void hold_lines(vs_sheet *s, size_t place) {
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    size_t first = 0;
    for (size_t i = 0; i < plan->bursts_count; i++) {
        if (plan->bursts[i].burst_s > 0) {
            series_line(s, place, i, first);
            first += plan->bursts[i].count;
        }
    }
}

static void share(vs_sheet *s, double ratio, const char *key, size_t place) {
    char shown[16];
    snprintf(shown, sizeof shown, "%.0f", 100 * ratio);
    vs_sheet_figure(s->out, ratio, "percent", shown, "dwell/shots/%zu/%s", place, key);
}

/* Where the plan cannot keep a shot's haze. */
static void not_held(vs_sheet *s, size_t place) {
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    bool fine = plan->fill_trouble == VS_DWELL_FINE && plan->hold_trouble == VS_DWELL_FINE;
    if (fine || !isfinite(plan->lowest_ratio) || !isfinite(plan->highest_ratio)) {
        return;
    }
    vs_text_addf(s->out, "; <b>NOT held: ");
    share(s, plan->lowest_ratio, "lowest_ratio", place);
    vs_text_addf(s->out, " to ");
    share(s, plan->highest_ratio, "highest_ratio", place);
    vs_text_addf(s->out, "&nbsp;%% of what is asked for</b>");
}

static void roll_lines(vs_sheet *s, size_t event, size_t place) {
    const vs_dwell_event *e = &s->dwell->event[event];
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    begin(s, "roll", e->at_s, event, "roll");
    vs_text_addf(s->out, "<strong>ROLL ");
    name(s, plan->shot);
    vs_text_addf(s->out, "</strong> until ");
    vs_sheet_moment(s, plan->end_s, "dwell/shots/%zu/end_min", place);
    if (plan->target_extinction_per_m > 0 && !s->tight) {
        vs_text_addf(s->out, ", %s haze, visibility ",
                     vs_report_haze_word(plan->target_extinction_per_m));
        vs_sheet_length(s, -1, s->answer->shot[plan->shot].prediction->density.visible_range_m,
                        "predict/shots/%zu/density/visible_range_m", plan->shot);
    } else if (!s->tight) {
        vs_text_addf(s->out, ", in clear air");
    }
    if (plan->bursts_count == 0 && plan->target_extinction_per_m > 0 && e->length_s > 0) {
        vs_text_addf(s->out, "; leave the hazer off");
    }
    not_held(s, place);
    if (s->tight) {
        hold_lines(s, place);
    }
    end(s);
    if (!s->tight) {
        hold_lines(s, place);
    }
}

/* ---- before the first shot, after the last ---- */

static void day_line(vs_sheet *s, size_t event) {
    const vs_dwell_event *e = &s->dwell->event[event];
    bool several = s->scene->hazer.machine_count > 1;
    if (e->act == VS_DWELL_WARM_UP) {
        begin(s, "", e->at_s, event, "hazer switched on");
        vs_text_addf(s->out, "Switch %s on and leave %s on; it warms up ",
                     several ? "all hazers" : "the hazer", several ? "them" : "it");
        duration(s, event);
    } else if (e->act == VS_DWELL_CLEAR) {
        begin(s, "roll", e->at_s, event, "clear");
        vs_text_addf(s->out, "<strong>Clear</strong>: nobody sees haze over ");
        vs_sheet_length(s, 1, s->dwell->longest_sight_m, "dwell/clear/longest_sight_m");
    } else {
        begin(s, "", e->at_s, event, "hazer off for good");
        vs_text_addf(s->out, "<strong>Hazer OFF for good</strong>; %s ",
                     e->act == VS_DWELL_PURGE ? "doors open, fans on, " : "wait ");
        duration(s, event);
    }
    end(s);
}

static void event_lines(vs_sheet *s, size_t event) {
    const vs_dwell_event *e = &s->dwell->event[event];
    size_t place = 0;
    if (e->shot == VS_NONE) {
        day_line(s, event);
        return;
    }
    while (place < s->dwell->shot_count && s->dwell->shot[place].shot != e->shot) {
        place++;
    }
    if (e->act == VS_DWELL_RUN) {
        run_line(s, event, place);
    } else if (e->act == VS_DWELL_PURGE || e->act == VS_DWELL_WAIT) {
        wait_line(s, event, place);
    } else if (e->act == VS_DWELL_START) {
        roll_lines(s, event, place);
    }
}

void vs_sheet_run(vs_sheet *s) {
    vs_text_addf(s->out, "<h2>Run sheet</h2>\n");
    if (!s->dwell) {
        vs_text_addf(s->out,
                     "<p class=\"note\">The scene has no hazer: no times are planned.</p>\n");
        return;
    }
    vs_text_addf(s->out, "<ol class=\"run columns\">\n");
    for (size_t i = 0; i < s->dwell->event_count; i++) {
        event_lines(s, i);
    }
    vs_text_addf(s->out, "</ol>\n<p class=\"note\">Fluid for the day: ");
    vs_sheet_number(s->out, s->dwell->fluid_ml, "dwell/fluid_ml");
    vs_text_addf(s->out,
                 "&nbsp;ml. %sLate, or a shot takes longer? Go on with the hold; all times "
                 "after it move.</p>\n",
                 s->tight ? "Between takes: never while rolling. " : "");
}
