/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shared by the parts of the scene reader: names and references, keys by kind, choice among
 * keys. */
#include "scene/reader.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

void *vs_scene_new(vs_scene_reader *reader, size_t count, size_t size) {
    void *memory = vs_arena_new(reader->arena, count, size);
    if (!memory && count > 0) {
        reader->out_of_memory = true;
    }
    return memory;
}

/* The kinds that take a key: "panel, tube". */
static void join_kinds(const vs_scene_key_list *list, const char *key, char *text, size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < list->kind_count && used < size; i++) {
        if (list->takes(i, key)) {
            used +=
                (size_t)snprintf(text + used, size - used, "%s%s", used ? ", " : "", list->word[i]);
        }
    }
}

bool vs_scene_check_keys(const vs_json_value *object, vs_scene_object which, size_t kind) {
    const vs_scene_key_list *list = &vs_scene_keys[which];
    if (!vs_json_check_object(object, list->key, list->count)) {
        return false;
    }
    for (size_t i = 0; kind != VS_KIND_UNKNOWN && i < list->count; i++) {
        vs_json_value member = vs_json_get(object, list->key[i]);
        if (!vs_json_exists(&member) || list->takes(kind, list->key[i])) {
            continue;
        }
        char takers[96];
        join_kinds(list, list->key[i], takers, sizeof takers);
        vs_json_fault(&member, "must not stand with %s \"%s\", only with %s", list->kind_key,
                      list->word[kind], takers);
    }
    return true;
}

/* The name of item `index`, given or generated; NULL after a fault. */
static const char *read_name(vs_scene_reader *reader, const vs_json_value *thing, size_t index,
                             const char *noun) {
    vs_json_value value = vs_json_get(thing, "name");
    if (vs_json_exists(&value)) {
        const char *name = vs_json_need_text(&value, NULL);
        if (name && strlen(name) > VS_SCENE_NAME_MAX) {
            vs_json_fault(&value, "must be a name of at most %d bytes (got %zu)", VS_SCENE_NAME_MAX,
                          strlen(name));
            return NULL;
        }
        return name;
    }
    char *made = vs_scene_new(reader, strlen(noun) + 24, 1);
    if (made) {
        sprintf(made, "%s %zu", noun, index + 1);
    }
    return made;
}

static bool is_taken(const vs_scene_names *names, size_t before, const char *name) {
    for (size_t i = 0; i < before; i++) {
        if (names->name[i] && strcmp(names->name[i], name) == 0) {
            return true;
        }
    }
    return false;
}

size_t vs_scene_read_names(vs_scene_reader *reader, const vs_json_value *owner, const char *key,
                           size_t fewest, size_t most, const char *noun, vs_scene_names *names) {
    *names = (vs_scene_names){.noun = noun};
    vs_json_value list = vs_json_get(owner, key);
    if (!vs_json_exists(&list) && fewest == 0) {
        return 0;
    }
    names->broken = !vs_json_check_array(&list, fewest, most, key);
    size_t count = names->broken ? 0 : vs_json_count(&list);
    names->name = vs_scene_new(reader, count, sizeof *names->name);
    names->count = names->name ? count : 0;
    for (size_t i = 0; i < names->count; i++) {
        vs_json_value thing = vs_json_at(&list, i);
        const char *name = vs_json_is_object(&thing) ? read_name(reader, &thing, i, noun) : NULL;
        if (name && is_taken(names, i, name)) {
            vs_json_value value = vs_json_get(&thing, "name");
            vs_json_fault(&value, "must be a name of its own (got \"%s\" again)", name);
            name = NULL;
        }
        names->name[i] = name;
        names->broken = names->broken || !name;
    }
    return names->count;
}

size_t vs_scene_find(const vs_scene_names *names, const char *name) {
    for (size_t i = 0; i < names->count; i++) {
        if (names->name[i] && strcmp(names->name[i], name) == 0) {
            return i;
        }
    }
    return VS_NONE;
}

