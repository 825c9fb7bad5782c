/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rooms, the openings between them, and blockers, with checks that they fit together. Rooms are
 * boxes along the axes that touch but never overlap; walls have no thickness. */
#include "scene/place/read_rooms.h"

#include <string.h>

#include "scene/place/lengths.h"
#include "scene/place/walls.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

#define DEFAULT_REFLECTANCE 0.5  /* [1] of a room's surfaces, light and dark: our choice */
#define DEFAULT_AIR_PER_H   0.5  /* [1/h] dwellings 0.5 to 0.6 (EN 16798), from memory */
#define DEFAULT_LOSS_PER_H  0.3  /* [1/h] deposition, 0.3-0.5 um indoors (Wallace, townhouse) */
#define DEFAULT_MIXING_MIN  5.0  /* [min] common practice, no source */
#define BLOCKER_REFLECTANCE 0.03 /* [1] black cloth 0.02 to 0.04, from memory */

static const vs_json_range share = {0, 1, false, false};                               /* [1] */
static const vs_json_range extent = {VS_SCENE_NARROW_M, VS_SCENE_FAR_M, false, false}; /* [m] */
static const vs_json_range rate_per_h = {0, 1000, false, false};                       /* [1/h] */

/* Three lengths, each over 0. */
static vs_vec3 need_size3(vs_scene_reader *reader, const vs_json_value *object) {
    vs_vec3 size = {NAN, NAN, NAN};
    vs_json_value value = vs_json_get(object, "size");
    if (!vs_json_is_array(&value) || vs_json_count(&value) != 3) {
        vs_json_fault_got(&value, "must be a size: an array of three lengths, along x, y and z");
        return size;
    }
    vs_json_value x = vs_json_at(&value, 0), y = vs_json_at(&value, 1), z = vs_json_at(&value, 2);
    size.x = vs_scene_need_length(reader, &x, NULL, extent);
    size.y = vs_scene_need_length(reader, &y, NULL, extent);
    size.z = vs_scene_need_length(reader, &z, NULL, extent);
    return size;
}

static void fill_faces(double *reflectance, double value) {
    for (size_t face = 0; face < VS_FACE_COUNT; face++) {
        reflectance[face] = value;
    }
}

/* One figure for all surfaces, or an object in which the more specific key wins. */
static void read_reflectance(const vs_json_value *room, double *reflectance) {
    vs_json_value value = vs_json_get(room, "reflectance");
    if (!vs_json_is_object(&value)) {
        fill_faces(reflectance, vs_json_take_number(&value, NULL, share, DEFAULT_REFLECTANCE));
        return;
    }
    static const char *const face_key[VS_FACE_COUNT] = {
        [VS_FACE_WEST] = "west",   [VS_FACE_EAST] = "east",   [VS_FACE_SOUTH] = "south",
        [VS_FACE_NORTH] = "north", [VS_FACE_FLOOR] = "floor", [VS_FACE_CEILING] = "ceiling"};
    vs_scene_check_keys(&value, VS_KEYS_REFLECTANCE, VS_KIND_UNKNOWN);
    double walls = vs_json_take_number(&value, "walls", share, DEFAULT_REFLECTANCE);
    for (size_t face = 0; face < VS_FACE_COUNT; face++) {
        bool is_wall = face != VS_FACE_FLOOR && face != VS_FACE_CEILING;
        reflectance[face] = vs_json_take_number(&value, face_key[face], share,
                                                is_wall ? walls : DEFAULT_REFLECTANCE);
    }
}

static void read_room_air(const vs_json_value *value, vs_scene_room *room) {
    static const vs_json_range mixing_min = {0, 600, false, false}; /* [min] */
    room->air_change_per_s =
        vs_json_take_number(value, "air_changes_per_h", rate_per_h, DEFAULT_AIR_PER_H) / VS_S_PER_H;
    room->deposition_per_s =
        vs_json_take_number(value, "deposition_per_h", rate_per_h, DEFAULT_LOSS_PER_H) / VS_S_PER_H;
    room->mixing_s =
        vs_json_take_number(value, "mixing_min", mixing_min, DEFAULT_MIXING_MIN) * VS_S_PER_MIN;
    room->purge_air_change_per_s =
        vs_json_take_number(value, "purge_air_changes_per_h", rate_per_h, NAN) / VS_S_PER_H;
}

static void read_room(vs_scene_reader *reader, const vs_json_value *value, vs_scene_room *room) {
    vs_json_value corner = vs_json_get(value, "corner");
    if (vs_json_exists(&corner)) {
        room->corner_m = vs_scene_need_position(reader, &corner, NULL);
    }
    room->size_m = need_size3(reader, value);
    read_reflectance(value, room->reflectance);
    read_room_air(value, room);
    if (room->name && strcmp(room->name, "outside") == 0) {
        vs_json_value name = vs_json_get(value, "name");
        vs_json_fault(&name, "must be another name than \"outside\", which is outdoors");
    }
}

