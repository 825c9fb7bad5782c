/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to write down after each reading, and what to do about it. */
#include "veilstop/report/reading.h"

#include <math.h>

#include "veilstop/base/units.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/density.h"

#define READINGS_MANY 30  /* more readings at one time than this are not suggested; our choice */
#define NAME_COLUMNS  16  /* [columns] of a name in a table */
#define WORTH_A_MOVE  0.9 /* [1] of the uncertainty: only for less is a card moved; our choice */
#define SCATTER_MANY  2.0 /* [1] chi square per reading: more is not due to the meter; our choice */

static double per_h(double per_s) {
    return per_s * VS_S_PER_H;
}

/* Minutes of the day, and the clock time if the scene has a start. */
static void moment(vs_text *out, const vs_scene *scene, double at_s) {
    vs_text_addf(out, "min %.1f", at_s / VS_S_PER_MIN);
    if (!isnan(scene->start_s)) {
        long clock = lround(scene->start_s + at_s) % VS_S_PER_DAY;
        vs_text_addf(out, " (%02ld:%02ld)", clock / 3600, clock / 60 % 60);
    }
}

static void advice(vs_text *out, const vs_style *style, const vs_reading *r) {
    char text[16];
    if (!isnan(r->goal_distance_m)) {
        vs_text_addf(out, "%s %s",
                     vs_style_number(vs_style_length(style, r->goal_distance_m), text),
                     vs_style_length_unit(style));
    } else if (!isnan(r->best_share)) {
        vs_text_addf(out, "none; %s %s: %.0f %%",
                     vs_style_number(vs_style_length(style, r->best_distance_m), text),
                     vs_style_length_unit(style), 100 * r->best_share);
    } else {
        vs_text_addf(out, "-");
    }
}

/* The ends of a reading's 90 % interval [1/m]; a reading of no haze is 0 +- its deviation. */
static double low_per_m(const vs_reading *r) {
    return fmax(0, -r->log_kept / r->path_m - VS_READING_NINETIES * r->sd_per_m);
}
static double high_per_m(const vs_reading *r) {
    return r->extinction_per_m + VS_READING_NINETIES * r->sd_per_m;
}

static double share_of(const vs_reading *r) {
    return r->extinction_per_m > 0 ? r->sd_per_m / r->extinction_per_m : (double)INFINITY;
}

/* "unsure by 34 %; read again: card at 9.2 m, or 5 readings at one time ...": what brings it
 * under the goal. r may have no distance to suggest. share: the uncertainty now, INFINITY for no
 * haze */
static void read_again(vs_text *out, const vs_style *style, const vs_reading *r, double share) {
    char text[16];
    if (isfinite(share)) {
        vs_text_addf(out, "unsure by %.0f %%; read again: ", 100 * share);
    } else {
        vs_text_addf(out, "within the meter's error of none; read again: ");
    }
    bool meets = !isnan(r->goal_distance_m);
    if (meets || r->best_share < WORTH_A_MOVE * share) {
        double distance_m = meets ? r->goal_distance_m : r->best_distance_m;
        vs_text_addf(out, "card at %s %s",
                     vs_style_number(vs_style_length(style, distance_m), text),
                     vs_style_length_unit(style));
        if (!meets) {
            vs_text_addf(out, " (unsure by %.0f %% then)", 100 * r->best_share);
        }
        vs_text_addf(out, ", or ");
    }
    double more = ceil(share * share / (VS_READING_GOAL * VS_READING_GOAL));
    if (more <= READINGS_MANY) {
        vs_text_addf(out, "%.0f readings at one time, each with its own look at the clear card",
                     more);
    } else {
        vs_text_addf(out, "a finer meter, or thicker haze");
    }
}

