/* The run sheet, in a crew's words. */
#include "veilstop/report/dwell.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/units.h"

#define CHART_COLUMNS 64 /* columns of a sparkline at most */
#define NAME_COLUMNS  18 /* a name longer than this is cut in a table */
#define LEVELS        8  /* block elements, U+2581 to U+2588 */
#define MG_PER_G      1e3

static double minutes(double seconds) {
    return seconds / VS_S_PER_MIN;
}

/* A name cut or padded to a width in columns. */
static void add_name(vs_text *out, const char *name, size_t width) {
    size_t columns = 0;
    const char *c = name;
    for (; *c && columns < width; columns++) {
        do {
            c++;
        } while (((unsigned char)*c & 0xc0) == 0x80);
    }
    vs_text_add(out, name, (size_t)(c - name));
    vs_text_addf(out, "%*s", (int)(width - columns), "");
}

/* "45 s", "3 min", "3 min 20 s", "1 h 5 min": to the second under 10 min. */
static void add_time(vs_text *out, double seconds) {
    long s = lround(seconds);
    if (s < 60) {
        vs_text_addf(out, "%ld s", s);
    } else if (s < 600) {
        vs_text_addf(out, s % 60 ? "%ld min %ld s" : "%ld min", s / 60, s % 60);
    } else if (s < 3600) {
        vs_text_addf(out, "%ld min", lround(seconds / 60));
    } else {
        long m = lround(seconds / 60);
        vs_text_addf(out, m % 60 ? "%ld h %ld min" : "%ld h", m / 60, m % 60);
    }
}

/* "  12.5  07:42  ", the second column only where the scene has a start. */
static void add_moment(vs_text *out, const vs_scene *scene, double at_s) {
    vs_text_addf(out, "%7.1f  ", minutes(at_s));
    if (!isnan(scene->start_s)) {
        long s = lround(scene->start_s + at_s) % 86400;
        vs_text_addf(out, "%02ld:%02ld:%02ld  ", s / 3600, s / 60 % 60, s % 60);
    }
}

static void add_density(vs_text *out, const vs_dwell *dwell, double extinction_per_m) {
    vs_text_addf(out, "%.3g /m (%.3g mg/m3)", extinction_per_m,
                 extinction_per_m / dwell->extinction_m2_per_g * MG_PER_G);
}