/* Reports each room before `index` that it overlaps. */
static void check_overlap(const vs_json_value *value, const vs_scene_room *room, size_t index) {
    for (size_t i = 0; i < index; i++) {
        if (vs_scene_rooms_overlap(&room[i], &room[index])) {
            vs_json_fault(value, "must not overlap room \"%s\"", room[i].name ? room[i].name : "");
        }
    }
}

void vs_scene_read_rooms(vs_scene_reader *reader) {
    size_t count = vs_scene_read_names(reader, &reader->root, "rooms", 1, VS_SCENE_ROOMS_MAX,
                                       "room", &reader->rooms);
    vs_scene_room *room = vs_scene_new(reader, count, sizeof *room);
    vs_json_value list = vs_json_get(&reader->root, "rooms");
    for (size_t i = 0; room && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        room[i].name = reader->rooms.name[i];
        if (vs_scene_check_keys(&value, VS_KEYS_ROOM, VS_KIND_UNKNOWN)) {
            read_room(reader, &value, &room[i]);
            check_overlap(&value, room, i);
        } else {
            room[i].corner_m.x = NAN;
        }
    }
    reader->scene->room = room;
    reader->scene->room_count = room ? count : 0;
}

static bool is_outside(const vs_json_value *value) {
    return vs_json_is_word(value, "outside");
}

/* Two rooms by name, or one and "outside", which is then put second. False after a fault. */
static bool read_opening_rooms(vs_scene_reader *reader, const vs_json_value *value,
                               vs_scene_opening *opening) {
    vs_json_value list = vs_json_get(value, "rooms");
    if (!vs_json_is_array(&list) || vs_json_count(&list) != 2) {
        vs_json_fault_got(&list,
                          "must be an array of two names: two rooms, or a room and \"outside\"");
        return false;
    }
    vs_json_value first = vs_json_at(&list, 0), second = vs_json_at(&list, 1);
    if (is_outside(&first)) {
        vs_json_value swap = first;
        first = second;
        second = swap;
    }
    if (is_outside(&first)) {
        vs_json_fault(&list, "must name at least one room (got \"outside\" twice)");
        return false;
    }
    opening->room[0] = vs_scene_need_reference(&first, NULL, &reader->rooms);
    opening->room[1] = VS_OUTSIDE;
    if (is_outside(&second)) {
        return opening->room[0] != VS_NONE;
    }
    opening->room[1] = vs_scene_need_reference(&second, NULL, &reader->rooms);
    if (opening->room[0] == VS_NONE || opening->room[1] == VS_NONE) {
        return false;
    }
    if (opening->room[0] == opening->room[1]) {
        vs_json_fault(&list, "must name two different rooms (got one twice)");
        return false;
    }
    return true;
}

/* Whether a room's place could be read; if not, that has been reported already. */
static bool is_placed(const vs_scene_room *room) {
    return vs_scene_is_position(room->corner_m) && vs_scene_is_position(room->size_m);
}

/* Reports how an opening misses its wall; true if it fits. */
static bool check_fit(vs_scene_reader *reader, const vs_json_value *corners,
                      vs_scene_opening *opening) {
    const vs_scene_room *room = reader->scene->room;
    int axis;
    size_t other;
    vs_opening_fit fit =
        vs_scene_fit_opening(room, reader->scene->room_count, opening, &axis, &other);
    const vs_scene_room *first = &room[opening->room[0]];
    double at = axis < 3 ? vs_vec3_component(opening->corner_m[0], axis) : 0;
    double low = axis < 3 ? vs_vec3_component(first->corner_m, axis) : 0;
    double high = axis < 3 ? low + vs_vec3_component(first->size_m, axis) : 0;
    double unit = reader->unit_m;
    const char *unit_text = vs_scene_unit_text(unit);
    switch (fit) {
    case VS_FIT_RIGHT:
        return true;
    case VS_FIT_NOT_FLAT:
        vs_json_fault(corners, "must be two opposite corners on one wall: equal in just one of x, "
                               "y and z (got another pair)");
        break;
    case VS_FIT_NO_WALL:
        vs_json_fault(corners, "must lie on a wall of room \"%s\": %c %.6g or %.6g%s (got %.6g)",
                      first->name, 'x' + axis, low / unit, high / unit, unit_text, at / unit);
        break;
    case VS_FIT_NOT_SHARED:
        vs_json_fault(corners,
                      "must lie on the wall that rooms \"%s\" and \"%s\" share (got "
                      "another wall of \"%s\")",
                      first->name, room[opening->room[1]].name, first->name);
        break;
    case VS_FIT_PAST_EDGE:
        vs_json_fault(corners, "must lie within the wall (got corners past its edge)");
        break;
    case VS_FIT_INNER:
        vs_json_fault(corners, "must lie on an outer wall of room \"%s\" (got its wall to \"%s\")",
                      first->name, room[other].name ? room[other].name : "");
        break;
    }
    return false;
}

