/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the scene reader: the scene being filled, names, references. A failed
 * read leaves NaN, NULL or VS_NONE; checks between items skip those, so that each fault is
 * reported once. */
#ifndef VEILSTOP_SCENE_READER_H
#define VEILSTOP_SCENE_READER_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "scene/arena.h"
#include "scene/keys.h"
#include "veilstop/scene/json.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/scene.h"

/* Lists are bounded so that no file asks for more work than a day's shooting could. These bounds,
 * and those of figures that no standard bounds (vs_json_range), are our choice: beyond them lie
 * typing errors. */
#define VS_SCENE_ROOMS_MAX     64
#define VS_SCENE_OPENINGS_MAX  64
#define VS_SCENE_BLOCKERS_MAX  64
#define VS_SCENE_FIGURES_MAX   16
#define VS_SCENE_HAZERS_MAX    16
#define VS_SCENE_LIGHTS_MAX    256
#define VS_SCENE_CAMERAS_MAX   64
#define VS_SCENE_SHOTS_MAX     512
#define VS_SCENE_POINTS_MAX    64
#define VS_SCENE_WANTS_MAX     64
#define VS_SCENE_READINGS_MAX  1000
#define VS_SCENE_VENUE_MAX     64 /* detectors, people, rules: of each */
#define VS_SCENE_UNCERTAIN_MAX 32
#define VS_SCENE_NAME_MAX      64   /* [bytes] */
#define VS_SCENE_FAR_M         1e4  /* [m] no coordinate or size is larger: our choice */
#define VS_SCENE_TOUCH_M       1e-6 /* [m] closer than this is the same place: our choice */
#define VS_SCENE_NARROW_M      1e-3 /* [m] no size is smaller: our choice */

/* The names of one kind of item, in the order of the file. */
typedef struct {
    const char *noun;  /* "light" */
    const char **name; /* NULL if it could not be read */
    size_t count;
    bool broken; /* a name is missing from the list, so an unknown one need not be a fault */
} vs_scene_names;

#define VS_SCENE_FIGURE_PLATES 10 /* opaque rectangles of a body */

/* A standing body: the position of its feet, and its facing. */
typedef struct {
    vs_vec3 at_m, facing; /* facing: level unit vector */
    double height_m, reflectance;
} vs_scene_figure;

typedef struct {
    vs_scene *scene;
    vs_arena *arena;
    const vs_scene_places *places;
    vs_json_value root;
    double unit_m; /* the scene's unit of length [m] */
    vs_scene_names rooms, openings, lights, cameras, shots, figures;
    const vs_scene_figure *figure; /* one per name in `figures` */
    vs_scene_blocker *blocker;     /* of the scene, with room for the figures' plates */
    vs_light *light;   /* of the scene, while they are read; room for VS_SCENE_LIGHTS_MAX */
    size_t parts;      /* number of further parts of lights so far, after the named ones */
    vs_camera *camera; /* of the scene, with room for one more per shot */
    bool out_of_memory;
    bool file_unread; /* a file named by the scene cannot be read; one of the faults says so */
} vs_scene_reader;

/* Zeroed memory for an array of the scene; NULL if `count` is 0, or when memory runs out, which the
 * reader notes. */
void *vs_scene_new(vs_scene_reader *reader, size_t count, size_t size);

#define VS_KIND_UNKNOWN SIZE_MAX /* in place of an object's kind: every key passes */

/* Checks an object's keys against those it may have, or those its kind takes. False if it is not an
 * object. */
bool vs_scene_check_keys(const vs_json_value *object, vs_scene_object which, size_t kind);

/* The list `key` of `owner` with 0 or `fewest` to `most` items: their number, and their distinct
 * names. An item without a name is called by its noun and number. 0 if absent or wrong. */
size_t vs_scene_read_names(vs_scene_reader *reader, const vs_json_value *owner, const char *key,
                           size_t fewest, size_t most, const char *noun, vs_scene_names *names);
/* The index of a name; VS_NONE if there is none. */
size_t vs_scene_find(const vs_scene_names *names, const char *name);
/* The index of the name under `key`; VS_NONE after a fault. As for the readers of json.h, a NULL
 * `key` means the value itself. */
size_t vs_scene_need_reference(const vs_json_value *object, const char *key,
                               const vs_scene_names *names);
size_t vs_scene_take_reference(const vs_json_value *object, const char *key,
                               const vs_scene_names *names, size_t fallback);
/* The index named by a member's key, as in {ROOM: number}. */
size_t vs_scene_key_reference(const vs_json_value *member, const vs_scene_names *names);
/* The room that `object` names under "room"; the scene's only one if it names none. */
size_t vs_scene_take_room(vs_scene_reader *reader, const vs_json_value *object);
/* A list of names, each once; count in *count. NULL for none. */
size_t *vs_scene_read_references(vs_scene_reader *reader, const vs_json_value *list,
                                 const vs_scene_names *names, size_t *count);

/* Which of several keys an object has: SIZE_MAX and a fault if it has none or more than one. With
 * `need` false, none is not a fault. */
size_t vs_scene_only_one(const vs_json_value *object, const char *const *key, size_t count,
                         bool need);

#endif