void vs_report_reading_text(vs_text *out, const vs_style *style, const vs_scene_reading *given,
                            const vs_reading *r) {
    char k[16], sd[16], low[16], high[16];
    double share = share_of(r);
    bool rough = !(share <= VS_READING_GOAL);
    vs_text_addf(out, "card at %.3g %s: %.1f %% of its contrast is left\n",
                 vs_style_length(style, given->distance_m), vs_style_length_unit(style),
                 100 * r->kept);
    if (rough) {
        vs_text line;
        vs_text_init(&line);
        vs_text_addf(out, "  ");
        read_again(&line, style, r, share);
        vs_style_wrap(out, vs_text_words(&line, out), 4);
        vs_text_free(&line);
    }
    vs_text_addf(out, "  haze %s /m, give or take %s; 9 times in 10 from %s to %s /m\n",
                 vs_style_number(r->extinction_per_m, k), vs_style_number(r->sd_per_m, sd),
                 vs_style_number(low_per_m(r), low), vs_style_number(high_per_m(r), high));
    if (share <= VS_READING_PLENTY) {
        vs_text_addf(out, "  %s, visibility ", vs_report_haze_word(r->extinction_per_m));
        vs_report_visibility(out, style, vs_visible_range_m(r->extinction_per_m));
        vs_text_addf(out, ", unsure by %.0f %%\n", 100 * share);
    }
    if (!rough) {
        vs_text_addf(out, "  to be unsure by %.0f %% the card may stand at ",
                     100 * VS_READING_GOAL);
        advice(out, style, r);
        vs_text_addf(out, "\n");
    }
}

static void reading_line(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_readings *all, size_t i) {
    const vs_scene_reading *given = &scene->reading[i];
    const vs_reading *r = &all->reading[i];
    vs_text_addf(out, "  ");
    vs_style_figure(out, 7, "%.1f", given->at_s / VS_S_PER_MIN);
    vs_style_cell(out, scene->room[given->room].name, NAME_COLUMNS, false);
    vs_style_figure(out, 6, "%.1f", vs_style_length(style, given->distance_m));
    vs_style_figure(out, 7, "%.1f %%", 100 * r->kept);
    vs_style_number_cell(out, 8, r->extinction_per_m);
    vs_style_number_cell(out, 8, r->sd_per_m);
    vs_style_number_cell(out, 8, all->planned_per_m[i]);
    vs_text_addf(out, "  ");
    advice(out, style, r);
    vs_text_addf(out, "\n");
}

static void table(vs_text *out, const vs_style *style, const vs_scene *scene,
                  const vs_readings *all) {
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  ");
    vs_style_cell(out, "min", 7, true);
    vs_style_cell(out, "room", NAME_COLUMNS, false);
    vs_style_cell(out, vs_style_length_unit(style), 6, true);
    vs_style_cell(out, "kept", 7, true);
    vs_style_cell(out, "haze /m", 8, true);
    vs_style_cell(out, "+-", 8, true);
    vs_style_cell(out, "planned", 8, true);
    vs_text_addf(out, "  card at, for %.0f %%\n", 100 * VS_READING_GOAL);
    vs_style_ink(out, style, VS_INK_PLAIN);
    for (size_t i = 0; i < all->count; i++) {
        reading_line(out, style, scene, all, i);
    }
}

static void loss_line(vs_text *out, const vs_scene_room *room, const vs_room_readings *r) {
    vs_text_addf(out, "  %s loses %.2f /h (9 times in 10 %.2f to %.2f), half gone in ", room->name,
                 per_h(r->loss_per_s), per_h(r->loss_low_per_s), per_h(r->loss_high_per_s));
    vs_style_time(out, log(2) / r->loss_per_s);
    vs_text_addf(out, "; your file has %.2f /h\n", per_h(r->planned_loss_per_s));
}

/* Several readings of a room at one time. */
static void pooled_lines(vs_text *out, const vs_scene *scene, const vs_readings *all) {
    char k[16], sd[16];
    for (size_t i = 0; i < all->pool_count; i++) {
        const vs_pooled_reading *pool = &all->pool[i];
        if (pool->count > 1) {
            vs_text_addf(out, "  %zu readings of %s at min %.1f together: %s /m, give or take %s\n",
                         pool->count, scene->room[pool->room].name, pool->at_s / VS_S_PER_MIN,
                         vs_style_number(pool->extinction_per_m, k),
                         vs_style_number(pool->sd_per_m, sd));
        }
    }
}

