/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sun and sky: the openings they come through, and the direction of sunlight. A light through
 * several openings becomes one light per opening: the named one, and its parts. */
#include "scene/parts/read_windows.h"

#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

#define GRAZING 1e-6 /* [1] cosine below which light runs along the wall */

/* An opening to outside; VS_NONE after a fault. */
static size_t need_window(vs_scene_reader *reader, const vs_json_value *value) {
    size_t through = vs_scene_need_reference(value, NULL, &reader->openings);
    if (through == VS_NONE) {
        return VS_NONE;
    }
    const vs_scene_opening *opening = &reader->scene->opening[through];
    if (opening->room[0] != VS_NONE && opening->room[1] != VS_OUTSIDE) {
        vs_json_fault_got(value, "must be an opening to \"outside\"");
        return VS_NONE;
    }
    return through;
}

/* The direction into the room through an opening to outside. */
static vs_vec3 inward(const vs_scene_reader *reader, const vs_scene_opening *opening) {
    const vs_scene_room *room = &reader->scene->room[opening->room[0]];
    vs_vec3 middle = vs_vec3_scale(vs_vec3_add(opening->corner_m[0], opening->corner_m[1]), 0.5);
    vs_vec3 low = vs_vec3_sub(middle, room->corner_m);
    vs_vec3 high = vs_vec3_sub(vs_vec3_add(room->corner_m, room->size_m), middle);
    double gap[6] = {low.x, low.y, low.z, high.x, high.y, high.z};
    int nearest = 0;
    for (int i = 1; i < 6; i++) {
        nearest = gap[i] < gap[nearest] ? i : nearest;
    }
    double sign = nearest < 3 ? 1.0 : -1.0;
    vs_vec3 normal = {nearest % 3 == 0 ? sign : 0, nearest % 3 == 1 ? sign : 0,
                      nearest % 3 == 2 ? sign : 0};
    return normal;
}

bool vs_scene_sun_enters(const vs_scene_reader *reader, const vs_light *sun, vs_vec3 travel) {
    if (sun->through == VS_NONE || !vs_scene_is_position(travel)) {
        return true;
    }
    const vs_scene_opening *opening = &reader->scene->opening[sun->through];
    return !vs_scene_is_position(opening->corner_m[0]) || opening->room[0] == VS_NONE ||
           vs_vec3_dot(travel, inward(reader, opening)) >= GRAZING;
}

vs_vec3 vs_scene_need_sun(const vs_json_value *value) {
    static const vs_json_range azimuth = {-360, 360, false, false};
    static const vs_json_range elevation = {0, 90, false, false};
    vs_vec3 travel = {NAN, NAN, NAN};
    if (!vs_scene_check_keys(value, VS_KEYS_SUN, VS_KIND_UNKNOWN)) {
        return travel;
    }
    double a = vs_json_need_number(value, "azimuth_deg", azimuth) * VS_RAD_PER_DEG;
    double e = vs_json_need_number(value, "elevation_deg", elevation) * VS_RAD_PER_DEG;
    if (!isnan(a) && !isnan(e)) { /* clockwise from north, which is +y: east is +x */
        vs_vec3 from_sun = {-sin(a) * cos(e), -cos(a) * cos(e), -sin(e)};
        travel = from_sun;
    }
    return travel;
}

/* Adds a part of a light: the same light through another opening. */
static void add_part(vs_scene_reader *reader, const vs_json_value *value, const vs_light *light,
                     size_t through) {
    size_t count = reader->lights.count + reader->parts;
    if (count == VS_SCENE_LIGHTS_MAX) {
        vs_json_fault(value, "must be at most %d lights in all, each opening of a sun or sky one",
                      VS_SCENE_LIGHTS_MAX);
        return;
    }
    vs_light *part = &reader->light[count];
    *part = *light;
    part->through = through;
    part->is_part = true;
    part->part_of = (size_t)(light - reader->light);
    reader->parts++;
}

/* One opening, or an array of them, each once. */
static void read_through(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    vs_json_value through = vs_json_get(value, "through");
    if (!vs_json_is_array(&through)) {
        light->through = need_window(reader, &through);
        return;
    }
    if (!vs_json_check_array(&through, 1, VS_SCENE_OPENINGS_MAX, "names of openings")) {
        return;
    }
    size_t given = vs_json_count(&through), seen[VS_SCENE_OPENINGS_MAX];
    for (size_t i = 0; i < given; i++) {
        vs_json_value name = vs_json_at(&through, i);
        bool again = false;
        seen[i] = need_window(reader, &name);
        for (size_t j = 0; j < i; j++) {
            again = again || (seen[i] != VS_NONE && seen[j] == seen[i]);
        }
        if (again) {
            vs_json_fault_got(&name, "must be named once");
        } else if (i == 0) {
            light->through = seen[i];
        } else if (seen[i] != VS_NONE) {
            add_part(reader, &name, light, seen[i]);
        }
    }
}

/* Whether a sun gets in through any of its openings read so far. */
static bool enters_any(const vs_scene_reader *reader, const vs_light *light, size_t first_part) {
    bool enters = vs_scene_sun_enters(reader, light, light->travel);
    for (size_t i = first_part; i < reader->parts; i++) {
        const vs_light *part = &reader->light[reader->lights.count + i];
        enters = enters || vs_scene_sun_enters(reader, part, light->travel);
    }
    return enters;
}

void vs_scene_read_windows(vs_scene_reader *reader, const vs_json_value *value, vs_light *light) {
    static const char *const way_key[] = {"direction", "sun"};
    size_t first_part = reader->parts;
    if (light->kind == VS_LIGHT_SKY) {
        read_through(reader, value, light);
        return;
    }
    size_t way = vs_scene_only_one(value, way_key, 2, true);
    light->travel.x = NAN;
    vs_json_value toward = vs_json_get(value, way == 1 ? "sun" : "direction");
    if (way != SIZE_MAX) {
        light->travel =
            way == 1 ? vs_scene_need_sun(&toward) : vs_scene_need_direction(value, "direction");
    }
    read_through(reader, value, light);
    if (light->through != VS_NONE && !enters_any(reader, light, first_part)) {
        const vs_scene_opening *opening = &reader->scene->opening[light->through];
        vs_json_fault(&toward, "must lead into room \"%s\" (got a way out or along the wall)",
                      reader->scene->room[opening->room[0]].name);
    }
}
