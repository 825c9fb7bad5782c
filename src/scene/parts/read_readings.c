/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings taken on the set, and which of the file's numbers are uncertain. */
#include "scene/parts/read_readings.h"

#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

#define METER_STOPS 0.1 /* [stops] a spot meter is good to a tenth; common practice, no source */

/* A white and a black patch: white must be the lighter. */
static void read_patches(const vs_json_value *reading, const char *key, bool percent, double *white,
                         double *black) {
    const vs_json_range range = {0, percent ? 100 : 1e10, false, false};
    vs_json_value value = vs_json_get(reading, key);
    *white = *black = NAN;
    if (!vs_scene_check_keys(&value, VS_KEYS_PATCHES, VS_KIND_UNKNOWN)) {
        return;
    }
    *white = vs_json_need_number(&value, "white", range);
    *black = vs_json_need_number(&value, "black", range);
    if (*white <= *black) {
        vs_json_value member = vs_json_get(&value, "white");
        vs_json_fault_got(&member, "must be over the black's %.6g", *black);
    }
}

/* Where the card's light comes from: a distance, or a lamp of the scene. */
static void read_card_light(vs_scene_reader *reader, const vs_json_value *value,
                            vs_scene_reading *reading) {
    static const char *const way_key[] = {"lit_from_m", "lit_by"};
    static const vs_json_range from_m = {0, VS_SCENE_FAR_M, false, false};
    size_t way = vs_scene_only_one(value, way_key, 2, false);
    reading->lit_by = VS_NONE;
    reading->lit_from_m = 0;
    if (way == 0) {
        reading->lit_from_m = vs_scene_need_metres(value, "lit_from_m", from_m);
    } else if (way == 1) {
        reading->lit_by = vs_scene_need_reference(value, "lit_by", &reader->lights);
    }
}

/* A percentage has a meaning only through a camera's curve. */
static void read_camera_of(vs_scene_reader *reader, const vs_json_value *value,
                           vs_scene_reading *reading) {
    size_t fallback = reader->cameras.count == 1 ? 0 : VS_NONE;
    vs_json_value camera = vs_json_get(value, "camera");
    reading->camera = vs_scene_take_reference(&camera, NULL, &reader->cameras, fallback);
    if (reading->percent && reading->camera == VS_NONE && !vs_json_exists(&camera)) {
        vs_json_fault_got(&camera, "must name the camera whose percentages these are");
    }
}

static void read_reading(vs_scene_reader *reader, const vs_json_value *value,
                         vs_scene_reading *reading) {
    static const vs_json_range at_min = {0, 10080, false, false}; /* [min] a week */
    static const vs_json_range distance_m = {0.1, VS_SCENE_FAR_M, false, false};
    static const vs_json_range uncertainty = {0.001, 3, false,
                                              false}; /* [stops] as --uncertainty */
    reading->at_s = vs_json_take_number(value, "min", at_min, 0) * VS_S_PER_MIN;
    reading->room = vs_scene_take_room(reader, value);
    reading->percent = vs_json_take_bool(value, "percent", false);
    read_camera_of(reader, value, reading);
    reading->distance_m = vs_scene_need_metres(value, "distance_m", distance_m);
    read_card_light(reader, value, reading);
    read_patches(value, "clear", reading->percent, &reading->clear_white, &reading->clear_black);
    read_patches(value, "hazed", reading->percent, &reading->hazed_white, &reading->hazed_black);
    reading->uncertainty_stops =
        vs_json_take_number(value, "uncertainty_stops", uncertainty, METER_STOPS);
}

void vs_scene_read_readings(vs_scene_reader *reader) {
    vs_json_value list = vs_json_get(&reader->root, "readings");
    if (!vs_json_exists(&list) ||
        !vs_json_check_array(&list, 0, VS_SCENE_READINGS_MAX, "readings")) {
        return;
    }
    size_t count = vs_json_count(&list);
    vs_scene_reading *reading = vs_scene_new(reader, count, sizeof *reading);
    for (size_t i = 0; reading && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        if (vs_scene_check_keys(&value, VS_KEYS_READING, VS_KIND_UNKNOWN)) {
            read_reading(reader, &value, &reading[i]);
        }
    }
    reader->scene->reading = reading;
    reader->scene->reading_count = reading ? count : 0;
}

void vs_scene_read_uncertain(vs_scene_reader *reader) {
    static const vs_json_range half_width = {0, 1, true, true};
    vs_json_value object = vs_json_get(&reader->root, "uncertain");
    if (!vs_json_exists(&object)) {
        return;
    }
    size_t count = vs_json_count(&object);
    if (!vs_json_is_object(&object) || count > VS_SCENE_UNCERTAIN_MAX) {
        vs_json_fault_got(&object, "must be an object of at most %d pointers and numbers",
                          VS_SCENE_UNCERTAIN_MAX);
        return;
    }
    vs_scene_uncertain *uncertain = vs_scene_new(reader, count, sizeof *uncertain);
    size_t used = 0;
    for (size_t i = 0; uncertain && i < count; i++) {
        vs_json_value member = vs_json_at(&object, i);
        if (vs_json_is_note(&member)) {
            continue;
        }
        vs_scene_uncertain *it = &uncertain[used++];
        it->pointer = vs_json_key(&member);
        it->half_width = vs_json_need_number(&member, NULL, half_width);
        vs_json_value target = vs_json_resolve(&reader->root, it->pointer);
        if (!vs_json_is_number(&target)) {
            vs_json_fault(&member,
                          "must be a JSON pointer to a number of this file (got one to %s)",
                          vs_json_exists(&target) ? "something else" : "nothing");
        }
    }
    reader->scene->uncertain = uncertain;
    reader->scene->uncertain_count = used;
}
