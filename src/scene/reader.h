/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the scene reader share: the scene being filled, names, lengths, positions.
 * A failed reading leaves NaN, NULL or VS_NONE; checks across things skip those, so that one fault
 * is reported once. */
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

/* Lists are bounded so that no file asks for more work than a day's shooting can mean; these
 * bounds, and those of figures that no standard bounds (vs_json_range), are our choice: past them
 * is a slip of the hand. */
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

/* The names of one kind of thing, in the order of the file. */
typedef struct {
    const char *noun;  /* "light" */
    const char **name; /* NULL where it could not be read */
    size_t count;
    bool broken; /* a name is missing from the list, so that an unknown one may not be a fault */
} vs_scene_names;

#define VS_SCENE_FIGURE_PLATES 10 /* opaque rectangles of a body */

/* A standing body: where its feet are, which way it looks. */
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
    const vs_scene_figure *figure; /* one a name of figures */
    vs_scene_blocker *blocker;     /* of the scene, with room for the figures' plates */
    vs_light *light;   /* of the scene, while they are read; room for VS_SCENE_LIGHTS_MAX */
    size_t parts;      /* further parts of lights so far, behind the named ones */
    vs_camera *camera; /* of the scene, with room for one more a shot */
    bool out_of_memory;
    bool file_unread; /* a file that the scene names cannot be read: one of the faults says so */
} vs_scene_reader;

/* The parts, in the order in which they need one another. */
void vs_scene_read_rooms(vs_scene_reader *reader);
void vs_scene_read_openings(vs_scene_reader *reader);
void vs_scene_read_blockers(vs_scene_reader *reader);
void vs_scene_read_figures(vs_scene_reader *reader); /* adds blockers */
/* A place on a figure's front at a height over its feet [m]. */
vs_vec3 vs_scene_on_figure(const vs_scene_figure *figure, double height_m);
/* The name of the figure that has a place inside its body; NULL: none. */
const char *vs_scene_figure_around(const vs_scene_reader *reader, vs_vec3 at_m);
void vs_scene_read_lights(vs_scene_reader *reader);
/* The file and roll of a light whose place has been read. */
void vs_scene_read_photometry(vs_scene_reader *reader, const vs_json_value *value, vs_light *light);
/* The path of a file named in a scene: its own if it starts at the root, else from the scene's
 * folder. NULL when memory ran out. Caller frees. */
char *vs_scene_path_of(const char *folder, const char *name);
/* Through which openings a sun or sky comes, and which way a sun travels; adds its parts. */
void vs_scene_read_windows(vs_scene_reader *reader, const vs_json_value *value, vs_light *light);
/* The way light travels from where {azimuth_deg, elevation_deg} says the sun stands; NaN after a
 * fault. */
vs_vec3 vs_scene_need_sun(const vs_json_value *value);
/* Whether light that travels that way comes in through a sun's opening. True where either has no
 * place. */
bool vs_scene_sun_enters(const vs_scene_reader *reader, const vs_light *sun, vs_vec3 travel);
void vs_scene_read_cameras(vs_scene_reader *reader);
/* What a shot sets otherwise on its camera: the index of the camera as set, or its own. */
size_t vs_scene_read_camera_set(vs_scene_reader *reader, const vs_json_value *shot, size_t camera);
void vs_scene_read_shots(vs_scene_reader *reader);
void vs_scene_read_air(vs_scene_reader *reader); /* fluid, hazer, indirect */
void vs_scene_read_readings(vs_scene_reader *reader);
void vs_scene_read_venue(vs_scene_reader *reader);
void vs_scene_read_uncertain(vs_scene_reader *reader);
/* What a shot sets otherwise than the scene: dimmers, openings, the sun. Its lights must have been
 * read. */
void vs_scene_read_settings(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out);
/* Points of the shots must have been read. */
void vs_scene_read_wants(vs_scene_reader *reader, const vs_json_value *shot, vs_scene_shot *out);

/* Zeroed memory for an array of the scene; NULL for none, or when memory ran out, which is
 * remembered. */
void *vs_scene_new(vs_scene_reader *reader, size_t count, size_t size);

#define VS_KIND_UNKNOWN SIZE_MAX /* in place of an object's kind: every key passes */

/* Checks an object's keys against those that it may have, or those that its kind takes. False where
 * it is no object. */
bool vs_scene_check_keys(const vs_json_value *object, vs_scene_object which, size_t kind);

/* The list `key` of `owner` with 0 or `fewest` to `most` things: how many, and their names, each
 * its own. A thing without a name is called by its noun and number. 0 where absent or wrong. */
size_t vs_scene_read_names(vs_scene_reader *reader, const vs_json_value *owner, const char *key,
                           size_t fewest, size_t most, const char *noun, vs_scene_names *names);
/* The index of a name; VS_NONE where there is none. */
size_t vs_scene_find(const vs_scene_names *names, const char *name);
/* The index that a name has; VS_NONE after a fault. As for the readers of json.h, `key` NULL means
 * the value itself. */
size_t vs_scene_need_reference(const vs_json_value *object, const char *key,
                               const vs_scene_names *names);
size_t vs_scene_take_reference(const vs_json_value *object, const char *key,
                               const vs_scene_names *names, size_t fallback);
/* The index that the key of a member names, as in {ROOM: number}. */
size_t vs_scene_key_reference(const vs_json_value *member, const vs_scene_names *names);
/* The room that `object` names under "room"; the scene's only one where it names none. */
size_t vs_scene_take_room(vs_scene_reader *reader, const vs_json_value *object);
/* A list of names, each once; count in *count. NULL for none. */
size_t *vs_scene_read_references(vs_scene_reader *reader, const vs_json_value *list,
                                 const vs_scene_names *names, size_t *count);

/* " m" or " ft", as stands after a number. */
const char *vs_scene_unit_text(double unit_m);
/* A length [m]: a number in the scene's unit, or a text with its own. NaN after a fault. */
double vs_scene_need_length(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                            vs_json_range range_m);
/* A length whose key ends in _m: a number is in metres whatever the scene's unit. */
double vs_scene_need_metres(const vs_json_value *object, const char *key, vs_json_range range_m);
double vs_scene_take_metres(const vs_json_value *object, const char *key, vs_json_range range_m,
                            double fallback);
/* Three lengths. NaN throughout after a fault. */
vs_vec3 vs_scene_need_position(vs_scene_reader *reader, const vs_json_value *object,
                               const char *key);
/* A position other than `from`: an aim. */
vs_vec3 vs_scene_need_aim(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                          vs_vec3 from, const char *from_key);
/* Two lengths over 0. */
void vs_scene_need_size2(vs_scene_reader *reader, const vs_json_value *object, const char *key,
                         double *width_m, double *height_m);
/* Three numbers that point somewhere, as a unit vector. NaN after a fault. */
vs_vec3 vs_scene_need_direction(const vs_json_value *object, const char *key);

/* A position that must stand in a room, walls included; moved onto the wall where it is off it by
 * less than VS_SCENE_TOUCH_M. */
vs_vec3 vs_scene_need_inside(vs_scene_reader *reader, const vs_json_value *object, const char *key);

static inline bool vs_scene_is_position(vs_vec3 a) {
    return !isnan(a.x) && !isnan(a.y) && !isnan(a.z);
}
bool vs_scene_same_place(vs_vec3 a, vs_vec3 b);

/* Which of several keys an object has: SIZE_MAX and a fault where it has none or more than one.
 * `need` false: none is no fault. */
size_t vs_scene_only_one(const vs_json_value *object, const char *const *key, size_t count,
                         bool need);

#endif
