/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cautions as JSON; its keys: docs/output.md. */
#include <math.h>

#include "report/cautions/caution_words.h"
#include "veilstop/base/units.h"

static void add_mg(vs_json *json, const char *key, double g_per_m3) {
    vs_json_number(json, key, g_per_m3 * VS_MG_PER_G);
}

static void add_source(vs_json *json, vs_source_status status, const char *source) {
    vs_json_string(json, "status", vs_source_words[status]);
    vs_json_string(json, "source", source);
}

static void add_exposure(vs_json *json, const vs_cautions *c, const vs_exposure_caution *e) {
    const vs_exposure_limit *limit = e->limit;
    vs_text averaging;
    vs_text_init(&averaging);
    vs_caution_averaging(&averaging, limit);
    vs_json_open_object(json, NULL);
    vs_json_string(json, "who", c->person[e->person].who);
    vs_json_number(json, "minutes", c->person[e->person].length_s / VS_S_PER_MIN);
    vs_json_string(json, "limit", limit->name);
    add_source(json, limit->status, limit->source);
    vs_json_string(json, "kind", vs_limit_kind_words[limit->kind]);
    vs_json_string(json, "averaging", vs_text_words(&averaging, json->out));
    add_mg(json, "limit_mg_per_m3", e->limit_g_per_m3);
    add_mg(json, "stated_mg_per_m3", limit->limit_g_per_m3);
    add_mg(json, "low_mg_per_m3", e->low);
    add_mg(json, "high_mg_per_m3", e->high);
    if (!isnan(e->spread_high)) {
        add_mg(json, "spread_low_mg_per_m3", e->spread_low);
        add_mg(json, "spread_high_mg_per_m3", e->spread_high);
    }
    vs_json_bool(json, "reached", !(e->high < e->limit_g_per_m3));
    if (limit->remark) {
        vs_json_string(json, "remark", limit->remark);
    }
    vs_json_close_object(json);
    vs_text_free(&averaging);
}

