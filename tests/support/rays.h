/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random lines of sight through random small locations with one light of each kind: on them the
 * fast veil integral is compared with the adaptive one. Invented locations; no outside source. */
#ifndef VEILSTOP_TESTS_RAYS_H
#define VEILSTOP_TESTS_RAYS_H

#include "check.h"
#include "room.h"

typedef enum {
    RAY_LAMP,
    RAY_SPOT,     /* beam alone: exponent 2 */
    RAY_PROFILED, /* beam and field */
    RAY_MEASURED, /* a candela table */
    RAY_PANEL,
    RAY_FED, /* a panel that is an opaque blocker too */
    RAY_TUBE,
    RAY_SUN,
    RAY_SKY,
    RAY_KINDS
} ray_kind;

const char *ray_kind_name(ray_kind kind);
/* Whether the adaptive integral of that kind is a sum of points. */
bool ray_kind_is_surface(ray_kind kind);

#define RAY_HAZES 3
/* Hazes by Mie theory, made once: glycol, coarse glycol, oil. */
typedef struct {
    vs_haze haze[RAY_HAZES];
} ray_hazes;
void ray_hazes_make(ray_hazes *hazes);
void ray_hazes_free(ray_hazes *hazes);

/* One location, one light, some lines. Points into itself and the hazes: must not be moved. */
#define RAY_LINES_MAX 64
typedef struct {
    room_model room;
    vs_emitter emitter;
    ray_kind kind;
    bool mie, behind; /* a table of Mie theory; blockers or openings in the location */
    vs_camera_ray sight[RAY_LINES_MAX];
    size_t count;
} ray_case;

/* Lines come no nearer to a panel, tube or sky than this share of its (shorter) side: nearer, the
 * adaptive sum of points is no reference; a closed form is (test_airlight_fast.c). */
#define RAY_GAP_SHARE 0.1

/* A random location with a light of a kind and `count` lines, in haze from next to nothing to
 * optical depth 3 over a line. Spots from 2 degrees, asymmetry -0.2 to 0.9; a third Mie.
 * c: zero, or a case made before, whose memory is given back. */
void ray_case_make(ray_case *c, random_stream *r, ray_kind kind, const ray_hazes *hazes,
                   size_t count);

/* Middle grey of a camera at T2.8, ISO 800, 1/48 s: 12.5 x 2.8^2 x 48 / 800 (ISO 2720, K = 12.5).
 */
#define RAY_GREY_NITS 5.88

#endif
