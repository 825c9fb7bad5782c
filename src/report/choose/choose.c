/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The choice on one screen: a line per shot, then what stands in the way and how to mend it. */
#include "veilstop/report/choose.h"
#include "report/choose/spread.h"
#include "report/choose/turn.h"
#include "report/choose/unreached.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/report/predict.h"
#include "veilstop/report/rooms.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/held.h"

#define NAME_COLUMNS       20 /* [columns] of a shot's name */
#define DENSITY_COLUMNS    8  /* [columns] of a density */
#define FILE_COLUMNS       12 /* [columns] of the file's own */
#define VISIBILITY_COLUMNS 10 /* [columns] of a visibility */
#define ENDS_COLUMNS                                                                               \
    (VS_REPORT_COLUMNS - NAME_COLUMNS - 3 * (DENSITY_COLUMNS + 1) - FILE_COLUMNS -                 \
     VISIBILITY_COLUMNS - 6)

static void heading(vs_text *out, const vs_style *style) {
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  ");
    vs_style_cell(out, "shot, haze in /m", NAME_COLUMNS, false);
    vs_style_cell(out, "best", DENSITY_COLUMNS, true);
    vs_style_cell(out, "visibility", VISIBILITY_COLUMNS, true);
    vs_style_cell(out, "thinnest", DENSITY_COLUMNS, true);
    vs_style_cell(out, "thickest", DENSITY_COLUMNS, true);
    vs_style_cell(out, "in your file", FILE_COLUMNS, true);
    vs_text_addf(out, " set by");
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
}

static void density_cell(vs_text *out, size_t columns, double extinction_per_m, const char *none) {
    char number[16];
    if (isnan(extinction_per_m)) {
        vs_style_cell(out, none, columns, true);
    } else if (extinction_per_m > 0 && extinction_per_m < VS_HELD_LEAST_PER_M) {
        vs_style_figure(out, columns, "<%g", VS_HELD_LEAST_PER_M);
    } else {
        vs_style_figure(out, columns, "%s",
                        vs_style_number_within(extinction_per_m, columns, number));
    }
}

static void visibility_cell(vs_text *out, const vs_style *style, double extinction_per_m) {
    vs_text range;
    vs_text_init(&range);
    vs_report_visibility(&range, style, vs_visible_range_m(extinction_per_m));
    vs_style_cell(out, vs_text_words(&range, out), VISIBILITY_COLUMNS, true);
    vs_text_free(&range);
}

/* The wants that set the lowest and the highest density, "beam of key / black at face"; with
 * `brief` only "beam / black". */
static void binding(vs_text *out, const vs_scene *scene, const vs_choice *choice, bool brief) {
    const vs_scene_shot *shot = &scene->shot[choice->shot];
    size_t start = out->length;
    for (int end = 0; end < 2; end++) {
        bool any = false;
        for (size_t i = 0; i < choice->want_count && !any; i++) {
            const vs_choice_want *want = &choice->want[i];
            any = end == 0 ? want->binds_lowest : want->binds_highest;
            if (!any) {
                continue;
            }
            vs_text_addf(out, "%s", out->length > start ? " / " : end == 1 ? "- / " : "");
            if (brief) {
                vs_text_addf(out, "%s", vs_report_want_name(shot->want[i].kind));
            } else {
                vs_report_want_subject(out, scene, shot, &shot->want[i]);
            }
        }
    }
}

/* What sets the ends of a shot's densities, shortened to the columns available. */
static void ends_cell(vs_text *out, const vs_scene *scene, const vs_choice *c) {
    vs_text ends;
    vs_text_init(&ends);
    if (c->want_count == 0) {
        vs_text_addf(&ends, "nothing is wanted");
    } else if (!c->met) {
        vs_text_addf(&ends, c->agree && !c->too_thin ? "NOT every want, see below"
                                                     : "NONE meets all, see below");
    } else if (c->none_needed) {
        vs_text_addf(&ends, "no haze needed, see below");
    } else if (c->meets.count > 1) {
        vs_text_addf(&ends, "%zu stretches, see below", c->meets.count);
    } else {
        binding(&ends, scene, c, false);
        if (vs_text_columns(vs_text_words(&ends, out)) > ENDS_COLUMNS) {
            vs_text_free(&ends);
            vs_text_init(&ends);
            binding(&ends, scene, c, true);
        }
    }
    vs_style_cell(out, vs_text_words(&ends, out), ENDS_COLUMNS, false);
    vs_text_free(&ends);
}