static void add_peaks(vs_json *json, const vs_cautions_answer *a) {
    vs_json_open_array(json, "rooms");
    for (size_t room = 0; room < a->scene->room_count; room++) {
        double k = a->cautions->peak_per_m[room];
        vs_caution_mass mass = vs_caution_mass_of(a->optics, k);
        vs_json_open_object(json, NULL);
        vs_json_string(json, "name", a->scene->room[room].name);
        vs_json_number(json, "peak_extinction_per_m", k);
        vs_json_finite_or_null(json, "peak_min", a->cautions->peak_at_s[room] / VS_S_PER_MIN);
        add_mg(json, "peak_low_mg_per_m3", mass.low);
        add_mg(json, "peak_high_mg_per_m3", mass.high);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_optics(vs_json *json, const vs_caution_optics *optics) {
    vs_json_open_object(json, "droplets");
    vs_json_number(json, "extinction_m2_per_g", optics->extinction_m2_per_g);
    vs_json_number(json, "low_m2_per_g", optics->low_m2_per_g);
    vs_json_number(json, "high_m2_per_g", optics->high_m2_per_g);
    vs_json_bool(json, "size_known", optics->size_known);
    vs_json_close_object(json);
}

static void add_obscuration(vs_json *json, double extinction_per_m, double path_m) {
    vs_json_number(json, "peak_db_per_m", vs_obscuration_db_per_m(extinction_per_m));
    vs_json_number(json, "peak_percent_per_ft",
                   vs_obscuration_percent(extinction_per_m, VS_M_PER_FT));
    if (!isnan(path_m)) {
        vs_json_number(json, "peak_percent_of_path",
                       vs_obscuration_percent(extinction_per_m, path_m));
        vs_json_number(json, "path_m", path_m);
    }
}

static void add_detector(vs_json *json, const vs_cautions_answer *a, size_t i) {
    const vs_scene_detector *d = &a->scene->venue.detector[i];
    const vs_detector_caution *c = &a->cautions->detector[i];
    vs_json_open_object(json, NULL);
    vs_json_string(json, "name", d->name);
    vs_json_string(json, "room", a->scene->room[d->room].name);
    vs_json_string(json, "kind", vs_detector_kind_words[d->kind]);
    vs_json_number(json, "wavelength_nm", vs_caution_wavelength_nm(a->tables, a->optics, d->kind));
    vs_json_number_or_null(json, "alarm_db_per_m", vs_obscuration_db_per_m(c->alarm_per_m));
    vs_json_bool(json, "alarm_given", c->own);
    add_obscuration(json, c->peak_per_m, d->path_m);
    vs_json_bool(json, "reached", c->reached);
    vs_json_finite_or_null(json, "reached_min", c->reached_s / VS_S_PER_MIN);
    vs_json_close_object(json);
}

static void add_threshold(vs_json *json, const vs_cautions_answer *a,
                          const vs_threshold_caution *t) {
    bool beam = t->threshold->unit == VS_OBSCURATION_PERCENT_OF_PATH;
    vs_json_open_object(json, NULL);
    vs_json_string(json, "room", a->scene->room[t->room].name);
    vs_json_string(json, "kind", vs_detector_kind_words[t->kind]);
    vs_json_string(json, "name", t->threshold->name);
    vs_json_number(json, "alarm_db_per_m", vs_obscuration_db_per_m(t->low_per_m));
    vs_json_number(json, "alarm_high_db_per_m", vs_obscuration_db_per_m(t->high_per_m));
    add_obscuration(json, t->peak_per_m, beam ? t->path_m : (double)NAN);
    vs_json_finite_or_null(json, "reached_min", t->reached_low_s / VS_S_PER_MIN);
    vs_json_finite_or_null(json, "reached_high_min", t->reached_high_s / VS_S_PER_MIN);
    add_source(json, t->threshold->status, t->threshold->source);
    vs_json_close_object(json);
}

static void add_exits(vs_json *json, const vs_cautions_answer *a) {
    const vs_exit_caution *e = &a->cautions->exit;
    vs_json_open_object(json, "exits");
    vs_json_number(json, "peak_extinction_per_m", e->extinction_per_m);
    vs_json_finite_or_null(json, "lit_m", e->lit_m);
    vs_json_finite_or_null(json, "reflecting_m", e->reflecting_m);
    vs_json_string(json, "sign", a->scene->venue.exit_reflecting ? "reflecting" : "lit");
    vs_json_number_or_null(json, "exit_m", a->scene->venue.exit_m);
    vs_json_bool(json, "exit_seen", e->exit_seen);
    vs_json_number(json, "ceiling_light_share", e->light_share);
    vs_json_open_array(json, "criteria");
    for (size_t i = 0; i < a->tables->exit_count; i++) {
        const vs_exit_criterion *criterion = &a->tables->exit[i];
        vs_json_open_object(json, NULL);
        vs_json_number(json, "needed_m", criterion->needed_m);
        vs_json_string(json, "where", criterion->where);
        vs_json_bool(json, "lit", e->lit_m >= criterion->needed_m);
        vs_json_bool(json, "reflecting", e->reflecting_m >= criterion->needed_m);
        add_source(json, criterion->status, criterion->source);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
    vs_json_close_object(json);
}

static void add_clear(vs_json *json, const vs_day *day) {
    if (!day->planned) {
        vs_json_null(json, "clear");
        return;
    }
    vs_json_open_object(json, "clear");
    vs_json_number(json, "to_per_m", day->clear_extinction_per_m);
    vs_json_finite_or_null(json, "minutes", day->clear_s / VS_S_PER_MIN);
    vs_json_bool(json, "purged", day->purged);
    vs_json_finite_or_null(json, "minutes_closed", day->clear_closed_s / VS_S_PER_MIN);
    vs_json_close_object(json);
}

static void add_notices(vs_json *json, const vs_cautions_answer *a) {
    vs_json_open_array(json, "notices");
    for (size_t i = 0; i < a->tables->notice_count; i++) {
        const vs_notice *notice = &a->tables->notice[i];
        if (vs_notice_is_for(notice, a->scene->fluid.class_)) {
            vs_json_open_object(json, NULL);
            vs_json_string(json, "when", notice->when);
            vs_json_string(json, "who", notice->who);
            vs_json_string(json, "do", notice->text);
            add_source(json, notice->status, notice->source);
            vs_json_close_object(json);
        }
    }
    for (size_t i = 0; i < a->scene->venue.rule_count; i++) {
        vs_json_open_object(json, NULL);
        vs_json_string(json, "when", VS_CAUTION_RULE_WHEN);
        vs_json_string(json, "who", VS_CAUTION_RULE_WHO);
        vs_json_string(json, "do", a->scene->venue.rule[i]);
        vs_json_null(json, "status");
        vs_json_string(json, "source", "the scene's venue");
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

void vs_report_cautions_json(vs_json *json, const vs_cautions_answer *a) {
    const vs_cautions *c = a->cautions;
    vs_json_string(json, "day", a->day->planned ? "plan" : "shots");
    vs_json_string(json, "fluid_class", vs_fluid_class_words[a->scene->fluid.class_]);
    add_optics(json, a->optics);
    add_peaks(json, a);
    vs_json_open_array(json, "exposure");
    for (size_t i = 0; i < c->exposure_count; i++) {
        add_exposure(json, c, &c->exposure[i]);
    }
    vs_json_close_array(json);
    vs_json_open_array(json, "detectors");
    for (size_t i = 0; i < c->detector_count; i++) {
        add_detector(json, a, i);
    }
    vs_json_close_array(json);
    vs_json_string(json, "first_detector",
                   c->first_detector == VS_NONE ? NULL
                                                : a->scene->venue.detector[c->first_detector].name);
    vs_json_open_array(json, "thresholds");
    for (size_t i = 0; i < c->threshold_count; i++) {
        add_threshold(json, a, &c->threshold[i]);
    }
    vs_json_close_array(json);
    add_exits(json, a);
    add_clear(json, a->day);
    add_notices(json, a);
    vs_json_bool(json, "any_reached", vs_cautions_any_reached(c));
    vs_json_string(json, "words", VS_CAUTION_DEFER);
}