/* "a" or "an". */
static const char *article(const char *noun) {
    return strchr("aeiou", noun[0]) ? "an" : "a";
}

/* The index of a name; otherwise VS_NONE, with a fault at `value` if all names are known. */
static size_t find_name(const vs_json_value *value, const char *name, const vs_scene_names *names) {
    size_t found = vs_scene_find(names, name);
    if (found != VS_NONE) {
        return found;
    }
    const char *nearest = vs_json_nearest(name, names->name, names->count);
    if (!names->broken && nearest) {
        vs_json_fault(value, "must be the name of %s %s; did you mean \"%s\"? (got \"%s\")",
                      article(names->noun), names->noun, nearest, name);
    } else if (!names->broken) {
        vs_json_fault(value, "must be the name of %s %s (got \"%s\")", article(names->noun),
                      names->noun, name);
    }
    return VS_NONE;
}

size_t vs_scene_need_reference(const vs_json_value *object, const char *key,
                               const vs_scene_names *names) {
    vs_json_value value = key ? vs_json_get(object, key) : *object;
    if (!vs_json_is_text(&value)) {
        vs_json_fault_got(&value, "must be the name of %s %s", article(names->noun), names->noun);
        return VS_NONE;
    }
    const char *name = vs_json_need_text(&value, NULL);
    return name ? find_name(&value, name, names) : VS_NONE;
}

size_t vs_scene_key_reference(const vs_json_value *member, const vs_scene_names *names) {
    return find_name(member, vs_json_key(member), names);
}

size_t vs_scene_take_reference(const vs_json_value *object, const char *key,
                               const vs_scene_names *names, size_t fallback) {
    vs_json_value value = key ? vs_json_get(object, key) : *object;
    return vs_json_exists(&value) ? vs_scene_need_reference(&value, NULL, names) : fallback;
}

size_t vs_scene_take_room(vs_scene_reader *reader, const vs_json_value *object) {
    vs_json_value value = vs_json_get(object, "room");
    bool only = reader->rooms.count == 1 && !vs_json_exists(&value);
    return only ? 0 : vs_scene_need_reference(&value, NULL, &reader->rooms);
}

size_t *vs_scene_read_references(vs_scene_reader *reader, const vs_json_value *list,
                                 const vs_scene_names *names, size_t *count) {
    *count = 0;
    char what[64];
    snprintf(what, sizeof what, "names of %ss", names->noun);
    if (!vs_json_check_array(list, 0, names->broken ? SIZE_MAX : names->count, what)) {
        return NULL;
    }
    size_t given = vs_json_count(list);
    size_t *index = vs_scene_new(reader, given, sizeof *index);
    for (size_t i = 0; index && i < given; i++) {
        vs_json_value value = vs_json_at(list, i);
        size_t found = vs_scene_need_reference(&value, NULL, names);
        bool again = false;
        for (size_t j = 0; j < *count; j++) {
            again = again || index[j] == found;
        }
        if (again) {
            vs_json_fault_got(&value, "must be named once");
        } else if (found != VS_NONE) {
            index[(*count)++] = found;
        }
    }
    return index;
}

size_t vs_scene_only_one(const vs_json_value *object, const char *const *key, size_t count,
                         bool need) {
    size_t found = SIZE_MAX;
    for (size_t i = 0; i < count; i++) {
        vs_json_value member = vs_json_get(object, key[i]);
        if (!vs_json_exists(&member)) {
            continue;
        }
        if (found != SIZE_MAX) {
            vs_json_fault(&member, "must not stand beside %s: give one of the two", key[found]);
            return SIZE_MAX;
        }
        found = i;
    }
    if (found == SIZE_MAX && need) {
        char list[128] = "";
        for (size_t i = 0; i < count; i++) {
            strcat(strcat(list, i == 0 ? "" : i + 1 < count ? ", " : " or "), key[i]);
        }
        vs_json_fault(object, "must give %s (got none)", list);
    }
    return found;
}