/* The search ends where the longest way is opaque: what is met there is met in thicker haze too, as
 * far as anybody could see. */
static void thickest_cell(vs_text *out, const vs_choice *c) {
    char number[16];
    if (c->want_count > 0 && c->highest_per_m >= c->search_end_per_m) {
        vs_style_figure(out, DENSITY_COLUMNS, ">%s",
                        vs_style_number_within(c->highest_per_m, DENSITY_COLUMNS - 1, number));
    } else {
        density_cell(out, DENSITY_COLUMNS, c->highest_per_m, "-");
    }
}

static void shot_line(vs_text *out, const vs_style *style, const vs_scene *scene,
                      const vs_choice *c) {
    vs_text_addf(out, "  ");
    vs_style_cell(out, scene->shot[c->shot].name, NAME_COLUMNS, false);
    vs_style_ink(out, style, c->met ? VS_INK_GOOD : VS_INK_BAD);
    density_cell(out, DENSITY_COLUMNS, c->recommended_per_m, "-");
    vs_style_ink(out, style, VS_INK_PLAIN);
    visibility_cell(out, style, c->recommended_per_m);
    density_cell(out, DENSITY_COLUMNS, c->lowest_per_m, "-");
    thickest_cell(out, c);
    vs_style_ink(out, style, c->planned_met ? VS_INK_PLAIN : VS_INK_BAD);
    density_cell(out, FILE_COLUMNS, c->given_per_m, "open");
    vs_style_ink(out, style, VS_INK_PLAIN);
    vs_text_addf(out, " ");
    ends_cell(out, scene, c);
    vs_style_end_line(out);
}

/* A paragraph indented by two blanks, then by four. */
static void paragraph(vs_text *out, vs_text *words) {
    const char *text = vs_text_words(words, out);
    if (*text) {
        vs_text_addf(out, "  ");
        vs_style_wrap(out, text, 4);
    }
    vs_text_free(words);
    vs_text_init(words);
}

/* "; needs 0.004 to 0.0312 /m". Less than the least possible haze counts as none. */
static void allowed(vs_text *out, const vs_choice_want *want) {
    bool least = want->at_least_per_m >= VS_HELD_LEAST_PER_M, most = !isnan(want->at_most_per_m);
    if (!want->possible) {
        vs_text_addf(out, "; no haze does");
    } else if (want->at_most_per_m < VS_HELD_LEAST_PER_M) {
        vs_text_addf(out, "; needs haze too thin to see");
    } else if (most && !least) {
        vs_text_addf(out, "; needs at most ");
        vs_report_density(out, want->at_most_per_m);
    } else if (least && !most) {
        vs_text_addf(out, "; needs at least ");
        vs_report_density(out, want->at_least_per_m);
    } else if (least) {
        vs_text_addf(out, "; needs ");
        vs_report_densities(out, want->at_least_per_m, want->at_most_per_m);
    } else if (!isnan(want->at_least_per_m)) {
        vs_text_addf(out, "; any haze does");
    }
}

static void want_words(vs_text *out, const vs_style *style, const vs_scene *scene,
                       const vs_choice *c, size_t i, double value) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_report_want(out, style, scene, shot, &shot->want[i]);
    if (!c->want[i].possible && c->want[i].why == VS_UNREACHED_HIDDEN) {
        vs_text_addf(out, "; ");
        vs_report_unreached(out, style, scene, c, i);
        return;
    }
    allowed(out, &c->want[i]);
    vs_text_addf(out, "; it is ");
    vs_report_want_value(out, style, &shot->want[i], value);
}

static void conflict_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                           const vs_choice *c) {
    vs_text words;
    vs_text_init(&words);
    vs_style_ink(out, style, VS_INK_BAD);
    vs_text_addf(&words, "%s: no haze gives all of these. Closest is ", scene->shot[c->shot].name);
    vs_report_density(&words, c->recommended_per_m);
    vs_text_addf(&words, ":");
    paragraph(out, &words);
    vs_style_ink(out, style, VS_INK_PLAIN);
    for (size_t i = 0; i < c->want_count; i++) {
        if (c->want[i].in_conflict || !c->want[i].recommended.met) {
            vs_text_addf(&words, "- ");
            want_words(&words, style, scene, c, i, c->want[i].recommended.value);
            paragraph(out, &words);
        }
    }
}

