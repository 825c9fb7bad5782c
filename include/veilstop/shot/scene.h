/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene in memory: rooms, openings, fluid, hazer, lights, cameras, shots. A plain struct that a
 * file, a test or a page may fill; every pointer is borrowed. The form of the file and each key's
 * meaning, range and default: docs/scene.md. Items refer to each other by index into the scene's
 * arrays. Optional figures that were not given are NaN unless a default is stated. */
#ifndef VEILSTOP_SHOT_SCENE_H
#define VEILSTOP_SHOT_SCENE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "veilstop/base/units.h"
#include "veilstop/base/vec3.h"
#include "veilstop/camera/camera.h"
#include "veilstop/light/lamp.h"
#include "veilstop/optics/haze.h"
#include "veilstop/safety/detectors.h"
#include "veilstop/shot/want_kind.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_OUTSIDE SIZE_MAX /* in place of a room's index */
#define VS_NONE    SIZE_MAX /* no such item */

/** Faces of a room. */
enum {
    VS_FACE_WEST,
    VS_FACE_EAST,
    VS_FACE_SOUTH,
    VS_FACE_NORTH,
    VS_FACE_FLOOR,
    VS_FACE_CEILING,
    VS_FACE_COUNT
};

typedef struct {
    const char *name;
    vs_vec3 corner_m, size_m; /* lowest corner; sizes over 0 */
    double reflectance[VS_FACE_COUNT];
    double air_change_per_s, deposition_per_s, mixing_s;
    double purge_air_change_per_s; /* NaN: no purge */
} vs_scene_room;

typedef struct {
    const char *name;
    size_t room[2]; /* VS_OUTSIDE for the second room of a window */
    vs_vec3 corner_m[2];
    double transmittance;
    double exchange_m3_per_s; /* each way; NaN: by its size (0 to outside) */
} vs_scene_opening;

typedef struct {
    const char *name;
    vs_vec3 at_m, aim_m; /* centre; a point it faces */
    double width_m, height_m;
    double reflectance, transmittance;
} vs_scene_blocker;

/** One machine. */
typedef struct {
    size_t room;
    double fluid_ml_per_s;
    double airborne_fraction;
} vs_scene_machine;

/** The hazer: one machine, or several that run and pause together. */
typedef struct {
    size_t room;                     /* of the machine with the largest output; VS_NONE: no hazer */
    double fluid_ml_per_s;           /* of all together */
    double airborne_fraction;        /* of all, weighted by output */
    double warm_up_s;                /* the longest of all */
    double burst_min_s, burst_max_s; /* within the limits of all */
    const double *share; /* one per room: of the output, sums to 1; NULL: all of it in `room` */
    const vs_scene_machine *machine;
    size_t machine_count; /* 0 if only the struct was filled in: one machine */
} vs_scene_hazer;

typedef enum { VS_INDIRECT_COMPUTED, VS_INDIRECT_NONE, VS_INDIRECT_NITS } vs_indirect_kind;

typedef enum { VS_POINT_NITS, VS_POINT_REFLECTANCE, VS_POINT_STOPS } vs_point_kind;

typedef struct {
    const char *name;
    vs_vec3 at_m;
    vs_point_kind kind;
    double value;   /* cd/m2, reflectance, or stops over the camera's middle grey */
    vs_vec3 facing; /* REFLECTANCE: unit normal */
} vs_scene_point;

typedef struct {
    vs_want_kind kind;
    size_t a, b;    /* points of this shot */
    size_t light;   /* of a light or its beam */
    vs_vec3 near_m; /* place in a beam; NaN: where it reads best in frame */
    size_t shot;    /* of a point and a shot */
    size_t other;   /* the point of that shot with the same name */
    double limit;
} vs_scene_want;

typedef enum {
    VS_DENSITY_OPEN,
    VS_DENSITY_EXTINCTION,
    VS_DENSITY_MASS,
    VS_DENSITY_RANGE
} vs_density_kind;

typedef struct {
    const char *name;
    size_t camera;
    const size_t *light; /* indices of its lights, ascending */
    size_t light_count;
    const double
        *dimmer; /* one per light, 0 to 1, in place of its own; NaN: its own; NULL: all their own */
    const double
        *open; /* one per opening, 0 to 1: share of its transmittance and exchange; NULL: 1 */
    bool has_sun;
    vs_vec3 sun_travel; /* if has_sun: direction in which its suns' light travels */
    vs_density_kind density;
    const double *room_density; /* one per room: 1/m, g/m3 or m (0 if clear); NULL if OPEN */
    bool density_by_room;       /* each room has its own; otherwise only the camera's room counts */
    double length_s;            /* duration on the day */
    const vs_scene_point *point;
    size_t point_count;
    const vs_scene_want *want;
    size_t want_count;
    const size_t *after; /* shots that must come before it */
    size_t after_count;
    double roll_s, reset_s; /* takes; NaN: none given */
} vs_scene_shot;

typedef struct {
    double at_s; /* of the day */
    size_t room, camera;
    double distance_m, lit_from_m;
    size_t lit_by;                                             /* VS_NONE, or a light */
    double clear_white, clear_black, hazed_white, hazed_black; /* cd/m2, or 0..100 if percent */
    bool percent;
    double uncertainty_stops;
} vs_scene_reading;

typedef struct {
    const char *name;
    size_t room;
    vs_detector_kind kind;
    double alarm_per_m; /* extinction at which it alarms; NaN: the kind's usual range */
    double path_m;      /* BEAM */
} vs_scene_detector;

typedef struct {
    const char *who;
    double length_s;
} vs_scene_person;

typedef struct {
    const vs_scene_detector *detector;
    size_t detector_count;
    const vs_scene_person *person;
    size_t person_count;
    double exit_m;        /* NaN: not given */
    bool exit_reflecting; /* else lit */
    const char *const *rule;
    size_t rule_count;
} vs_scene_venue;

typedef struct {
    const char *pointer; /* JSON pointer to a number of the file */
    double half_width;   /* relative */
} vs_scene_uncertain;

typedef struct {
    const char *title; /* NULL: not given */
    vs_length_unit lengths;
    double start_s; /* clock time of minute 0, s after midnight; NaN: not given */
    const vs_scene_room *room;
    size_t room_count;
    const vs_scene_opening *opening;
    size_t opening_count;
    const vs_scene_blocker *blocker;
    size_t blocker_count;
    vs_fluid fluid;
    vs_scene_hazer hazer;
    vs_indirect_kind indirect;
    double indirect_nits;  /* NITS */
    const vs_light *light; /* those named, then further parts of those through several openings */
    size_t light_count;
    const vs_camera *camera; /* those named, then those with a shot's own settings */
    size_t camera_count;
    const vs_scene_shot *shot;
    size_t shot_count;
    const vs_scene_reading *reading;
    size_t reading_count;
    vs_scene_venue venue;
    const vs_scene_uncertain *uncertain;
    size_t uncertain_count;
} vs_scene;

#ifdef __cplusplus
}
#endif
#endif
