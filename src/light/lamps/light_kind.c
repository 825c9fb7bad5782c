/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See light_kind.h. */
#include "veilstop/light/light_kind.h"

#include <string.h>

typedef struct {
    const char *word;
    unsigned traits;
    const char *keys; /* between blanks */
} traits_of_kind;

#define ROW(member, word, traits, keys, emitter, reader) {word, traits, keys},
static const traits_of_kind row[VS_LIGHT_KIND_COUNT] = {VS_LIGHT_LIST(ROW)};

static const traits_of_kind *row_of(vs_light_kind kind) {
    return &row[(unsigned)kind < VS_LIGHT_KIND_COUNT ? kind : 0];
}

const char *vs_light_kind_word(vs_light_kind kind) {
    return row_of(kind)->word;
}

bool vs_light_kind_is(vs_light_kind kind, unsigned trait) {
    return row_of(kind)->traits & trait;
}

bool vs_light_kind_takes(vs_light_kind kind, const char *key) {
    size_t length = strlen(key);
    for (const char *at = row_of(kind)->keys; *at;) {
        size_t word = strcspn(at, " ");
        if (word == length && memcmp(at, key, length) == 0) {
            return true;
        }
        at += word + strspn(at + word, " ");
    }
    return false;
}
