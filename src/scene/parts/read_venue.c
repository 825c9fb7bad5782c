/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The venue: smoke detectors, people and how long they stay, exits, house rules. */
#include "scene/parts/read_venue.h"

#include <stdint.h>

#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

static const vs_json_range minutes = {0, 1440, true, false}; /* [min] */

/* The longer horizontal side of its room, used if a beam's path is not given. */
static double default_path_m(const vs_scene_reader *reader, size_t room) {
    if (room == VS_NONE) {
        return NAN;
    }
    return fmax(reader->scene->room[room].size_m.x, reader->scene->room[room].size_m.y);
}

/* A beam detector alarms at a share lost over its path, others at an obscuration per length. */
static void read_alarm(const vs_json_value *value, vs_scene_detector *detector) {
    static const char *const way_key[] = {"alarm_db_per_m", "alarm_percent_per_ft",
                                          "alarm_percent"};
    static const vs_json_range range[] = {
        {0, 100, true, false}, {0, 100, true, true}, {0, 100, true, true}};
    size_t way = vs_scene_only_one(value, way_key, 3, false);
    detector->alarm_per_m = NAN;
    if (way == SIZE_MAX) {
        return;
    }
    double alarm = vs_json_need_number(value, way_key[way], range[way]);
    if (way == 0) {
        detector->alarm_per_m = alarm / VS_DB_PER_M_PER_PER_M;
    } else if (way == 1) {
        detector->alarm_per_m = vs_obscuration_extinction_per_m(alarm, VS_M_PER_FT);
    } else if (detector->kind == VS_DETECTOR_BEAM) {
        detector->alarm_per_m = vs_obscuration_extinction_per_m(alarm, detector->path_m);
    } else {
        vs_json_value member = vs_json_get(value, way_key[way]);
        vs_json_fault(&member, "must stand with kind \"beam\" (got another kind)");
    }
}

static void read_detector(vs_scene_reader *reader, const vs_json_value *value,
                          vs_scene_detector *detector) {
    static const vs_json_range path_m = {0.1, 1000, false, false};
    detector->room = vs_scene_take_room(reader, value);
    size_t choice = vs_json_take_choice(value, "kind", vs_detector_kind_words,
                                        VS_DETECTOR_KIND_COUNT, VS_DETECTOR_POINT);
    detector->kind = choice == SIZE_MAX ? VS_DETECTOR_POINT : (vs_detector_kind)choice;
    detector->path_m = NAN;
    if (detector->kind == VS_DETECTOR_BEAM) {
        detector->path_m =
            vs_scene_take_metres(value, "path_m", path_m, default_path_m(reader, detector->room));
    } else {
        vs_json_value path = vs_json_get(value, "path_m");
        if (vs_json_exists(&path) && choice != SIZE_MAX) {
            vs_json_fault(&path, "must stand with kind \"beam\" (got another kind)");
        }
    }
    if (choice != SIZE_MAX) {
        read_alarm(value, detector);
    }
}

static void read_detectors(vs_scene_reader *reader, const vs_json_value *venue) {
    vs_scene_names names;
    size_t count =
        vs_scene_read_names(reader, venue, "detectors", 0, VS_SCENE_VENUE_MAX, "detector", &names);
    vs_scene_detector *detector = vs_scene_new(reader, count, sizeof *detector);
    vs_json_value list = vs_json_get(venue, "detectors");
    for (size_t i = 0; detector && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        detector[i].name = names.name[i];
        if (vs_scene_check_keys(&value, VS_KEYS_DETECTOR, VS_KIND_UNKNOWN)) {
            read_detector(reader, &value, &detector[i]);
        }
    }
    reader->scene->venue.detector = detector;
    reader->scene->venue.detector_count = detector ? count : 0;
}

/* The elements of an optional list of the venue; 0 where absent or wrong. */
static size_t list_count(const vs_json_value *list, const char *what) {
    bool there = vs_json_exists(list) && vs_json_check_array(list, 0, VS_SCENE_VENUE_MAX, what);
    return there ? vs_json_count(list) : 0;
}

static void read_people(vs_scene_reader *reader, const vs_json_value *venue) {
    vs_json_value list = vs_json_get(venue, "people");
    size_t count = list_count(&list, "people");
    vs_scene_person *person = vs_scene_new(reader, count, sizeof *person);
    for (size_t i = 0; person && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        if (vs_scene_check_keys(&value, VS_KEYS_PERSON, VS_KIND_UNKNOWN)) {
            person[i].who = vs_json_take_text(&value, "who", "crew");
            person[i].length_s = vs_json_need_number(&value, "minutes", minutes) * VS_S_PER_MIN;
        }
    }
    reader->scene->venue.person = person;
    reader->scene->venue.person_count = person ? count : 0;
}

static void read_rules(vs_scene_reader *reader, const vs_json_value *venue) {
    vs_json_value list = vs_json_get(venue, "rules");
    size_t count = list_count(&list, "rules");
    const char **rule = vs_scene_new(reader, count, sizeof *rule);
    for (size_t i = 0; rule && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        rule[i] = vs_json_need_text(&value, NULL);
    }
    reader->scene->venue.rule = rule;
    reader->scene->venue.rule_count = rule ? count : 0;
}

void vs_scene_read_venue(vs_scene_reader *reader) {
    static const char *const sign[] = {"lit", "reflecting"};
    static const vs_json_range exit_m = {0, 1000, true, false};
    vs_scene_venue *venue = &reader->scene->venue;
    venue->exit_m = NAN;
    vs_json_value value = vs_json_get(&reader->root, "venue");
    if (!vs_json_exists(&value) || !vs_scene_check_keys(&value, VS_KEYS_VENUE, VS_KIND_UNKNOWN)) {
        return;
    }
    read_detectors(reader, &value);
    read_people(reader, &value);
    read_rules(reader, &value);
    venue->exit_m = vs_scene_take_metres(&value, "exit_m", exit_m, NAN);
    venue->exit_reflecting = vs_json_take_choice(&value, "exit_sign", sign, 2, 0) == 1;
}