static void what_they_say(vs_text *out, const vs_scene *scene, const vs_readings *all) {
    static const char *const story[] = {"each for itself", "as a decay, the hazer off",
                                        "as the plan, played"};
    vs_text_addf(out, "\nRead %s:\n", story[all->as]);
    for (size_t i = 0; i < all->room_count; i++) {
        if (!isnan(all->room[i].loss_per_s)) {
            loss_line(out, &scene->room[i], &all->room[i]);
        }
    }
    if (!isnan(all->output_ratio)) {
        double ml_per_h = per_h(scene->hazer.fluid_ml_per_s);
        vs_text_addf(
            out,
            "  the hazer gives %.2f of the planned haze (9 times in 10 %.2f to %.2f): %.3g ml/h, "
            "not %.3g\n",
            all->output_ratio, all->output_low, all->output_high, all->output_ratio * ml_per_h,
            ml_per_h);
    }
    bool any_known = !isnan(all->output_ratio);
    for (size_t i = 0; i < all->room_count; i++) {
        any_known = any_known || !isnan(all->room[i].loss_per_s);
    }
    if (!any_known && all->as != VS_READ_ALONE) {
        vs_text_addf(out, "  too unsure to tell the losses or the hazer's output\n");
    }
    if (isnan(all->output_ratio) && all->as == VS_READ_ALONE) {
        vs_text_addf(out, "  a loss rate takes two readings in one room at different times\n");
    }
}

/* The last reading of a room. */
static const vs_reading *last_of(const vs_scene *scene, const vs_readings *all, size_t room) {
    size_t last = VS_NONE;
    for (size_t i = 0; i < all->count; i++) {
        if (scene->reading[i].room == room &&
            (last == VS_NONE || scene->reading[i].at_s >= scene->reading[last].at_s)) {
            last = i;
        }
    }
    return &all->reading[last];
}

static void top_up_line(vs_text *out, const vs_style *style, const vs_scene *scene,
                        const vs_readings *all) {
    const vs_top_up *t = &all->top_up;
    char target[16];
    if (t->shot == VS_NONE || t->room == VS_NONE) {
        return;
    }
    vs_text_addf(out, "\n");
    if (!(t->share <= VS_READING_GOAL)) {
        vs_text line;
        vs_text_init(&line);
        vs_text_addf(&line, "The haze in %s is ", scene->room[t->room].name);
        read_again(&line, style, last_of(scene, all, t->room), t->share);
        vs_text_addf(&line, "%s", t->share <= VS_READING_PLENTY ? "." : ". No top-up before that.");
        vs_style_wrap(out, vs_text_words(&line, out), 2);
        vs_text_free(&line);
    }
    if (!(t->share <= VS_READING_PLENTY)) {
        return;
    }
    vs_text_addf(out, "Next top-up, for %s at %s /m: ", scene->shot[t->shot].name,
                 vs_style_number(t->target_per_m, target));
    if (isnan(t->at_s)) {
        vs_text_addf(out, "not within a day\n");
        return;
    }
    moment(out, scene, t->at_s);
    if (scene->hazer.room == VS_NONE) {
        vs_text_addf(out, "; the scene has no hazer\n");
    } else if (isnan(t->run_s)) {
        vs_text_addf(out, "; the hazer stands in another room: see dwell\n");
    } else if (isinf(t->run_s)) {
        vs_text_addf(out, "; this hazer cannot bring the room there\n");
    } else {
        vs_text_addf(out, ", run ");
        vs_style_time(out, t->run_s);
        vs_text_addf(out, "\n");
    }
}

/* What a user should know beyond the figures: appends notice number i; false if there are no
 * more. */