/* The two corners, on the wall of the opening's rooms. False after a fault. */
static bool read_corners(vs_scene_reader *reader, const vs_json_value *value,
                         vs_scene_opening *opening, bool has_rooms) {
    vs_json_value corners = vs_json_get(value, "corners");
    if (!vs_json_is_array(&corners) || vs_json_count(&corners) != 2) {
        vs_json_fault_got(&corners, "must be an array of two positions: opposite corners");
        return false;
    }
    bool right = true;
    for (size_t i = 0; i < 2; i++) {
        vs_json_value corner = vs_json_at(&corners, i);
        opening->corner_m[i] = vs_scene_need_position(reader, &corner, NULL);
        right = right && vs_scene_is_position(opening->corner_m[i]);
    }
    const vs_scene_room *room = reader->scene->room;
    if (!right || !has_rooms || !is_placed(&room[opening->room[0]]) ||
        (opening->room[1] != VS_OUTSIDE && !is_placed(&room[opening->room[1]]))) {
        return false;
    }
    return check_fit(reader, &corners, opening);
}

static void read_opening(vs_scene_reader *reader, const vs_json_value *value, size_t index,
                         vs_scene_opening *opening) {
    static const vs_json_range exchange_m3_per_h = {0, 1e6, false, false};
    vs_scene_opening *it = &opening[index];
    bool has_rooms = read_opening_rooms(reader, value, it);
    bool fits = read_corners(reader, value, it, has_rooms);
    it->transmittance = vs_json_take_number(value, "transmittance", share, 1.0);
    it->exchange_m3_per_s =
        vs_json_take_number(value, "exchange_m3_per_h", exchange_m3_per_h, NAN) / VS_S_PER_H;
    if (!fits) {
        it->corner_m[0].x = NAN;
    }
    for (size_t i = 0; fits && i < index; i++) {
        if (vs_scene_openings_overlap(&opening[i], it)) {
            vs_json_fault(value, "must not overlap opening \"%s\"",
                          opening[i].name ? opening[i].name : "");
        }
    }
}

void vs_scene_read_openings(vs_scene_reader *reader) {
    size_t count = vs_scene_read_names(reader, &reader->root, "openings", 0, VS_SCENE_OPENINGS_MAX,
                                       "opening", &reader->openings);
    vs_scene_opening *opening = vs_scene_new(reader, count, sizeof *opening);
    vs_json_value list = vs_json_get(&reader->root, "openings");
    for (size_t i = 0; opening && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        opening[i].name = reader->openings.name[i];
        opening[i].room[0] = VS_NONE;
        opening[i].corner_m[0].x = NAN;
        if (vs_scene_check_keys(&value, VS_KEYS_OPENING, VS_KIND_UNKNOWN)) {
            read_opening(reader, &value, i, opening);
        }
    }
    reader->scene->opening = opening;
    reader->scene->opening_count = opening ? count : 0;
}

static void read_blocker(vs_scene_reader *reader, const vs_json_value *value,
                         vs_scene_blocker *blocker) {
    blocker->at_m = vs_scene_need_position(reader, value, "at");
    blocker->aim_m = vs_scene_need_aim(reader, value, "aim", blocker->at_m, "at");
    vs_scene_need_size2(reader, value, "size", &blocker->width_m, &blocker->height_m);
    blocker->transmittance = vs_json_take_number(value, "transmittance", share, 0.0);
    double most = fmin(BLOCKER_REFLECTANCE, 1 - blocker->transmittance);
    blocker->reflectance = vs_json_take_number(value, "reflectance", share, most);
    if (blocker->reflectance + blocker->transmittance > 1 + 1e-12) {
        vs_json_value transmittance = vs_json_get(value, "transmittance");
        vs_json_fault_got(&transmittance, "must be at most 1 together with the reflectance %.6g",
                          blocker->reflectance);
    }
}

void vs_scene_read_blockers(vs_scene_reader *reader) {
    vs_scene_names names;
    size_t count = vs_scene_read_names(reader, &reader->root, "blockers", 0, VS_SCENE_BLOCKERS_MAX,
                                       "blocker", &names);
    vs_json_value list = vs_json_get(&reader->root, "blockers"),
                  figures = vs_json_get(&reader->root, "figures");
    size_t bodies = vs_json_count(&figures) <= VS_SCENE_FIGURES_MAX ? vs_json_count(&figures) : 0;
    vs_scene_blocker *blocker =
        vs_scene_new(reader, count + bodies * VS_SCENE_FIGURE_PLATES, sizeof *blocker);
    for (size_t i = 0; blocker && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        blocker[i].name = names.name[i];
        if (vs_scene_check_keys(&value, VS_KEYS_BLOCKER, VS_KIND_UNKNOWN)) {
            read_blocker(reader, &value, &blocker[i]);
        }
    }
    reader->blocker = blocker;
    reader->scene->blocker = blocker;
    reader->scene->blocker_count = blocker ? count : 0;
}