/* The wants that no density meets, each with its reason. */
static void unreached_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                            const vs_choice *c) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    bool others = false;
    vs_text words;
    vs_text_init(&words);
    for (size_t i = 0; i < c->want_count; i++) {
        others = others || c->want[i].possible;
    }
    for (size_t i = 0; i < c->want_count; i++) {
        if (c->want[i].possible) {
            continue;
        }
        vs_style_ink(out, style, VS_INK_BAD);
        vs_text_addf(&words, "%s: set aside, for no haze does it: ", shot->name);
        vs_report_want(&words, style, scene, shot, &shot->want[i]);
        vs_text_addf(&words, "; ");
        vs_report_unreached(&words, style, scene, c, i);
        vs_text_addf(&words, others ? ". The other wants decide." : ".");
        paragraph(out, &words);
        vs_style_ink(out, style, VS_INK_PLAIN);
    }
}

/* Haze below the least possible: not needed, or not available. */
static void least_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                        const vs_choice *c) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_text words;
    vs_text_init(&words);
    if (c->none_needed) {
        vs_text_addf(&words, "%s: no haze is needed. The thinnest that can be had and seen, ",
                     shot->name);
        vs_report_density(&words, c->least_per_m);
        vs_text_addf(&words, ", would make");
        bool any = false;
        for (size_t i = 0; i < c->want_count; i++) {
            if (c->want[i].possible) {
                vs_text_addf(&words, "%s ", any ? "," : "");
                any = true;
                vs_report_want_subject(&words, scene, shot, &shot->want[i]);
                vs_text_addf(&words, " ");
                vs_report_want_value(&words, style, &shot->want[i], c->want[i].least.value);
            }
        }
        vs_text_addf(&words, ".");
    } else if (c->too_thin) {
        vs_text_addf(&words, "%s: what meets all, ", shot->name);
        vs_report_densities(&words, c->lowest_per_m, c->highest_per_m);
        vs_text_addf(&words, ", is thinner than can be had and seen, ");
        vs_report_density(&words, c->least_per_m);
        vs_text_addf(&words, " (the hazer's shortest burst, or air that is clear for 20 km).");
    }
    paragraph(out, &words);
}

/* More than the hazers can keep, however long they run. */
static void weak_lines(vs_text *out, const vs_scene *scene, const vs_choice *c) {
    vs_text words;
    vs_text_init(&words);
    if (c->planned_per_m > c->most_per_m) {
        vs_text_addf(&words, "%s: ", scene->shot[c->shot].name);
        vs_report_too_weak(&words, scene, &scene->shot[c->shot], c->planned_per_m, c->most_per_m);
        vs_text_addf(&words, ".");
    }
    paragraph(out, &words);
}

/* The other rooms at the planned density, if one is thicker than the room in view. */
static void room_lines(vs_text *out, const vs_scene *scene, const vs_choice *c) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words, "%s: ", shot->name);
    if (vs_report_thicker_room(&words, scene, shot, c->planned_room_per_m)) {
        vs_text_addf(&words, ".");
        paragraph(out, &words);
    }
    vs_text_free(&words);
}

/* A density in the file that misses wants another density would meet. */
static void missed_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_choice *c) {
    vs_text words;
    vs_text_init(&words);
    vs_style_ink(out, style, VS_INK_BAD);
    vs_text_addf(&words, "%s: ", scene->shot[c->shot].name);
    vs_report_density(&words, c->planned_per_m);
    vs_text_addf(&words, ", in your file, misses");
    if (c->met) {
        vs_text_addf(&words, "; best is ");
        vs_report_density(&words, c->recommended_per_m);
        vs_text_addf(&words, ", or mend it");
    }
    vs_text_addf(&words, ":");
    paragraph(out, &words);
    vs_style_ink(out, style, VS_INK_PLAIN);
    for (size_t i = 0; i < c->want_count; i++) {
        if (!c->want[i].planned.met) {
            vs_text_addf(&words, "- ");
            want_words(&words, style, scene, c, i, c->want[i].planned.value);
            paragraph(out, &words);
        }
    }
}

