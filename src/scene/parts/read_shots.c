/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots: camera, lights, density, points, and constraints on their order. Points of all shots are
 * read before any want, because a want may name another shot's. */
#include "scene/parts/read_shots.h"

#include <stdint.h>
#include <stdlib.h>

#include "scene/parts/read_cameras.h"
#include "scene/parts/read_settings.h"
#include "scene/parts/read_wants.h"
#include "scene/place/lengths.h"
#include "scene/place/read_figures.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

#define DEFAULT_MINUTES   30.0 /* [min] our choice */
#define DEFAULT_ROLL_MIN  3.0  /* [min] common practice, no source */
#define DEFAULT_RESET_MIN 5.0  /* [min] common practice, no source */

#define FACE_HEIGHT 0.92 /* [1] of a figure's height: below the eyes, 0.936 (Drillis & Contini) */

static const vs_json_range minutes = {0, 1440, true, false}; /* [min] */

/* The ways to give a density: key, range, factor to SI. */
static const struct {
    vs_density_kind kind;
    vs_json_range range;
    double si;
} density_way[] = {{VS_DENSITY_EXTINCTION, {0, 100, false, false}, 1.0},   /* [1/m] */
                   {VS_DENSITY_MASS, {0, 1e5, false, false}, VS_G_PER_MG}, /* [mg/m3] */
                   {VS_DENSITY_RANGE, {0.04, 1e6, false, false}, 1.0}};    /* [m] */
static const char *const density_key[] = {"extinction_per_m", "mass_mg_per_m3", "visible_range_m"};

static double read_density(const vs_json_value *value, size_t way) {
    if (density_way[way].kind == VS_DENSITY_RANGE) {
        return vs_scene_need_metres(value, NULL, density_way[way].range);
    }
    return vs_json_need_number(value, NULL, density_way[way].range) * density_way[way].si;
}

/* A shot without wants must give its density. */
static void check_density_given(const vs_json_value *shot) {
    vs_json_value wants = vs_json_get(shot, "wants");
    bool given = vs_json_count(&wants) > 0;
    for (size_t i = 0; i < 3; i++) {
        vs_json_value density = vs_json_get(shot, density_key[i]);
        given = given || vs_json_exists(&density);
    }
    if (!given) {
        vs_json_fault(shot, "must give extinction_per_m, mass_mg_per_m3 or visible_range_m, or "
                            "wants to choose it by (got none)");
    }
}

/* One figure for all rooms, or {ROOM: figure}; rooms not named are clear. */
static void read_densities(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out) {
    size_t way = vs_scene_only_one(shot, density_key, 3, false);
    check_density_given(shot);
    size_t count = reader->scene->room_count;
    double *density = way == SIZE_MAX ? NULL : vs_scene_new(reader, count, sizeof *density);
    out->density = VS_DENSITY_OPEN;
    if (!density) {
        return;
    }
    out->density = density_way[way].kind;
    out->room_density = density;
    vs_json_value value = vs_json_get(shot, density_key[way]);
    if (!vs_json_is_object(&value)) {
        double same = read_density(&value, way);
        for (size_t i = 0; i < count; i++) {
            density[i] = same;
        }
        return;
    }
    out->density_by_room = true;
    for (size_t i = 0; i < vs_json_count(&value); i++) {
        vs_json_value member = vs_json_at(&value, i);
        size_t room = vs_scene_find(&reader->rooms, vs_json_key(&member));
        if (room == VS_NONE && vs_json_is_note(&member)) {
            continue;
        }
        room = vs_scene_key_reference(&member, &reader->rooms);
        double figure = read_density(&member, way);
        if (room != VS_NONE) {
            density[room] = figure;
        }
    }
}

static int compare_indices(const void *a, const void *b) {
    size_t x = *(const size_t *)a, y = *(const size_t *)b;
    return x < y ? -1 : x > y;
}

/* The lights named, and their parts. */
static size_t *with_parts(vs_scene_reader *reader, const size_t *named, size_t *count) {
    size_t given = *count, *index = vs_scene_new(reader, given + reader->parts, sizeof *index);
    if (!index) {
        *count = 0;
        return NULL;
    }
    for (size_t i = 0; i < given; i++) {
        index[i] = named[i];
    }
    for (size_t i = reader->lights.count; i < reader->scene->light_count; i++) {
        for (size_t j = 0; j < given; j++) {
            if (reader->scene->light[i].part_of == named[j]) {
                index[(*count)++] = i;
            }
        }
    }
    return index;
}

