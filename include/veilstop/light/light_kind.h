/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kinds of light, in one table: a row here, its emitter in src/light/lamps/emitter.c and, for
 * keys that no kind has yet, their reader in src/scene/parts/read_lights.c. */
#ifndef VEILSTOP_LIGHT_LIGHT_KIND_H
#define VEILSTOP_LIGHT_LIGHT_KIND_H

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

/* The traits of a kind of light. */
enum {
    VS_LIGHT_PLAIN = 0,
    VS_LIGHT_HAS_AXIS = 1,   /* it has a beam with an axis */
    VS_LIGHT_HAS_SHAFT = 2,  /* its beam is sought wherever it crosses the frame */
    VS_LIGHT_CAN_TURN = 4,   /* it can be carried round its aim */
    VS_LIGHT_BY_OPENING = 8, /* it comes in through an opening */
    VS_LIGHT_FROM_TO = 16    /* it extends from one place to another */
};

/* A test compiles rows of its own in here, to show that a row is all a new kind needs. */
#ifndef VS_LIGHT_EXTRA_ROWS
#define VS_LIGHT_EXTRA_ROWS(X)
#endif

/* X(member, word in files, traits, keys of its own, emitter, reader): `emitter` names its function
 * in emitter.c, `reader` the one in read_lights.c for keys other than place and strength. */
#define VS_LIGHT_LIST(X)                                                                           \
    X(LAMP, "lamp", VS_LIGHT_PLAIN, "at candela lumens", lamp, nothing)                            \
    X(SPOT, "spot", VS_LIGHT_HAS_AXIS | VS_LIGHT_HAS_SHAFT | VS_LIGHT_CAN_TURN,                    \
      "at aim beam_deg field_deg candela lumens lux lux_at", spot, beam)                           \
    X(PANEL, "panel", VS_LIGHT_PLAIN, "at aim size lumens lux lux_at nits fed_by", panel, size)    \
    X(TUBE, "tube", VS_LIGHT_FROM_TO, "from to lumens lux lux_at", tube, nothing)                  \
    X(SUN, "sun", VS_LIGHT_HAS_AXIS | VS_LIGHT_HAS_SHAFT | VS_LIGHT_BY_OPENING,                    \
      "lux through direction sun", sun, nothing)                                                   \
    X(SKY, "sky", VS_LIGHT_BY_OPENING, "nits through", sky, nothing)                               \
    X(PHOTOMETRY, "photometry", VS_LIGHT_HAS_AXIS, "at aim file roll_deg", photometry, photometry) \
    VS_LIGHT_EXTRA_ROWS(X)

typedef enum {
#define VS_LIGHT_MEMBER(member, ...) VS_LIGHT_##member,
    VS_LIGHT_LIST(VS_LIGHT_MEMBER)
#undef VS_LIGHT_MEMBER
        VS_LIGHT_KIND_COUNT
} vs_light_kind;

/** The word of a kind in files; never NULL. */
const char *vs_light_kind_word(vs_light_kind kind);

/** Whether a kind has one of the traits above. */
bool vs_light_kind_is(vs_light_kind kind, unsigned trait);

/** Whether a kind takes a key that not all lights take. */
bool vs_light_kind_takes(vs_light_kind kind, const char *key);

#ifdef __cplusplus
}
#endif
#endif