/* Whether a want is missed that some density would meet. */
static bool misses_a_possible(const vs_choice *c) {
    for (size_t i = 0; i < c->want_count; i++) {
        if (c->want[i].possible && !c->want[i].planned.met) {
            return true;
        }
    }
    return false;
}

static void mend_line(vs_text *out, const vs_scene *scene, const vs_choice *c) {
    vs_text words;
    vs_text_init(&words);
    const vs_choice_mend *mend = &c->mend;
    bool dims = mend->dim_light != VS_NONE, flags = mend->flag_light != VS_NONE;
    if (!dims && !flags && !misses_a_possible(c)) {
        return;
    }
    vs_text_addf(&words, dims || flags ? "- to keep " : "- at ");
    vs_report_density(&words, c->planned_per_m);
    vs_text_addf(&words, dims || flags ? ": " : " no one lamp mends it, dimmed or flagged");
    if (dims && isinf(mend->dim_stops)) {
        vs_text_addf(&words, "do without %s", scene->light[mend->dim_light].name);
    } else if (dims) {
        vs_text_addf(&words, "%s down by %.1f stops", scene->light[mend->dim_light].name,
                     ceil(mend->dim_stops * 10 - 1e-6) / 10);
    }
    if (flags) {
        vs_text_addf(&words, "%sflag %s off the air before the camera", dims ? ", or " : "",
                     scene->light[mend->flag_light].name);
    }
    paragraph(out, &words);
}

static void like_lines(vs_text *out, const vs_scene *scene, const vs_choice *c) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_text words;
    vs_text_init(&words);
    for (size_t i = 0; i < c->like_count; i++) {
        const vs_choice_like *like = &c->like[i];
        const vs_scene_want *want = &shot->want[like->want];
        vs_text_addf(&words, "%s: in the haze of %s (", shot->name, scene->shot[want->shot].name);
        vs_report_density(&words, like->other_per_m);
        if (fabs(like->same_haze_stops) < 0.005) {
            vs_text_addf(&words, ") the veil at %s is the same.", shot->point[want->a].name);
            paragraph(out, &words);
            continue;
        }
        vs_text_addf(&words, ") the veil at %s is %.2f stops %s", shot->point[want->a].name,
                     fabs(like->same_haze_stops),
                     like->same_haze_stops < 0 ? "darker" : "brighter");
        if (!isnan(like->extinction_per_m)) {
            vs_text_addf(&words, "; the same at ");
            vs_report_density(&words, like->extinction_per_m);
        }
        if (!isnan(like->dimmer)) {
            vs_text_addf(&words, "%s with %s at %.0f %%",
                         isnan(like->extinction_per_m) ? "; the same" : ", or",
                         scene->light[like->light].name, 100 * like->dimmer);
        } else if (like->light != VS_NONE) {
            vs_text_addf(&words, "; %s makes most of it", scene->light[like->light].name);
        }
        vs_text_addf(&words, ".");
        paragraph(out, &words);
    }
}

static void stretch_lines(vs_text *out, const vs_scene *scene, const vs_choice *c) {
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words, "%s: all wants are met", scene->shot[c->shot].name);
    for (size_t i = 0; i < c->meets.count; i++) {
        vs_text_addf(&words, "%s at ", i ? " and" : "");
        vs_report_densities(&words, c->meets.item[i].low, c->meets.item[i].high);
    }
    vs_text_addf(&words, ", not between.");
    paragraph(out, &words);
}

/* Visibility depends on the haze alone: no lamp can mend it. */
static bool sight_is_missed(const vs_scene *scene, const vs_choice *c) {
    for (size_t i = 0; i < c->want_count; i++) {
        if (scene->shot[c->shot].want[i].kind == VS_WANT_SIGHT && !c->want[i].planned.met) {
            return true;
        }
    }
    return false;
}

static bool any_in_conflict(const vs_choice *c) {
    for (size_t i = 0; i < c->want_count; i++) {
        if (c->want[i].in_conflict) {
            return true;
        }
    }
    return false;
}

