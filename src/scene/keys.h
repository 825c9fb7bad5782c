/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every key that a scene file may hold, object by object: what is not here is an unknown key. */
#ifndef VEILSTOP_SCENE_KEYS_H
#define VEILSTOP_SCENE_KEYS_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/light/lamp.h"
#include "veilstop/shot/scene.h"

typedef enum {
    VS_KEYS_SCENE,
    VS_KEYS_ROOM,
    VS_KEYS_REFLECTANCE,
    VS_KEYS_OPENING,
    VS_KEYS_BLOCKER,
    VS_KEYS_FIGURE,
    VS_KEYS_HAZER,
    VS_KEYS_INDIRECT,
    VS_KEYS_LIGHT,
    VS_KEYS_SUN,
    VS_KEYS_FED_BY,
    VS_KEYS_CAMERA,
    VS_KEYS_CURVE,
    VS_KEYS_LOG,
    VS_KEYS_SHOT,
    VS_KEYS_TAKES,
    VS_KEYS_POINT,
    VS_KEYS_WANT,
    VS_KEYS_READING,
    VS_KEYS_PATCHES,
    VS_KEYS_VENUE,
    VS_KEYS_DETECTOR,
    VS_KEYS_PERSON,
    VS_KEYS_COUNT
} vs_scene_object;

/* kinds: for a light and a want, one bit for each kind that takes the key; else all bits. */
typedef struct {
    const char *name; /* of the object, as docs/scene.schema.json defines it */
    const char *const *key;
    const unsigned *kinds; /* NULL: every kind */
    size_t count;
} vs_scene_key_list;

extern const vs_scene_key_list vs_scene_keys[VS_KEYS_COUNT];

/* Whether a light or want of that kind takes a key. */
bool vs_scene_kind_takes(vs_scene_object which, size_t kind, const char *key);

/* The kinds of light and want, in the order of their enums. */
#define VS_LIGHT_KIND_COUNT (VS_LIGHT_PHOTOMETRY + 1)
#define VS_WANT_KIND_COUNT  (VS_WANT_GLOW + 1)
extern const char *const vs_light_kind_words[VS_LIGHT_KIND_COUNT];
extern const char *const vs_want_kind_words[VS_WANT_KIND_COUNT];

#endif
