/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Wants: what a shot asks of its haze, in terms of its points and lights and of other shots. */
#include "scene/parts/read_wants.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "scene/place/lengths.h"
#include "scene/reader.h"
#include "veilstop/base/units.h"

/* The range of a limit, by its unit, and the factor to the library's unit. */
static const struct {
    vs_json_range range;
    double factor;
} limit_of[] = {
    [VS_WANT_IN_STOPS] = {{0, 30, true, false}, 1},
    [VS_WANT_IN_PERCENT] = {{0, 100, true, false}, 1},
    [VS_WANT_IN_METRES] = {{0.04, 1e6, false, false}, 1}, /* as a shot's visible_range_m */
    [VS_WANT_IN_RADIANS] = {{0, 180, true, false}, VS_RAD_PER_DEG}, /* degrees in files */
};

/* The names of a shot's points, borrowed from them. */
static vs_scene_names point_names(vs_scene_reader *reader, const vs_json_value *shot,
                                  const vs_scene_shot *of) {
    vs_json_value list = vs_json_get(shot, "points");
    vs_scene_names names = {.noun = "point of the shot", .count = of->point_count};
    names.name = vs_scene_new(reader, of->point_count, sizeof *names.name);
    names.count = names.name ? of->point_count : 0;
    names.broken = names.count != vs_json_count(&list);
    for (size_t i = 0; i < names.count; i++) {
        names.name[i] = of->point[i].name;
        names.broken = names.broken || !names.name[i];
    }
    return names;
}

static void read_between(const vs_json_value *value, const vs_scene_names *points,
                         vs_scene_want *want) {
    vs_json_value list = vs_json_get(value, "between");
    if (!vs_json_is_array(&list) || vs_json_count(&list) != 2) {
        vs_json_fault_got(&list, "must be an array of two names of points");
        return;
    }
    vs_json_value first = vs_json_at(&list, 0), second = vs_json_at(&list, 1);
    want->a = vs_scene_need_reference(&first, NULL, points);
    want->b = vs_scene_need_reference(&second, NULL, points);
    if (want->a != VS_NONE && want->a == want->b) {
        vs_json_fault(&list, "must name two different points (got one twice)");
    }
}

/* A light that the shot uses; a want cannot name another. */
static void read_want_light(vs_scene_reader *reader, const vs_json_value *value,
                            const vs_scene_shot *shot, vs_scene_want *want) {
    want->light = vs_scene_need_reference(value, "light", &reader->lights);
    bool used = want->light == VS_NONE;
    for (size_t i = 0; i < shot->light_count; i++) {
        used = used || shot->light[i] == want->light;
    }
    if (!used) {
        vs_json_value light = vs_json_get(value, "light");
        vs_json_fault_got(&light, "must be a light that the shot uses");
    }
}

/* Without a place, a beam is sought along its axis, so the light must have one. */
static void check_axis(vs_scene_reader *reader, const vs_json_value *value,
                       const vs_scene_want *want) {
    if (want->light == VS_NONE) {
        return;
    }
    vs_light_kind kind = reader->scene->light[want->light].kind;
    if (!vs_light_kind_is(kind, VS_LIGHT_HAS_AXIS)) {
        vs_json_fault(value,
                      "must give near: only a spot, a sun or a photometry light has a beam to "
                      "look along (got a %s)",
                      vs_light_kind_word(kind));
    }
}

static void read_near(vs_scene_reader *reader, const vs_json_value *value,
                      const vs_scene_shot *shot, vs_scene_want *want) {
    vs_json_value given = vs_json_get(value, "near");
    want->near_m.x = want->near_m.y = want->near_m.z = NAN;
    if (!vs_json_exists(&given)) {
        check_axis(reader, value, want);
        return;
    }
    want->near_m = vs_scene_need_inside(reader, value, "near");
    if (shot->camera != VS_NONE &&
        vs_scene_same_place(want->near_m, reader->scene->camera[shot->camera].at_m)) {
        vs_json_value near = vs_json_get(value, "near");
        vs_json_fault(&near, "must be another place than the camera (got the same)");
    }
}

/* The point of that name in the other shot. */
static void read_like(vs_scene_reader *reader, const vs_json_value *value,
                      const vs_scene_names *points, vs_scene_want *want) {
    want->a = vs_scene_need_reference(value, "at", points);
    want->shot = vs_scene_need_reference(value, "shot", &reader->shots);
    vs_json_value shot = vs_json_get(value, "shot");
    if (want->a == VS_NONE || want->shot == VS_NONE) {
        return;
    }
    const vs_scene_shot *other = &reader->scene->shot[want->shot];
    for (size_t i = 0; i < other->point_count; i++) {
        const char *name = other->point[i].name;
        if (name && strcmp(name, points->name[want->a]) == 0) {
            want->other = i;
        }
    }
    if (want->other == VS_NONE) {
        vs_json_fault_got(&shot, "must be a shot that has a point \"%s\" too",
                          points->name[want->a]);
    }
}

static void read_subject(vs_scene_reader *reader, const vs_json_value *value,
                         const vs_scene_shot *shot, const vs_scene_names *points,
                         vs_scene_want *want) {
    switch (vs_want_traits_of(want->kind)->subject) {
    case VS_WANT_OF_NOTHING:
        break;
    case VS_WANT_OF_POINT:
        want->a = vs_scene_need_reference(value, "at", points);
        break;
    case VS_WANT_OF_POINTS:
        read_between(value, points, want);
        break;
    case VS_WANT_OF_LIGHT:
        read_want_light(reader, value, shot, want);
        break;
    case VS_WANT_OF_BEAM:
        read_want_light(reader, value, shot, want);
        read_near(reader, value, shot, want);
        break;
    case VS_WANT_OF_POINT_AND_SHOT:
        read_like(reader, value, points, want);
        break;
    }
}

static void read_limit(const vs_json_value *value, vs_scene_want *want) {
    const vs_want_traits *t = vs_want_traits_of(want->kind);
    double limit = t->unit == VS_WANT_IN_METRES
                       ? vs_scene_need_metres(value, t->limit_key, limit_of[t->unit].range)
                       : vs_json_need_number(value, t->limit_key, limit_of[t->unit].range);
    want->limit = limit * limit_of[t->unit].factor;
}

void vs_scene_read_wants(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out) {
    vs_json_value list = vs_json_get(shot, "wants");
    if (!vs_json_exists(&list) || !vs_json_check_array(&list, 0, VS_SCENE_WANTS_MAX, "wants")) {
        return;
    }
    size_t count = vs_json_count(&list);
    vs_scene_names points = point_names(reader, shot, out);
    vs_scene_want *want = vs_scene_new(reader, count, sizeof *want);
    for (size_t i = 0; want && i < count; i++) {
        vs_json_value value = vs_json_at(&list, i);
        want[i].a = want[i].b = want[i].light = want[i].shot = want[i].other = VS_NONE;
        if (!vs_json_is_object(&value)) {
            vs_json_fault_got(&value, "must be an object, { }");
            continue;
        }
        size_t kind =
            vs_json_need_choice(&value, "want", vs_scene_words(VS_KEYS_WANT), VS_WANT_KIND_COUNT);
        if (kind != SIZE_MAX) {
            vs_scene_check_keys(&value, VS_KEYS_WANT, kind);
            want[i].kind = (vs_want_kind)kind;
            read_subject(reader, &value, out, &points, &want[i]);
            read_limit(&value, &want[i]);
        }
    }
    out->want = want;
    out->want_count = want ? count : 0;
}