static bool readings_notice(vs_text *out, const vs_scene *scene, const vs_readings *all, size_t i) {
    size_t count = 0;
    if (all->count > 1 && all->chi_square > SCATTER_MANY * (double)all->count && count++ == i) {
        vs_text_addf(out,
                     "The readings scatter more than their meter should: was the card where it "
                     "was, its light the same, the air mixed?");
        return true;
    }
    if (all->may_be_decay && count++ == i) {
        vs_text_addf(out, "They would fit a decay better: if the hazer was off from the first "
                          "reading on, ask again with --as decay.");
        return true;
    }
    for (size_t k = 0; k < all->room_count; k++) {
        const vs_room_readings *r = &all->room[k];
        if (r->loss_per_s < r->floor_loss_per_s && count++ == i) {
            vs_text_addf(out,
                         "%s keeps its haze longer than settling, evaporation and openings "
                         "in your file allow: the fluid hangs longer than its figures say.",
                         scene->room[k].name);
            return true;
        }
    }
    return false;
}

void vs_report_readings_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                             const vs_readings *all) {
    vs_text notice;
    vs_text_init(&notice);
    table(out, style, scene, all);
    pooled_lines(out, scene, all);
    what_they_say(out, scene, all);
    top_up_line(out, style, scene, all);
    for (size_t i = 0; readings_notice(&notice, scene, all, i); i++) {
        vs_text_addf(out, "%s- ", i == 0 ? "\n" : "");
        vs_style_wrap(out, vs_text_words(&notice, out), 2);
        vs_text_free(&notice);
    }
}

/* ---- JSON ---- */

static void reading_keys(vs_json *json, const vs_scene_reading *given, const vs_reading *r) {
    vs_json_number(json, "distance_m", given->distance_m);
    vs_json_number(json, "lit_from_m", given->lit_from_m);
    vs_json_number(json, "path_m", r->path_m);
    vs_json_number(json, "kept", r->kept);
    vs_json_number(json, "extinction_per_m", r->extinction_per_m);
    vs_json_number(json, "uncertainty_per_m", r->sd_per_m);
    vs_json_number(json, "low_per_m", low_per_m(r));
    vs_json_number(json, "high_per_m", high_per_m(r));
    vs_json_number_or_null(json, "visible_range_m",
                           r->extinction_per_m > 0 ? VS_VISIBLE_NEPERS / r->extinction_per_m
                                                   : (double)NAN);
    vs_json_number_or_null(json, "card_for_20_percent_m", r->goal_distance_m);
    vs_json_number_or_null(json, "best_card_m", r->best_distance_m);
    vs_json_finite_or_null(json, "best_uncertainty", r->best_share);
}

void vs_report_reading_json(vs_json *json, const vs_scene_reading *given,
                            const vs_reading *reading) {
    vs_json_open_object(json, NULL);
    reading_keys(json, given, reading);
    vs_json_close_object(json);
}

