/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kinds of want, in one table: a row is all that the scene reader, the prediction, the choice
 * and the answers need to know of a want; its value is calculated in src/shot/predict/want.c. */
#ifndef VEILSTOP_SHOT_WANT_KIND_H
#define VEILSTOP_SHOT_WANT_KIND_H

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

/** What a want names, which determines its keys. */
typedef enum {
    VS_WANT_OF_NOTHING,
    VS_WANT_OF_POINT,         /* "at": a */
    VS_WANT_OF_POINTS,        /* "between": a and b, the near one first */
    VS_WANT_OF_LIGHT,         /* "light" */
    VS_WANT_OF_BEAM,          /* "light", and "near": where in its beam */
    VS_WANT_OF_POINT_AND_SHOT /* "at" and "shot": a, and the point of that name in that shot */
} vs_want_subject;

/** The unit of its limit and value. */
typedef enum {
    VS_WANT_IN_STOPS,
    VS_WANT_IN_PERCENT,
    VS_WANT_IN_METRES,
    VS_WANT_IN_RADIANS /* in degrees for people and in files */
} vs_want_unit;

/** Whether the limit is an upper or a lower one. */
typedef enum { VS_WANT_AT_MOST, VS_WANT_AT_LEAST } vs_want_bound;

/** Effect of the want on the density. */
typedef enum { VS_WANT_HOLDS_BACK, VS_WANT_ASKS, VS_WANT_DOES_BOTH } vs_want_effect;

/* The keys of limits: X(member, key, bound, unit). */
#define VS_WANT_LIMIT_LIST(X)                                                                      \
    X(LOSE_AT_MOST_STOPS, "lose_at_most_stops", AT_MOST, STOPS)                                    \
    X(LIFT_AT_MOST_PERCENT, "lift_at_most_percent", AT_MOST, PERCENT)                              \
    X(AT_LEAST_STOPS, "at_least_stops", AT_LEAST, STOPS)                                           \
    X(AT_LEAST_M, "at_least_m", AT_LEAST, METRES)                                                  \
    X(WITHIN_STOPS, "within_stops", AT_MOST, STOPS)                                                \
    X(AT_MOST_DEG, "at_most_deg", AT_MOST, RADIANS)

/* A test compiles rows of its own in here, to show that a row is all a new want needs. */
#ifndef VS_WANT_EXTRA_ROWS
#define VS_WANT_EXTRA_ROWS(X)
#endif

/* X(member, word in files, subject, effect, limit, value, words, short words): `value` names its
 * function in want.c. In words, {a} {b} {light} {shot} are replaced by names; the limit follows. */
#define VS_WANT_LIST(X)                                                                            \
    X(CONTRAST, "contrast", POINTS, HOLDS_BACK, LOSE_AT_MOST_STOPS, contrast,                      \
      "{a} / {b} lose at most", "contrast {a} / {b}")                                              \
    X(BLACK, "black", POINT, HOLDS_BACK, LIFT_AT_MOST_PERCENT, black,                              \
      "black at {a} lifts at most", "black at {a}")                                                \
    X(BEAM, "beam", BEAM, ASKS, AT_LEAST_STOPS, beam, "beam of {light} reads at least",            \
      "beam of {light}")                                                                           \
    X(SEPARATION, "separation", POINTS, ASKS, AT_LEAST_STOPS, separation,                          \
      "haze separates {a} from {b} by at least", "separation {a} / {b}")                           \
    X(SIGHT, "sight", NOTHING, HOLDS_BACK, AT_LEAST_M, sight, "visibility at least", "visibility") \
    X(LIKE, "like", POINT_AND_SHOT, DOES_BOTH, WITHIN_STOPS, like,                                 \
      "veil at {a} as in {shot} within", "like {shot}")                                            \
    X(GLOW, "glow", LIGHT, HOLDS_BACK, AT_MOST_DEG, glow, "glow of {light} at most",               \
      "glow of {light}")                                                                           \
    VS_WANT_EXTRA_ROWS(X)

typedef enum {
#define VS_WANT_MEMBER(member, ...) VS_WANT_##member,
    VS_WANT_LIST(VS_WANT_MEMBER)
#undef VS_WANT_MEMBER
        VS_WANT_KIND_COUNT
} vs_want_kind;

/** A row of the table. */
typedef struct {
    const char *word; /* in files */
    vs_want_subject subject;
    vs_want_effect effect;
    const char *limit_key;
    vs_want_bound bound;
    vs_want_unit unit;
    const char *words, *short_words;
} vs_want_traits;

/** The row of a kind; never NULL. */
const vs_want_traits *vs_want_traits_of(vs_want_kind kind);

/** Whether a kind of want takes a key of a scene file. */
bool vs_want_takes(vs_want_kind kind, const char *key);

/** Whether a want limits haze or asks for it; `like` does both. */
bool vs_want_holds_back(vs_want_kind kind);
bool vs_want_asks(vs_want_kind kind);

#ifdef __cplusplus
}
#endif
#endif
