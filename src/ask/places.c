/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/places.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/scene/json.h"

#define WORD_SIZE 160 /* [bytes] of a place; our choice */

bool vs_ask_position_read(const char *text, vs_length_unit units, vs_vec3 *at_m) {
    double *part[3] = {&at_m->x, &at_m->y, &at_m->z};
    for (int i = 0; i < 3; i++) {
        char number[32];
        size_t length = strcspn(text, ",");
        if (length == 0 || length >= sizeof number || (i < 2) != (text[length] == ',')) {
            return false;
        }
        snprintf(number, sizeof number, "%.*s", (int)length, text);
        size_t used = vs_number_parse(number, part[i]);
        if (used > 0 && !number[used]) {
            *part[i] *= vs_length_unit_m(units);
        } else if (vs_length_parse(number, part[i]) != VS_OK) {
            return false;
        }
        text += length + (i < 2);
    }
    return isfinite(at_m->x) && isfinite(at_m->y) && isfinite(at_m->z);
}

/* Ends of the three axes, each given once: 0 low, 1 high. */
typedef struct {
    const char *word[3][2];
} ends;

static const ends of_rooms = {{{"west", "east"}, {"south", "north"}, {"floor", "ceiling"}}};
static const ends of_openings = {{{"west", "east"}, {"south", "north"}, {"bottom", "top"}}};

/* "floor-west-north" in any order. flat: an axis that is not given; -1: all three are. */
static bool read_ends(const char *text, const ends *known, int flat, int end[3]) {
    end[0] = end[1] = end[2] = -1;
    while (*text) {
        size_t length = strcspn(text, "-");
        bool found = false;
        for (int axis = 0; axis < 3; axis++) {
            for (int side = 0; side < 2; side++) {
                const char *word = known->word[axis][side];
                if (strlen(word) == length && strncmp(word, text, length) == 0 && end[axis] < 0 &&
                    axis != flat) {
                    end[axis] = side;
                    found = true;
                }
            }
        }
        if (!found || (text[length] == '-' && !text[length + 1])) {
            return false;
        }
        text += length + (text[length] == '-');
    }
    return (end[0] >= 0 || flat == 0) && (end[1] >= 0 || flat == 1) && (end[2] >= 0 || flat == 2);
}

static vs_vec3 pick(vs_vec3 low, vs_vec3 high, const int end[3]) {
    vs_vec3 at = {end[0] > 0 ? high.x : low.x, end[1] > 0 ? high.y : low.y,
                  end[2] > 0 ? high.z : low.z};
    return at;
}

/* The names of a kind of thing in a scene. */
typedef struct {
    const char *what;
    size_t count;
    const char *(*name)(const void *of, size_t i);
    const void *of;
} list;

static const char *room_name(const void *of, size_t i) {
    return ((const vs_scene *)of)->room[i].name;
}
static const char *opening_name(const void *of, size_t i) {
    return ((const vs_scene *)of)->opening[i].name;
}
static const char *point_name(const void *of, size_t i) {
    return ((const vs_scene_shot *)of)->point[i].name;
}

static size_t find(const list *all, const char *name, size_t length, vs_text *why) {
    const char **names = calloc(all->count + 1, sizeof *names);
    char given[WORD_SIZE];
    size_t found = VS_NONE;
    snprintf(given, sizeof given, "%.*s", (int)length, name);
    for (size_t i = 0; names && i < all->count; i++) {
        names[i] = all->name(all->of, i);
        found = strcmp(names[i], given) == 0 ? i : found;
    }
    if (found == VS_NONE) {
        const char *near = names ? vs_json_nearest(given, names, all->count) : NULL;
        vs_text_addf(why, "names no %s of the scene%s%s", all->what, near ? "; did you mean " : "",
                     near ? near : "");
    }
    free(names);
    return found;
}

static bool read_corner(const char *text, const vs_scene *scene, size_t room, vs_vec3 *at_m,
                        vs_text *why) {
    const char *colon = strrchr(text, ':');
    list rooms = {"room", scene->room_count, room_name, scene};
    int end[3];
    if (colon) {
        room = find(&rooms, text, (size_t)(colon - text), why);
    }
    if (room >= scene->room_count) {
        return false;
    }
    if (!read_ends(colon ? colon + 1 : text, &of_rooms, -1, end)) {
        vs_text_addf(why,
                     "must be a corner such as corner:floor-west-north or corner:%s:ceiling-"
                     "east-south",
                     scene->room[room].name);
        return false;
    }
    const vs_scene_room *r = &scene->room[room];
    *at_m = pick(r->corner_m, vs_vec3_add(r->corner_m, r->size_m), end);
    return true;
}

static bool read_opening(const char *text, const vs_scene *scene, vs_vec3 *at_m, vs_text *why) {
    const char *colon = strrchr(text, ':');
    list openings = {"opening", scene->opening_count, opening_name, scene};
    size_t length = colon ? (size_t)(colon - text) : strlen(text);
    size_t found = find(&openings, text, length, why);
    if (found == VS_NONE) {
        return false;
    }
    const vs_scene_opening *o = &scene->opening[found];
    vs_vec3 low = o->corner_m[0], high = o->corner_m[0], b = o->corner_m[1];
    vs_vec3 first = {fmin(low.x, b.x), fmin(low.y, b.y), fmin(low.z, b.z)};
    vs_vec3 last = {fmax(high.x, b.x), fmax(high.y, b.y), fmax(high.z, b.z)};
    int flat = first.x == last.x ? 0 : first.y == last.y ? 1 : 2, end[3];
    static const char *const example[] = {"bottom-north", "bottom-east", "north-east"};
    if (!colon || !read_ends(colon + 1, &of_openings, flat, end)) {
        vs_text_addf(why, "must be a corner of its wall such as opening:%s:%s", o->name,
                     example[flat]);
        return false;
    }
    *at_m = pick(first, last, end);
    return true;
}

bool vs_ask_place_read(const char *text, const vs_ask_scene *scene, const vs_scene_shot *shot,
                       size_t room, vs_vec3 *at_m, vs_text *why) {
    if (strncmp(text, "corner:", 7) == 0) {
        return read_corner(text + 7, scene->scene, room, at_m, why);
    }
    if (strncmp(text, "opening:", 8) == 0) {
        return read_opening(text + 8, scene->scene, at_m, why);
    }
    if (strncmp(text, "point:", 6) == 0) {
        list points = {"point", shot->point_count, point_name, shot};
        size_t found = find(&points, text + 6, strlen(text + 6), why);
        if (found != VS_NONE) {
            *at_m = shot->point[found].at_m;
        }
        return found != VS_NONE;
    }
    if (vs_ask_position_read(text, scene->style.units, at_m)) {
        return true;
    }
    vs_text_addf(why,
                 "must be three lengths, corner:floor-west-north, opening:NAME:bottom-north or "
                 "point:NAME");
    return false;
}
