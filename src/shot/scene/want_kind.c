/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See want_kind.h. */
#include "veilstop/shot/want_kind.h"

#include <string.h>

/* The limit's columns by its member. */
#define LIMIT(member, key, bound, unit)                                                            \
    static const char limit_key_##member[] = key;                                                  \
    enum { LIMIT_BOUND_##member = VS_WANT_##bound, LIMIT_UNIT_##member = VS_WANT_IN_##unit };
VS_WANT_LIMIT_LIST(LIMIT)

#define ROW(member, word, subject, effect, limit, value, words, short_words)                       \
    {word,                                                                                         \
     VS_WANT_OF_##subject,                                                                         \
     VS_WANT_##effect,                                                                             \
     limit_key_##limit,                                                                            \
     (vs_want_bound)LIMIT_BOUND_##limit,                                                           \
     (vs_want_unit)LIMIT_UNIT_##limit,                                                             \
     words,                                                                                        \
     short_words},
static const vs_want_traits row[VS_WANT_KIND_COUNT] = {VS_WANT_LIST(ROW)};

const vs_want_traits *vs_want_traits_of(vs_want_kind kind) {
    return &row[(unsigned)kind < VS_WANT_KIND_COUNT ? kind : 0];
}

/* The key by which a want names each of its subjects. */
static const struct {
    const char *key;
    unsigned subjects;
} named[] = {{"between", 1u << VS_WANT_OF_POINTS},
             {"at", 1u << VS_WANT_OF_POINT | 1u << VS_WANT_OF_POINT_AND_SHOT},
             {"light", 1u << VS_WANT_OF_LIGHT | 1u << VS_WANT_OF_BEAM},
             {"near", 1u << VS_WANT_OF_BEAM},
             {"shot", 1u << VS_WANT_OF_POINT_AND_SHOT}};

bool vs_want_takes(vs_want_kind kind, const char *key) {
    const vs_want_traits *t = vs_want_traits_of(kind);
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++) {
        if (strcmp(key, named[i].key) == 0) {
            return named[i].subjects & 1u << t->subject;
        }
    }
    return strcmp(key, "want") == 0 || strcmp(key, t->limit_key) == 0;
}

bool vs_want_asks(vs_want_kind kind) {
    return vs_want_traits_of(kind)->effect != VS_WANT_HOLDS_BACK;
}

bool vs_want_holds_back(vs_want_kind kind) {
    return vs_want_traits_of(kind)->effect != VS_WANT_ASKS;
}
