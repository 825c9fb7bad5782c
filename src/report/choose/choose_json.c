/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The JSON of a choice; its keys: docs/output.md. */
#include <math.h>

#include "report/choose/spread.h"
#include "report/choose/turn.h"
#include "report/choose/unreached.h"
#include "veilstop/report/choose.h"
#include "veilstop/report/predict.h"
#include "veilstop/report/rooms.h"

static void says(vs_json *json, const vs_scene *scene, const vs_scene_shot *shot, size_t want) {
    static const vs_style plain = {VS_LENGTH_M, false};
    vs_text words;
    vs_text_init(&words);
    vs_report_want(&words, &plain, scene, shot, &shot->want[want]);
    vs_json_string(json, "want", vs_report_want_name(shot->want[want].kind));
    vs_json_string(json, "says", vs_text_words(&words, json->out));
    vs_text_free(&words);
}

/* In the unit of the want's limit in files: degrees for glow. */
static double in_file_unit(vs_want_kind kind, double value) {
    static const vs_style metres = {VS_LENGTH_M, false};
    return vs_report_want_figure(&metres, kind, value);
}

static void number_if_any(vs_json *json, const char *key, double value) {
    if (!isnan(value)) {
        vs_json_number(json, key, value);
    }
}

static void limits(vs_json *json, const vs_scene *scene, const vs_choice *c) {
    vs_json_open_array(json, "limits");
    for (size_t i = 0; i < c->want_count; i++) {
        const vs_choice_want *want = &c->want[i];
        if (isnan(want->at_least_per_m) && isnan(want->at_most_per_m)) {
            continue;
        }
        vs_json_open_object(json, NULL);
        says(json, scene, &scene->shot[c->shot], i);
        number_if_any(json, "at_least", want->at_least_per_m);
        number_if_any(json, "at_most", want->at_most_per_m);
        vs_json_bool(json, "binds", want->binds_lowest || want->binds_highest);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

/* Value, limit and margin of a want; visibility in clear air is unlimited: null. */
static void result(vs_json *json, const vs_scene_want *want, const vs_want_result *r) {
    vs_json_finite_or_null(json, "value", in_file_unit(want->kind, r->value));
    vs_json_number(json, "limit", in_file_unit(want->kind, want->limit));
    vs_json_finite_or_null(json, "margin", r->margin);
    vs_json_bool(json, "met", r->met);
}

static void conflict(vs_json *json, const vs_scene *scene, const vs_choice *c) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_json_open_array(json, "conflict");
    for (size_t i = 0; i < c->want_count; i++) {
        if (c->want[i].in_conflict) {
            vs_json_open_object(json, NULL);
            says(json, scene, shot, i);
            vs_json_bool(json, "possible", c->want[i].possible);
            number_if_any(json, "at_least", c->want[i].at_least_per_m);
            number_if_any(json, "at_most", c->want[i].at_most_per_m);
            result(json, &shot->want[i], &c->want[i].recommended);
            vs_json_close_object(json);
        }
    }
    vs_json_close_array(json);
}

static void unreachable(vs_json *json, const vs_scene *scene, const vs_choice *c) {
    static const vs_style plain = {VS_LENGTH_M, false};
    vs_json_open_array(json, "unreachable");
    for (size_t i = 0; i < c->want_count; i++) {
        if (c->want[i].possible) {
            continue;
        }
        vs_text why;
        vs_text_init(&why);
        vs_report_unreached(&why, &plain, scene, c, i);
        vs_json_open_object(json, NULL);
        says(json, scene, &scene->shot[c->shot], i);
        vs_json_string(json, "why", vs_text_words(&why, json->out));
        vs_json_close_object(json);
        vs_text_free(&why);
    }
    vs_json_close_array(json);
}

static void wants(vs_json *json, const char *key, const vs_scene *scene, const vs_choice *c,
                  bool planned) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_json_open_array(json, key);
    for (size_t i = 0; i < c->want_count; i++) {
        vs_json_open_object(json, NULL);
        says(json, scene, shot, i);
        result(json, &shot->want[i], planned ? &c->want[i].planned : &c->want[i].recommended);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void intervals(vs_json *json, const vs_choice *c) {
    vs_json_open_array(json, "intervals");
    for (size_t i = 0; i < c->meets.count; i++) {
        vs_json_open_array(json, NULL);
        vs_json_number(json, NULL, c->meets.item[i].low);
        vs_json_number(json, NULL, c->meets.item[i].high);
        vs_json_close_array(json);
    }
    vs_json_close_array(json);
}

static void likes(vs_json *json, const vs_scene *scene, const vs_choice *c) {
    const vs_scene_shot *shot = &scene->shot[c->shot];
    vs_json_open_array(json, "like");
    for (size_t i = 0; i < c->like_count; i++) {
        const vs_choice_like *like = &c->like[i];
        const vs_scene_want *want = &shot->want[like->want];
        vs_json_open_object(json, NULL);
        vs_json_string(json, "shot", scene->shot[want->shot].name);
        vs_json_string(json, "at", shot->point[want->a].name);
        vs_json_number(json, "same_haze_per_m", like->other_per_m);
        vs_json_number(json, "same_haze_stops", like->same_haze_stops);
        vs_json_number_or_null(json, "extinction_per_m", like->extinction_per_m);
        vs_json_string(json, "light",
                       like->light == VS_NONE ? NULL : scene->light[like->light].name);
        vs_json_number_or_null(json, "dimmer", like->dimmer);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

/* null: nothing to mend; an empty object: no single lamp can mend it. */
static void mend(vs_json *json, const vs_scene *scene, const vs_choice *c) {
    const vs_choice_mend *m = &c->mend;
    if (c->planned_met) {
        vs_json_null(json, "mend");
        return;
    }
    vs_json_open_object(json, "mend");
    if (m->dim_light != VS_NONE) {
        bool off = isinf(m->dim_stops);
        vs_json_open_object(json, "dim");
        vs_json_string(json, "light", scene->light[m->dim_light].name);
        vs_json_number_or_null(json, "stops", off ? (double)NAN : m->dim_stops);
        vs_json_number(json, "dimmer",
                       off ? 0
                           : vs_light_in_shot(scene, &scene->shot[c->shot], m->dim_light).dimmer *
                                 exp2(-m->dim_stops));
        vs_json_close_object(json);
    }
    if (m->flag_light != VS_NONE) {
        vs_json_open_object(json, "flag");
        vs_json_string(json, "light", scene->light[m->flag_light].name);
        vs_json_close_object(json);
    }
    vs_json_close_object(json);
}

static void shot(vs_json *json, const vs_scene *scene, const vs_choice *c) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "name", scene->shot[c->shot].name);
    vs_json_open_object(json, "extinction_per_m");
    vs_json_number_or_null(json, "lowest", c->lowest_per_m);
    vs_json_number_or_null(json, "highest", c->highest_per_m);
    vs_json_number(json, "recommended", c->recommended_per_m);
    vs_json_close_object(json);
    vs_json_bool(json, "met", c->met);
    vs_json_number_or_null(json, "least_per_m", c->least_per_m);
    vs_json_finite_or_null(json, "most_per_m", c->most_per_m);
    vs_json_bool(json, "none_needed", c->none_needed);
    intervals(json, c);
    limits(json, scene, c);
    unreachable(json, scene, c);
    conflict(json, scene, c);
    wants(json, "wants", scene, c, false);
    vs_json_open_object(json, "planned");
    vs_json_number(json, "extinction_per_m", c->planned_per_m);
    vs_json_bool(json, "given", !isnan(c->given_per_m));
    vs_report_rooms_json(json, scene, c->planned_room_per_m);
    vs_json_bool(json, "met", c->planned_met);
    wants(json, "wants", scene, c, true);
    vs_json_close_object(json);
    likes(json, scene, c);
    mend(json, scene, c);
    vs_json_close_object(json);
}

static void order(vs_json *json, const vs_scene *scene, const vs_choose_answer *answer) {
    const vs_order *o = answer->order;
    vs_json_open_array(json, "order");
    for (size_t i = 0; i < o->count; i++) {
        vs_json_string(json, NULL, scene->shot[o->shot[i]].name);
    }
    vs_json_close_array(json);
    bool known = !answer->no_waits;
    vs_json_number(json, "saved_min", known ? (o->file_wait_s - o->wait_s) / VS_S_PER_MIN : 0);
    vs_json_number_or_null(json, "wait_min", o->wait_s / VS_S_PER_MIN);
    vs_json_number_or_null(json, "file_wait_min", o->file_wait_s / VS_S_PER_MIN);
    vs_json_bool(json, "order_exact", o->exact);
    vs_json_number_or_null(json, "order_gap", !known ? (double)NAN : o->exact ? 0 : VS_ORDER_GAP);
    if (!known) {
        vs_json_string(json, "no_waits", answer->no_waits);
    }
}

void vs_report_choose_json(vs_json *json, const vs_scene *scene, const vs_choose_answer *answer) {
    vs_json_open_array(json, "shots");
    for (size_t i = 0; i < answer->choices->shot_count; i++) {
        if (answer->only == VS_NONE || answer->only == i) {
            shot(json, scene, &answer->choices->shot[i]);
        }
    }
    vs_json_close_array(json);
    if (answer->order) {
        order(json, scene, answer);
    }
    if (answer->spread) {
        vs_report_spread_json(json, scene, answer);
    }
    if (answer->turn) {
        vs_json_open_array(json, "turn");
        for (size_t i = 0; i < answer->turn_count; i++) {
            vs_report_turn_json(json, scene, &answer->turn[i]);
        }
        vs_json_close_array(json);
    }
}

void vs_report_chosen_density_json(vs_json *json, const vs_scene_with_densities *filled) {
    if (!filled->any_chosen) {
        return;
    }
    vs_json_open_array(json, "chosen");
    for (size_t i = 0; i < filled->scene.shot_count; i++) {
        if (filled->chosen[i]) {
            vs_json_open_object(json, NULL);
            vs_json_string(json, "shot", filled->shot[i].name);
            vs_json_number(json, "extinction_per_m", filled->chosen_per_m[i]);
            vs_json_close_object(json);
        }
    }
    vs_json_close_array(json);
}