static void advice(vs_text *out, const vs_style *style, const vs_scene *scene, const vs_choice *c) {
    if (c->meets.count > 1) {
        stretch_lines(out, scene, c);
    }
    unreached_lines(out, style, scene, c);
    if (any_in_conflict(c)) {
        conflict_lines(out, style, scene, c);
    }
    least_lines(out, style, scene, c);
    weak_lines(out, scene, c);
    room_lines(out, scene, c);
    bool elsewhere = c->planned_per_m != c->recommended_per_m;
    if (!c->planned_met && elsewhere) {
        missed_lines(out, style, scene, c);
    }
    if (!c->planned_met && c->want_count > 0 && !sight_is_missed(scene, c)) {
        mend_line(out, scene, c);
    }
    like_lines(out, scene, c);
}

static void order_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                        const vs_choose_answer *answer) {
    vs_text words;
    vs_text_init(&words);
    const vs_order *order = answer->order;
    if (!order) {
        return;
    }
    if (answer->no_waits) {
        vs_text_addf(&words, "No order worked out: %s.", answer->no_waits);
        paragraph(out, &words);
        return;
    }
    double saved_s = order->file_wait_s - order->wait_s;
    for (size_t i = 0; i < order->count && order->count > 1; i++) {
        vs_text_addf(&words, "%s%s",
                     i ? ", " : "Shoot in this order: ", scene->shot[order->shot[i]].name);
    }
    vs_text_addf(&words, "%s waits %.0f min for its haze",
                 order->count > 1 ? ". The day then" : "The day", order->wait_s / VS_S_PER_MIN);
    if (order->count == 1) {
        vs_text_addf(&words, ".");
    } else if (fabs(saved_s) < VS_S_PER_MIN / 2) {
        vs_text_addf(&words, ", as in your file's order.");
    } else {
        vs_text_addf(&words, ", %.0f min %s than in your file's order.",
                     fabs(saved_s) / VS_S_PER_MIN, saved_s > 0 ? "less" : "more");
    }
    if (!order->exact) {
        vs_text_addf(
            &words, " Over %d shots not every order is tried: another may wait up to %.0f %% less.",
            VS_ORDER_EXACT_MAX, 100 * VS_ORDER_GAP);
    }
    vs_style_ink(out, style, VS_INK_HEAD);
    paragraph(out, &words);
    vs_style_ink(out, style, VS_INK_PLAIN);
}

static bool is_shown(const vs_choose_answer *answer, size_t shot) {
    return answer->only == VS_NONE || answer->only == shot;
}

void vs_report_choose_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                           const vs_choose_answer *answer) {
    if (answer->choices->shot_count == 0) {
        return;
    }
    heading(out, style);
    for (size_t i = 0; i < answer->choices->shot_count; i++) {
        if (is_shown(answer, i)) {
            shot_line(out, style, scene, &answer->choices->shot[i]);
        }
    }
    for (size_t i = 0; i < answer->choices->shot_count; i++) {
        if (is_shown(answer, i)) {
            advice(out, style, scene, &answer->choices->shot[i]);
        }
    }
    order_lines(out, style, scene, answer);
    if (answer->spread) {
        vs_text_addf(out, "\n");
        vs_report_spread_text(out, style, scene, answer);
    }
    for (size_t i = 0; i < answer->turn_count; i++) {
        vs_text_addf(out, "\n");
        vs_report_turn_text(out, style, scene, &answer->turn[i]);
    }
}

void vs_report_chosen_density_text(vs_text *out, const vs_scene_with_densities *filled) {
    vs_text words;
    vs_text_init(&words);
    for (size_t i = 0; i < filled->scene.shot_count && filled->any_chosen; i++) {
        if (filled->chosen[i]) {
            vs_text_addf(&words, "%s is open in your file: ", filled->shot[i].name);
            if (filled->chosen_per_m[i] > 0) {
                vs_text_addf(&words, "taken at ");
                vs_report_density(&words, filled->chosen_per_m[i]);
            } else {
                vs_text_addf(&words, "taken without haze");
            }
            vs_text_addf(&words, ", the best by `veilstop choose`.");
            paragraph(out, &words);
        }
    }
}
