/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lengths, positions, aims and sizes of a scene file, in metres: numbers are in the scene's unit,
 * texts in their own (docs/scene.md, "Lengths"). */
#include "scene/place/lengths.h"

#include <stdint.h>

#include "scene/reader.h"
#include "veilstop/base/units.h"

const char *vs_scene_unit_text(double unit_m) {
    return unit_m == VS_M_PER_FT ? " ft" : " m";
}

static double read_length(const vs_json_value *value, double unit_m, vs_json_range range_m) {
    const char *unit = vs_scene_unit_text(unit_m);
    double length_m = NAN;
    if (vs_json_is_number(value)) {
        length_m = unit_m * vs_json_need_number(value, NULL,
                                                (vs_json_range){-HUGE_VAL, HUGE_VAL, false, false});
    } else {
        const char *text = vs_json_is_text(value) ? vs_json_need_text(value, NULL) : "";
        if (!text) {
            return NAN;
        }
        if (vs_length_parse(text, &length_m) != VS_OK) {
            vs_json_fault_got(value,
                              "must be a length: a number of%s, or a text in m, cm, mm, ft, in or "
                              "12'6\\\"",
                              unit);
            return NAN;
        }
    }
    return vs_json_check_range(value, length_m, range_m, unit, unit_m) ? length_m : (double)NAN;
}

double vs_scene_need_length(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                            vs_json_range range_m) {
    vs_json_value value = key ? vs_json_get(object, key) : *object;
    return read_length(&value, reader->unit_m, range_m);
}

double vs_scene_need_metres(const vs_json_value *object, const char *key, vs_json_range range_m) {
    vs_json_value value = key ? vs_json_get(object, key) : *object;
    return read_length(&value, 1.0, range_m);
}

double vs_scene_take_metres(const vs_json_value *object, const char *key, vs_json_range range_m,
                            double fallback) {
    vs_json_value value = key ? vs_json_get(object, key) : *object;
    return vs_json_exists(&value) ? read_length(&value, 1.0, range_m) : fallback;
}

static const vs_json_range coordinate = {-VS_SCENE_FAR_M, VS_SCENE_FAR_M, false, false}; /* [m] */
static const vs_json_range extent = {VS_SCENE_NARROW_M, VS_SCENE_FAR_M, false, false};   /* [m] */

static const vs_vec3 nowhere = {NAN, NAN, NAN};

vs_vec3 vs_scene_need_position(vs_scene_reader *reader, const vs_json_value *object,
                               const char *key) {
    vs_json_value value = key ? vs_json_get(object, key) : *object;
    if (!vs_json_is_array(&value) || vs_json_count(&value) != 3) {
        vs_json_fault_got(&value, "must be a position: an array of three lengths, x, y and z");
        return nowhere;
    }
    double length_m[3];
    for (size_t i = 0; i < 3; i++) {
        vs_json_value element = vs_json_at(&value, i);
        length_m[i] = read_length(&element, reader->unit_m, coordinate);
    }
    vs_vec3 position = {length_m[0], length_m[1], length_m[2]};
    return vs_scene_is_position(position) ? position : nowhere;
}

bool vs_scene_same_place(vs_vec3 a, vs_vec3 b) {
    return vs_vec3_length(vs_vec3_sub(a, b)) <= VS_SCENE_TOUCH_M; /* false where either is NaN */
}

vs_vec3 vs_scene_need_aim(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                          vs_vec3 from, const char *from_key) {
    vs_vec3 aim = vs_scene_need_position(reader, object, key);
    if (vs_scene_same_place(aim, from)) {
        vs_json_value value = vs_json_get(object, key);
        vs_json_fault(&value, "must be another place than \"%s\" (got the same)", from_key);
    }
    return aim;
}

void vs_scene_need_size2(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                         double *width_m, double *height_m) {
    *width_m = *height_m = NAN;
    vs_json_value value = vs_json_get(object, key);
    if (!vs_json_is_array(&value) || vs_json_count(&value) != 2) {
        vs_json_fault_got(&value, "must be a size: an array of two lengths, width and height");
        return;
    }
    vs_json_value width = vs_json_at(&value, 0), height = vs_json_at(&value, 1);
    *width_m = read_length(&width, reader->unit_m, extent);
    *height_m = read_length(&height, reader->unit_m, extent);
}

vs_vec3 vs_scene_need_direction(const vs_json_value *object, const char *key) {
    static const vs_json_range component = {-1e6, 1e6, false, false}; /* [1] */
    vs_json_value value = vs_json_get(object, key);
    double number[3];
    if (!vs_json_need_numbers(&value, NULL, component, number, 3)) {
        return nowhere;
    }
    vs_vec3 direction = {number[0], number[1], number[2]};
    if (!(vs_vec3_length(direction) > 1e-6)) { /* [1] shorter ones have no usable direction */
        vs_json_fault(&value, "must point somewhere (got a vector of no length)");
        return nowhere;
    }
    return vs_vec3_unit(direction);
}

/* Distance of a coordinate outside an interval [m], negative inside. */
static double outside_m(double at, double low, double high) {
    return at < low ? low - at : at - high;
}

static double clamp(double at, double low, double high) {
    return at < low ? low : at > high ? high : at;
}

/* Whether a place is in a room; moves it into the room if only rounding put it outside. */
static bool room_holds(const vs_scene_room *room, vs_vec3 *place) {
    vs_vec3 low = room->corner_m, high = vs_vec3_add(room->corner_m, room->size_m);
    bool inside = outside_m(place->x, low.x, high.x) <= VS_SCENE_TOUCH_M &&
                  outside_m(place->y, low.y, high.y) <= VS_SCENE_TOUCH_M &&
                  outside_m(place->z, low.z, high.z) <= VS_SCENE_TOUCH_M;
    if (inside) {
        place->x = clamp(place->x, low.x, high.x);
        place->y = clamp(place->y, low.y, high.y);
        place->z = clamp(place->z, low.z, high.z);
    }
    return inside;
}

vs_vec3 vs_scene_need_inside(vs_scene_reader *reader, const vs_json_value *object,
                             const char *key) {
    vs_vec3 place = vs_scene_need_position(reader, object, key);
    if (!vs_scene_is_position(place)) {
        return place;
    }
    bool unknown = reader->scene->room_count == 0; /* no room could be read: already reported */
    for (size_t i = 0; i < reader->scene->room_count; i++) {
        const vs_scene_room *room = &reader->scene->room[i];
        if (room_holds(room, &place)) {
            return place;
        }
        unknown =
            unknown || !vs_scene_is_position(room->corner_m) || !vs_scene_is_position(room->size_m);
    }
    if (!unknown) {
        vs_json_value value = vs_json_get(object, key);
        vs_vec3 shown = vs_vec3_scale(place, 1.0 / reader->unit_m);
        vs_json_fault(&value, "must be inside a room (got x %.6g, y %.6g, z %.6g%s)", shown.x,
                      shown.y, shown.z, vs_scene_unit_text(reader->unit_m));
    }
    return place;
}