/* The lights a shot lists, or all that are on, ascending. A listed light is lit even if it is not
 * `on`. */
static void read_shot_lights(vs_scene_reader *reader, const vs_json_value *shot,
                             vs_scene_shot *out) {
    vs_json_value list = vs_json_get(shot, "lights");
    size_t count = 0;
    size_t *index = NULL;
    if (vs_json_exists(&list)) {
        size_t *named = vs_scene_read_references(reader, &list, &reader->lights, &count);
        index = with_parts(reader, named, &count);
    } else {
        index = vs_scene_new(reader, reader->scene->light_count, sizeof *index);
        for (size_t i = 0; index && i < reader->scene->light_count; i++) {
            if (reader->scene->light[i].on) {
                index[count++] = i;
            }
        }
    }
    if (count > 1) {
        qsort(index, count, sizeof *index, compare_indices);
    }
    out->light = index;
    out->light_count = count;
}

/* A point's surface faces the camera unless stated otherwise. */
static void read_facing(const vs_json_value *value, const vs_camera *camera,
                        vs_scene_point *point) {
    vs_json_value facing = vs_json_get(value, "facing");
    if (point->kind != VS_POINT_REFLECTANCE) {
        if (vs_json_exists(&facing)) {
            vs_json_fault(&facing, "must stand beside \"reflectance\" (got it without)");
        }
    } else if (vs_json_exists(&facing)) {
        point->facing = vs_scene_need_direction(value, "facing");
    } else if (camera && !vs_scene_same_place(camera->at_m, point->at_m)) {
        point->facing = vs_vec3_unit(vs_vec3_sub(camera->at_m, point->at_m));
    }
}

/* Where a point is: at a position, or on a figure, which is returned. */
static const vs_scene_figure *read_place(vs_scene_reader *reader, const vs_json_value *value,
                                         vs_scene_point *point) {
    static const char *const with_at[] = {"height"};
    static const char *const with_on[] = {"at", "facing"};
    vs_json_value on = vs_json_get(value, "on"), height = vs_json_get(value, "height");
    bool figure = vs_json_exists(&on);
    for (size_t i = 0; i < (figure ? 2u : 1u); i++) {
        vs_json_value other = vs_json_get(value, figure ? with_on[i] : with_at[i]);
        if (vs_json_exists(&other)) {
            vs_json_fault(&other, figure ? "must not stand beside \"on\": the figure gives it"
                                         : "must stand beside \"on\" (got it without)");
        }
    }
    if (!figure) {
        point->at_m = vs_scene_need_inside(reader, value, "at");
        return NULL;
    }
    point->at_m.x = NAN;
    size_t which = vs_scene_need_reference(&on, NULL, &reader->figures);
    if (which == VS_NONE || isnan(reader->figure[which].height_m)) {
        return NULL;
    }
    const vs_scene_figure *of = &reader->figure[which];
    const vs_json_range up_m = {0, of->height_m, false, false};
    double height_m = vs_json_exists(&height) ? vs_scene_need_length(reader, &height, NULL, up_m)
                                              : FACE_HEIGHT * of->height_m;
    point->at_m = vs_scene_on_figure(of, height_m);
    return of;
}

static void read_point(vs_scene_reader *reader, const vs_json_value *value, const vs_camera *camera,
                       vs_scene_point *point) {
    static const char *const way_key[] = {"nits", "reflectance", "stops"};
    static const vs_json_range range[] = {
        {0, 1e10, false, false}, {0, 1, false, false}, {-40, 40, false, false}};
    if (!vs_scene_check_keys(value, VS_KEYS_POINT, VS_KIND_UNKNOWN)) {
        return;
    }
    const vs_scene_figure *on = read_place(reader, value, point);
    if (camera && vs_scene_same_place(point->at_m, camera->at_m)) {
        vs_json_value at = vs_json_get(value, "at");
        vs_json_fault(&at, "must be another place than camera \"%s\" (got the same)",
                      camera->name ? camera->name : "");
    }
    vs_json_value figure = vs_json_get(value, "on");
    size_t way = vs_scene_only_one(value, way_key, 3, !vs_json_exists(&figure));
    point->kind = way == SIZE_MAX ? VS_POINT_REFLECTANCE : (vs_point_kind)way;
    if (way != SIZE_MAX) {
        point->value = vs_json_need_number(value, way_key[way], range[way]);
    }
    if (vs_json_exists(&figure) && !on) {
        return; /* already reported */
    }
    if (on) {
        point->value = way == SIZE_MAX ? on->reflectance : point->value;
        point->facing = on->facing;
    } else {
        read_facing(value, camera, point);
    }
}

