/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The day's plan as JSON; its keys: docs/output.md. */
#include <math.h>

#include "veilstop/base/units.h"
#include "veilstop/report/dwell.h"
#include "veilstop/report/rooms.h"

static void add_minutes(vs_json *json, const char *key, double seconds) {
    vs_json_number(json, key, seconds / VS_S_PER_MIN);
}

/* null if there is none. */
static void add_minutes_or_null(vs_json *json, const char *key, double seconds) {
    vs_json_finite_or_null(json, key, seconds / VS_S_PER_MIN);
}

static void add_rooms(vs_json *json, const vs_scene *scene, const vs_dwell *dwell) {
    vs_json_open_array(json, "rooms");
    for (size_t i = 0; i < dwell->room_count; i++) {
        const vs_dwell_room *room = &dwell->room[i];
        vs_json_open_object(json, NULL);
        vs_json_string(json, "name", scene->room[i].name);
        vs_json_open_object(json, "loss_per_h");
        vs_json_number(json, "air", room->loss.air * VS_S_PER_H);
        vs_json_number(json, "deposition", room->loss.deposition * VS_S_PER_H);
        vs_json_number(json, "settling", room->loss.settling * VS_S_PER_H);
        vs_json_number(json, "evaporation", room->loss.evaporation * VS_S_PER_H);
        vs_json_number(json, "total", room->loss.total * VS_S_PER_H);
        vs_json_close_object(json);
        add_minutes_or_null(json, "half_life_min", room->half_life_s);
        vs_json_number(json, "peak_per_m", room->peak_g_per_m3 * dwell->extinction_m2_per_g);
        add_minutes(json, "peak_min", room->peak_at_s);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_bursts(vs_json *json, const vs_dwell_bursts *bursts) {
    vs_json_number(json, "burst_s", bursts->burst_s);
    vs_json_number(json, "every_s", bursts->every_s);
    if (bursts->group > 1) {
        vs_json_integer(json, "in_a_reset", (long)bursts->group);
    }
}

static void add_hold(vs_json *json, const vs_dwell_shot *shot) {
    vs_json_open_object(json, "hold");
    add_bursts(json, &shot->hold);
    vs_json_close_object(json);
    if (shot->bursts_count <= 1) {
        return;
    }
    vs_json_open_array(json, "stretches");
    for (size_t i = 0; i < shot->bursts_count; i++) {
        vs_json_open_object(json, NULL);
        add_minutes(json, "min", shot->start_s + shot->bursts[i].from_s);
        add_bursts(json, &shot->bursts[i]);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_trouble(vs_json *json, vs_dwell_trouble trouble) {
    if (trouble != VS_DWELL_FINE) {
        vs_json_string(json, NULL, vs_dwell_trouble_word(trouble));
    }
}

/* The shots that a shot must follow, yet which come later in the plan. */
static void add_too_early(vs_json *json, const vs_scene *scene, const vs_dwell *dwell,
                          size_t place) {
    const vs_scene_shot *shot = &scene->shot[dwell->shot[place].shot];
    vs_json_open_array(json, "before_its_turn");
    for (size_t i = 0; i < shot->after_count; i++) {
        if (vs_dwell_too_early(dwell, scene, place, i)) {
            vs_json_string(json, NULL, scene->shot[shot->after[i]].name);
        }
    }
    vs_json_close_array(json);
}

static void add_shots(vs_json *json, const vs_scene *scene, const vs_dwell *dwell) {
    vs_json_open_array(json, "shots");
    for (size_t i = 0; i < dwell->shot_count; i++) {
        const vs_dwell_shot *shot = &dwell->shot[i];
        vs_json_open_object(json, NULL);
        vs_json_string(json, "name", scene->shot[shot->shot].name);
        vs_json_string(json, "room", scene->room[shot->room].name);
        vs_json_number(json, "extinction_per_m", shot->target_extinction_per_m);
        vs_report_rooms_json(json, scene, dwell->held_per_m + i * dwell->room_count);
        add_minutes(json, "start_min", shot->start_s);
        add_minutes(json, "end_min", shot->end_s);
        vs_json_number(json, "run_s", shot->run_s);
        vs_json_number(json, "wait_s", shot->wait_s);
        vs_json_number(json, "purge_s", shot->purge_s);
        add_hold(json, shot);
        vs_json_number_or_null(json, "lowest_ratio", shot->lowest_ratio);
        vs_json_number_or_null(json, "highest_ratio", shot->highest_ratio);
        vs_json_bool(json, "met",
                     shot->fill_trouble == VS_DWELL_FINE && shot->hold_trouble == VS_DWELL_FINE);
        vs_json_open_array(json, "troubles");
        add_trouble(json, shot->fill_trouble);
        add_trouble(json, shot->hold_trouble);
        vs_json_close_array(json);
        add_too_early(json, scene, dwell, i);
        if (!isnan(shot->within_reach_per_m)) {
            vs_json_number(json, "within_reach_per_m", shot->within_reach_per_m);
        }
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_clear(vs_json *json, const vs_dwell *dwell) {
    vs_json_open_object(json, "clear");
    vs_json_number(json, "to_per_m", dwell->clear_extinction_per_m);
    add_minutes_or_null(json, "minutes", dwell->clear_s);
    vs_json_bool(json, "purged", dwell->purged);
    add_minutes_or_null(json, "minutes_closed", dwell->clear_closed_s);
    vs_json_number(json, "longest_sight_m", dwell->longest_sight_m);
    vs_json_close_object(json);
}

static void add_hazers(vs_json *json, const vs_scene *scene) {
    const vs_scene_hazer *hazer = &scene->hazer;
    if (hazer->machine_count < 2) {
        return;
    }
    vs_json_open_array(json, "hazers");
    for (size_t i = 0; i < hazer->machine_count; i++) {
        const vs_scene_machine *m = &hazer->machine[i];
        double all = hazer->fluid_ml_per_s * hazer->airborne_fraction;
        vs_json_open_object(json, NULL);
        vs_json_string(json, "room", scene->room[m->room].name);
        vs_json_number(json, "share", m->fluid_ml_per_s * m->airborne_fraction / all);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_events(vs_json *json, const vs_scene *scene, const vs_dwell *dwell) {
    vs_json_open_array(json, "events");
    for (size_t i = 0; i < dwell->event_count; i++) {
        const vs_dwell_event *event = &dwell->event[i];
        vs_json_open_object(json, NULL);
        add_minutes(json, "min", event->at_s);
        vs_json_string(json, "do", vs_dwell_do_word(event->act));
        if (event->shot != VS_NONE) {
            vs_json_string(json, "shot", scene->shot[event->shot].name);
        }
        if (event->length_s > 0) {
            vs_json_number(json, "seconds", event->length_s);
        }
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_curve(vs_json *json, const vs_scene *scene, const vs_dwell *dwell) {
    vs_json_open_array(json, "curve");
    for (size_t i = 0; i < dwell->sample_count; i++) {
        vs_json_open_object(json, NULL);
        add_minutes(json, "min", dwell->sample_s[i]);
        vs_json_open_object(json, "extinction_per_m");
        for (size_t room = 0; room < dwell->room_count; room++) {
            vs_json_number(json, scene->room[room].name,
                           dwell->sample_g_per_m3[i * dwell->room_count + room] *
                               dwell->extinction_m2_per_g);
        }
        vs_json_close_object(json);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void add_budget(vs_json *json, const vs_rooms_budget *budget) {
    vs_json_open_object(json, "budget_g");
    vs_json_number(json, "injected", budget->injected);
    vs_json_number(json, "airborne", budget->airborne);
    vs_json_number(json, "vented", budget->vented);
    vs_json_number(json, "deposited", budget->deposited);
    vs_json_number(json, "settled", budget->settled);
    vs_json_number(json, "evaporated", budget->evaporated);
    vs_json_close_object(json);
}

void vs_report_dwell_json(vs_json *json, const vs_scene *scene, const vs_dwell *dwell) {
    add_rooms(json, scene, dwell);
    add_shots(json, scene, dwell);
    add_clear(json, dwell);
    add_hazers(json, scene);
    vs_json_number(json, "fluid_ml", dwell->fluid_ml);
    vs_json_bool(json, "met", vs_dwell_met(dwell));
    add_budget(json, &dwell->budget);
    add_events(json, scene, dwell);
    add_curve(json, scene, dwell);
}

void vs_report_no_hazer_json(vs_json *json, const vs_scene *scene, const vs_dwell *dwell) {
    add_rooms(json, scene, dwell);
    vs_json_open_array(json, "shots");
    vs_json_close_array(json);
    vs_json_bool(json, "met", false);
    vs_json_string(json, "no_plan", "the scene has no hazer");
}
