/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every key that a scene file may hold, object by object; any other is reported as unknown. */
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

/* The keys of an object; for an object with kinds, which kind takes which. */
typedef struct {
    const char *name; /* of the object, as in docs/scene.schema.json */
    const char *const *key;
    size_t count;
    const char *kind_key; /* the key that gives its kind; NULL: no kinds, and the rest is unused */
    bool (*takes)(size_t kind, const char *key);
    const char *const *word; /* of each kind */
    size_t kind_count;
} vs_scene_key_list;

extern const vs_scene_key_list vs_scene_keys[VS_KEYS_COUNT];

/* The words of an object's kinds, in the order of their enum. */
const char *const *vs_scene_words(vs_scene_object which);

#endif