static void readings_array(vs_json *json, const vs_scene *scene, const vs_readings *all) {
    vs_json_open_array(json, "readings");
    for (size_t i = 0; i < all->count; i++) {
        const vs_scene_reading *given = &scene->reading[i];
        vs_json_open_object(json, NULL);
        vs_json_number(json, "min", given->at_s / VS_S_PER_MIN);
        vs_json_string(json, "room", scene->room[given->room].name);
        if (given->lit_by != VS_NONE) {
            vs_json_string(json, "lit_by", scene->light[given->lit_by].name);
        }
        reading_keys(json, given, &all->reading[i]);
        vs_json_number_or_null(json, "planned_per_m", all->planned_per_m[i]);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void pooled_array(vs_json *json, const vs_scene *scene, const vs_readings *all) {
    vs_json_open_array(json, "pooled");
    for (size_t i = 0; i < all->pool_count; i++) {
        const vs_pooled_reading *pool = &all->pool[i];
        if (pool->count > 1) {
            vs_json_open_object(json, NULL);
            vs_json_number(json, "min", pool->at_s / VS_S_PER_MIN);
            vs_json_string(json, "room", scene->room[pool->room].name);
            vs_json_integer(json, "readings", (long)pool->count);
            vs_json_number(json, "extinction_per_m", pool->extinction_per_m);
            vs_json_number(json, "uncertainty_per_m", pool->sd_per_m);
            vs_json_close_object(json);
        }
    }
    vs_json_close_array(json);
}

static void rooms_array(vs_json *json, const vs_scene *scene, const vs_readings *all) {
    vs_json_open_array(json, "rooms");
    for (size_t i = 0; i < all->room_count; i++) {
        const vs_room_readings *r = &all->room[i];
        if (r->count == 0) {
            continue;
        }
        vs_json_open_object(json, NULL);
        vs_json_string(json, "name", scene->room[i].name);
        vs_json_integer(json, "readings", (long)r->count);
        vs_json_number_or_null(json, "loss_per_h", per_h(r->loss_per_s));
        vs_json_number_or_null(json, "uncertainty_per_h", per_h(r->loss_sd_per_s));
        vs_json_number_or_null(json, "low_per_h", per_h(r->loss_low_per_s));
        vs_json_number_or_null(json, "high_per_h", per_h(r->loss_high_per_s));
        vs_json_number_or_null(json, "half_life_min",
                               r->loss_per_s > 0 ? log(2) / r->loss_per_s / VS_S_PER_MIN
                                                 : (double)NAN);
        vs_json_number(json, "planned_loss_per_h", per_h(r->planned_loss_per_s));
        vs_json_number(json, "last_min", r->last_s / VS_S_PER_MIN);
        vs_json_number(json, "last_per_m", r->last_per_m);
        vs_json_number(json, "last_uncertainty_per_m", r->last_sd_per_m);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void hazer_object(vs_json *json, const vs_scene *scene, const vs_readings *all) {
    if (isnan(all->output_ratio)) {
        vs_json_null(json, "hazer");
        return;
    }
    vs_json_open_object(json, "hazer");
    vs_json_number(json, "output_ratio", all->output_ratio);
    vs_json_number(json, "uncertainty", all->output_ratio_sd);
    vs_json_number(json, "low", all->output_low);
    vs_json_number(json, "high", all->output_high);
    vs_json_number(json, "fluid_ml_per_h", all->output_ratio * per_h(scene->hazer.fluid_ml_per_s));
    vs_json_close_object(json);
}

static void top_up_object(vs_json *json, const vs_scene *scene, const vs_readings *all) {
    const vs_top_up *t = &all->top_up;
    if (t->shot == VS_NONE || t->room == VS_NONE) {
        vs_json_null(json, "top_up");
        return;
    }
    vs_json_open_object(json, "top_up");
    vs_json_string(json, "shot", scene->shot[t->shot].name);
    vs_json_string(json, "room", scene->room[t->room].name);
    vs_json_number(json, "target_per_m", t->target_per_m);
    vs_json_number_or_null(json, "at_min", t->at_s / VS_S_PER_MIN);
    vs_json_finite_or_null(json, "run_s", t->run_s);
    vs_json_bool(json, "within_reach", !isinf(t->run_s));
    vs_json_finite_or_null(json, "uncertainty", t->share);
    vs_json_close_object(json);
}

void vs_report_readings_json(vs_json *json, const vs_scene *scene, const vs_readings *all) {
    static const char *const story[] = {"alone", "decay", "plan"};
    vs_text notice;
    vs_text_init(&notice);
    readings_array(json, scene, all);
    pooled_array(json, scene, all);
    vs_json_string(json, "read_as", story[all->as]);
    rooms_array(json, scene, all);
    hazer_object(json, scene, all);
    top_up_object(json, scene, all);
    vs_json_open_array(json, "notices");
    for (size_t i = 0; readings_notice(&notice, scene, all, i); i++) {
        vs_json_string(json, NULL, vs_text_words(&notice, json->out));
        vs_text_free(&notice);
    }
    vs_json_close_array(json);
}