static void add_losses(vs_text *out, const vs_scene *scene, const vs_dwell *dwell) {
    vs_text_addf(out, "%-*s %8s %8s %8s %8s %8s   %s\n", NAME_COLUMNS, "Losses per hour", "air",
                 "walls", "settling", "drying", "all", "half gone in");
    for (size_t i = 0; i < dwell->room_count; i++) {
        const vs_dwell_room *room = &dwell->room[i];
        add_name(out, scene->room[i].name, NAME_COLUMNS);
        vs_text_addf(out, " %8.2f %8.2f %8.3f %8.2f %8.2f   ", room->loss.air * VS_S_PER_H,
                     room->loss.deposition * VS_S_PER_H, room->loss.settling * VS_S_PER_H,
                     room->loss.evaporation * VS_S_PER_H, room->loss.total * VS_S_PER_H);
        if (isfinite(room->half_life_s)) {
            add_time(out, room->half_life_s);
        } else {
            vs_text_addf(out, "never");
        }
        vs_text_addf(out, "\n");
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

static void add_run(vs_text *out, const vs_scene *scene, const vs_dwell *dwell,
                    const vs_dwell_event *event, const vs_dwell_shot *plan) {
    vs_text_addf(out, "for %s: hazer on full for ", scene->shot[event->shot].name);
    add_time(out, event->length_s);
    vs_text_addf(out, ", up to ");
    add_density(out, dwell, plan->held_extinction_per_m);
    vs_text_addf(out, "\n");
    add_moment(out, scene, event->at_s + event->length_s);
    vs_text_addf(out, "  hazer off; the air reads %.0f %% of it by now\n",
                 100 * plan->stop_ratio * plan->target_extinction_per_m /
                     plan->held_extinction_per_m);
}

static void add_wait(vs_text *out, const vs_dwell_event *event, const vs_dwell_shot *plan) {
    vs_text_addf(out, "  wait ");
    add_time(out, event->length_s);
    vs_text_addf(out, plan && plan->run_s > 0 ? " while it mixes in\n" : " while it thins out\n");
}

static void add_stretch(vs_text *out, const vs_scene *scene, const vs_dwell_shot *plan,
                        const vs_dwell_stretch *stretch) {
    if (!(stretch->burst_s > 0)) {
        return;
    }
    add_moment(out, scene, plan->start_s + stretch->from_s + stretch->first_s);
    vs_text_addf(out, "  hold: hazer on for ");
    add_time(out, stretch->burst_s);
    if (stretch->count > 1) {
        vs_text_addf(out, ", every ");
        add_time(out, stretch->every_s);
        vs_text_addf(out, ", %zu times", stretch->count);
    }
    vs_text_addf(out, isnan(scene->shot[plan->shot].roll_s) ? "\n" : "; only between takes\n");
}

static void add_start(vs_text *out, const vs_scene *scene, const vs_dwell *dwell,
                      const vs_dwell_event *event, const vs_dwell_shot *plan) {
    vs_text_addf(out, "ROLL %s, ", scene->shot[event->shot].name);
    add_time(out, event->length_s);
    vs_text_addf(out, ", at ");
    add_density(out, dwell, plan->target_extinction_per_m);
    vs_text_addf(out, "\n");
    bool bursts = false;
    for (size_t i = 0; i < plan->stretch_count; i++) {
        add_stretch(out, scene, plan, &plan->stretch[i]);
        bursts = bursts || plan->stretch[i].burst_s > 0;
    }
    if (!bursts && plan->target_extinction_per_m > 0 && event->length_s > 0) {
        add_moment(out, scene, event->at_s);
        vs_text_addf(out, "  leave the hazer off\n");
    }
}

static void add_end(vs_text *out, const vs_scene *scene, const vs_dwell_event *event,
                    const vs_dwell_shot *plan) {
    vs_text_addf(out, "cut %s", scene->shot[event->shot].name);
    if (plan->target_extinction_per_m > 0 && isfinite(plan->lowest_ratio)) {
        vs_text_addf(out, "; it was between %.0f and %.0f %% of the density asked for",
                     100 * plan->lowest_ratio, 100 * plan->highest_ratio);
    }
    vs_text_addf(out, "\n");
}

static void add_event(vs_text *out, const vs_scene *scene, const vs_dwell *dwell,
                      const vs_dwell_event *event) {
    const vs_dwell_shot *plan = event->shot == VS_NONE ? NULL : plan_of(dwell, event->shot);
    if (event->act == VS_DWELL_BURST) {
        return; /* told at the shot's start */
    }
    add_moment(out, scene, event->at_s);
    switch (event->act) {
    case VS_DWELL_WARM_UP:
        vs_text_addf(out, "switch the hazer on and leave it on; it warms up for ");
        add_time(out, event->length_s);
        vs_text_addf(out, "\n");
        break;
    case VS_DWELL_RUN:
        add_run(out, scene, dwell, event, plan);
        break;
    case VS_DWELL_PURGE:
        vs_text_addf(out, "%sopen doors, fans on, for ", plan ? "  " : "hazer off for good; ");
        add_time(out, event->length_s);
        vs_text_addf(out, plan ? ", then close them again\n" : "\n");
        break;
    case VS_DWELL_WAIT:
        if (plan) {
            add_wait(out, event, plan);
        } else {
            vs_text_addf(out, "hazer off for good; leave the rooms for ");
            add_time(out, event->length_s);
            vs_text_addf(out, "\n");
        }
        break;
    case VS_DWELL_START:
        add_start(out, scene, dwell, event, plan);
        break;
    case VS_DWELL_END:
        add_end(out, scene, event, plan);
        break;
    case VS_DWELL_CLEAR:
        vs_text_addf(out, "clear: %.0f %% of contrast lost over %.1f m, in every room\n",
                     100 * VS_DWELL_CLEAR_LOSS, dwell->longest_sight_m);
        break;
    case VS_DWELL_BURST:
        break;
    }
}

/* The mean density of a room between two moments, from the samples, which the curve joins. */
static double mean_between(const vs_dwell *dwell, size_t room, double from_s, double to_s) {
    double sum = 0, covered_s = 0;
    for (size_t i = 1; i < dwell->sample_count; i++) {
        double a_s = fmax(dwell->sample_s[i - 1], from_s), b_s = fmin(dwell->sample_s[i], to_s);
        if (b_s > a_s) {
            double a = dwell->sample_g_per_m3[(i - 1) * dwell->room_count + room];
            double b = dwell->sample_g_per_m3[i * dwell->room_count + room];
            sum += 0.5 * (a + b) * (b_s - a_s);
            covered_s += b_s - a_s;
        }
    }
    return covered_s > 0 ? sum / covered_s : 0;
}

static void add_spark(vs_text *out, double share) {
    int level = (int)(share * LEVELS + 0.5);
    if (level < 1) {
        vs_text_addf(out, share > 0.01 ? "." : " ");
    } else {
        const char block[4] = {(char)0xe2, (char)0x96,
                               (char)(0x80 + (level < LEVELS ? level : LEVELS)), '\0'};
        vs_text_addf(out, "%s", block);
    }
}

/* The number (1 to 9, then +) of the shot that is on at a moment, or a dot. */
static char shot_at(const vs_dwell *dwell, double at_s) {
    for (size_t i = 0; i < dwell->shot_count; i++) {
        if (at_s >= dwell->shot[i].start_s && at_s < dwell->shot[i].end_s) {
            return i < 9 ? (char)('1' + i) : '+';
        }
    }
    return '.';
}

static void add_chart(vs_text *out, const vs_scene *scene, const vs_dwell *dwell) {
    double length_s = dwell->sample_count ? dwell->sample_s[dwell->sample_count - 1] : 0;
    if (!(length_s > 0)) {
        return;
    }
    double each_s = ceil(length_s / CHART_COLUMNS / VS_S_PER_MIN) * VS_S_PER_MIN;
    int columns = (int)ceil(length_s / each_s);
    double top = 0;
    for (size_t i = 0; i < dwell->room_count; i++) {
        top = fmax(top, dwell->room[i].peak_g_per_m3);
    }
    vs_text_addf(out, "\nDensity over the day (a full block is %.3g /m, a column %.0f min)\n",
                 top * dwell->extinction_m2_per_g, minutes(each_s));
    for (size_t room = 0; room < dwell->room_count && top > 0; room++) {
        add_name(out, scene->room[room].name, NAME_COLUMNS);
        vs_text_addf(out, " ");
        for (int c = 0; c < columns; c++) {
            add_spark(out, mean_between(dwell, room, c * each_s, (c + 1) * each_s) / top);
        }
        vs_text_addf(out, "\n");
    }
    add_name(out, "shot on", NAME_COLUMNS);
    vs_text_addf(out, " ");
    for (int c = 0; c < columns; c++) {
        vs_text_addf(out, "%c", shot_at(dwell, (c + 0.5) * each_s));
    }
    vs_text_addf(out, "\n");
}

static void add_fill_trouble(vs_text *out, const vs_scene *scene, const vs_dwell *dwell,
                             const vs_dwell_shot *plan) {
    const char *room = scene->room[plan->room].name;
    switch (plan->fill_trouble) {
    case VS_DWELL_WEAK:
        vs_text_addf(out,
                     "the hazer is too weak for what %s loses: always on, it gets to\n"
                     "    ",
                     room);
        add_density(out, dwell, plan->within_reach_per_m);
        vs_text_addf(out, " and no further; the sheet holds %.3g /m", plan->held_extinction_per_m);
        break;
    case VS_DWELL_SLOW_FILL:
        vs_text_addf(out,
                     "filling %s takes over two hours; the sheet stops there, at\n"
                     "    ",
                     room);
        add_density(out, dwell, plan->held_extinction_per_m);
        break;
    case VS_DWELL_SLOW_MIXING:
        vs_text_addf(out, "the haze takes over two hours to spread into %s: mixing is slow", room);
        break;
    case VS_DWELL_SLOW_FALL:
        vs_text_addf(out,
                     "%s does not thin out to this within two hours: play it before the\n"
                     "    thicker ones, or open up more",
                     room);
        break;
    case VS_DWELL_OVERSHOOT:
        vs_text_addf(out, "even the hazer's shortest burst leads to ");
        add_density(out, dwell, plan->within_reach_per_m);
        vs_text_addf(out, ":\n    the sheet waits for it to come down");
        break;
    default:
        break;
    }
}

static void add_hold_trouble(vs_text *out, const vs_dwell_shot *plan) {
    const char *why =
        plan->hold_trouble == VS_DWELL_TAKES    ? "the hazer is silent too long between resets"
        : plan->hold_trouble == VS_DWELL_WEAK   ? "the hazer is too weak for the losses"
        : plan->hold_trouble == VS_DWELL_BURSTS ? "the bursts it can make are too short or too long"
                                                : "haze drifts to and from other rooms faster";
    vs_text_addf(out, "it cannot be held within %.0f %% (%.1f to %.1f %%):\n    %s",
                 100 * VS_DWELL_HOLD_WITHIN, 100 * plan->lowest_ratio, 100 * plan->highest_ratio,
                 why);
}

static void add_troubles(vs_text *out, const vs_scene *scene, const vs_dwell *dwell) {
    if (vs_dwell_met(dwell)) {
        return;
    }
    vs_text_addf(out, "\nOut of reach\n");
    for (size_t i = 0; i < dwell->shot_count; i++) {
        const vs_dwell_shot *plan = &dwell->shot[i];
        if (plan->fill_trouble != VS_DWELL_FINE) {
            vs_text_addf(out, "  %s: ", scene->shot[plan->shot].name);
            add_fill_trouble(out, scene, dwell, plan);
            vs_text_addf(out, "\n");
        }
        if (plan->hold_trouble != VS_DWELL_FINE) {
            vs_text_addf(out, "  %s: ", scene->shot[plan->shot].name);
            add_hold_trouble(out, plan);
            vs_text_addf(out, "\n");
        }
    }
    if (isnan(dwell->clear_s)) {
        vs_text_addf(out,
                     "  the rooms do not clear within seven days: nothing takes the haze out\n");
    }
}

static void add_totals(vs_text *out, const vs_dwell *dwell) {
    vs_text_addf(out, "\nFluid: %.1f ml.\n", dwell->fluid_ml);
    if (!isnan(dwell->clear_s)) {
        vs_text_addf(out, "Clear (%.2g /m): ", dwell->clear_extinction_per_m);
        add_time(out, dwell->clear_s);
        vs_text_addf(out, " after the last cut%s",
                     dwell->purged ? " with doors open and fans on" : "");
        if (dwell->purged) {
            vs_text_addf(out, isnan(dwell->clear_closed_s) ? ", never with them shut" : ", ");
            if (!isnan(dwell->clear_closed_s)) {
                add_time(out, dwell->clear_closed_s);
                vs_text_addf(out, " with them shut");
            }
        }
        vs_text_addf(out, ".");
    }
    vs_text_addf(out, "\n");
}

void vs_report_dwell_text(vs_text *out, const vs_scene *scene, const vs_dwell *dwell) {
    vs_text_addf(out, "Haze over the day: %s\n\n", scene->title ? scene->title : "");
    add_losses(out, scene, dwell);
    vs_text_addf(out, "\n%7s  %s%s\n", "min", isnan(scene->start_s) ? "" : "clock     ",
                 "what to do");
    for (size_t i = 0; i < dwell->event_count; i++) {
        add_event(out, scene, dwell, &dwell->event[i]);
    }
    add_totals(out, dwell);
    add_chart(out, scene, dwell);
    add_troubles(out, scene, dwell);
}