static void read_points(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out) {
    vs_scene_names names;
    size_t count =
        vs_scene_read_names(reader, shot, "points", 0, VS_SCENE_POINTS_MAX, "point", &names);
    vs_scene_point *point = vs_scene_new(reader, count, sizeof *point);
    vs_json_value list = vs_json_get(shot, "points");
    const vs_camera *camera = out->camera == VS_NONE ? NULL : &reader->scene->camera[out->camera];
    for (size_t i = 0; point && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        point[i].name = names.name[i];
        read_point(reader, &value, camera, &point[i]);
    }
    out->point = point;
    out->point_count = point ? count : 0;
}

/* Takes: the hazer is off for roll_min, then has reset_min to work. */
static void read_takes(const vs_json_value *shot, vs_scene_shot *out) {
    out->roll_s = out->reset_s = NAN;
    vs_json_value takes = vs_json_get(shot, "takes");
    if (vs_json_exists(&takes) && vs_scene_check_keys(&takes, VS_KEYS_TAKES, VS_KIND_UNKNOWN)) {
        out->roll_s =
            vs_json_take_number(&takes, "roll_min", minutes, DEFAULT_ROLL_MIN) * VS_S_PER_MIN;
        out->reset_s =
            vs_json_take_number(&takes, "reset_min", minutes, DEFAULT_RESET_MIN) * VS_S_PER_MIN;
    }
}

static void read_shot(vs_scene_reader *reader, const vs_json_value *value, vs_scene_shot *out) {
    out->camera = vs_scene_need_reference(value, "camera", &reader->cameras);
    out->length_s = vs_json_take_number(value, "minutes", minutes, DEFAULT_MINUTES) * VS_S_PER_MIN;
    out->camera = vs_scene_read_camera_set(reader, value, out->camera);
    read_shot_lights(reader, value, out);
    vs_scene_read_settings(reader, value, out);
    read_densities(reader, value, out);
    read_points(reader, value, out);
    read_takes(value, out);
    vs_json_value after = vs_json_get(value, "after");
    if (vs_json_exists(&after)) {
        out->after = vs_scene_read_references(reader, &after, &reader->shots, &out->after_count);
    }
}

/* Whether `from` must come after `target`, through any chain; `seen` marks the shots visited. */
static bool comes_after(const vs_scene_shot *shot, size_t from, size_t target, bool *seen) {
    for (size_t i = 0; i < shot[from].after_count; i++) {
        size_t before = shot[from].after[i];
        if (before == target) {
            return true;
        }
        if (!seen[before]) {
            seen[before] = true;
            if (comes_after(shot, before, target, seen)) {
                return true;
            }
        }
    }
    return false;
}

static void check_order(const vs_json_value *list, const vs_scene_shot *shot, size_t count) {
    for (size_t i = 0; i < count; i++) {
        bool seen[VS_SCENE_SHOTS_MAX] = {false};
        if (comes_after(shot, i, i, seen)) {
            vs_json_value value = vs_json_at(list, i), after = vs_json_get(&value, "after");
            vs_json_fault(&after, "must not lead back to shot \"%s\" itself",
                          shot[i].name ? shot[i].name : "");
        }
    }
}

void vs_scene_read_shots(vs_scene_reader *reader) {
    size_t count = vs_scene_read_names(reader, &reader->root, "shots", 0, VS_SCENE_SHOTS_MAX,
                                       "shot", &reader->shots);
    vs_scene_shot *shot = vs_scene_new(reader, count, sizeof *shot);
    vs_json_value list = vs_json_get(&reader->root, "shots");
    reader->scene->shot = shot;
    reader->scene->shot_count = shot ? count : 0;
    for (size_t i = 0; i < reader->scene->shot_count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        shot[i].name = reader->shots.name[i];
        shot[i].camera = VS_NONE;
        shot[i].roll_s = shot[i].reset_s = NAN;
        if (vs_scene_check_keys(&value, VS_KEYS_SHOT, VS_KIND_UNKNOWN)) {
            read_shot(reader, &value, &shot[i]);
        }
    }
    for (size_t i = 0; i < reader->scene->shot_count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        vs_scene_read_wants(reader, &value, &shot[i]);
    }
    check_order(&list, shot, reader->scene->shot_count);
}
