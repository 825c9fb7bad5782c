/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A camera's straight line through the location: the haze of each room it passes, the nets and
 * panes it crosses, where it ends. */
#ifndef VEILSTOP_LIGHT_CAMERA_RAY_H
#define VEILSTOP_LIGHT_CAMERA_RAY_H

#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/vec3.h"
#include "veilstop/light/space.h"
#include "veilstop/optics/haze.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_CAMERA_RAY_SEGMENT_MAX 64 /* segments of one camera ray; it ends after so many */

/** The air: the droplets' optics and their density in each room. Borrowed. */
typedef struct {
    const vs_space *space;
    const vs_haze *haze;
    const double *room_extinction_per_m; /* at 549 nm, one per room */
    vs_bands ratio;                      /* extinction of each band over that at 549 nm [1] */
} vs_medium;

/** Makes a medium. room_extinction_per_m: finite, >= 0, one per room of the space. */
vs_medium vs_medium_make(const vs_space *space, const vs_haze *haze,
                         const double *room_extinction_per_m);

/** Extinction at 549 nm in a room; 0 outside [1/m]. */
double vs_medium_extinction_per_m(const vs_medium *medium, size_t room);

/** Transmission of each band over an optical depth at 549 nm [1]. */
vs_bands vs_medium_transmission(const vs_medium *medium, double depth);

typedef enum {
    VS_CAMERA_RAY_AT_POINT, /* reached the requested length */
    VS_CAMERA_RAY_AT_WALL,
    VS_CAMERA_RAY_AT_BLOCKER, /* an opaque one */
    VS_CAMERA_RAY_OUTSIDE     /* left through an opening to outside */
} vs_camera_ray_end;

/** Part of a camera ray: in one room, with nothing in it. */
typedef struct {
    double from_m, to_m;
    size_t room;
    double extinction_per_m; /* at 549 nm */
    double depth;            /* optical depth at 549 nm from the camera to from_m */
    double open;             /* transmittance of nets and openings from the camera to here */
} vs_ray_segment;

typedef struct {
    vs_vec3 at_m, direction; /* unit direction */
    vs_ray_segment segment[VS_CAMERA_RAY_SEGMENT_MAX];
    size_t segment_count;
    double length_m; /* to its end */
    double depth;    /* optical depth at 549 nm over the whole */
    double open;     /* transmittance of nets and openings over the whole */
    vs_camera_ray_end end;
    size_t end_index; /* the blocker, the opening, or the room whose wall it is */
} vs_camera_ray;

/** The ray from `at` along the unit direction, to the first thing that ends it or to length_m
 *  (INFINITY: no limit). `at` is inside a room or on its wall. */
vs_camera_ray vs_camera_ray_along(const vs_medium *medium, vs_vec3 at_m, vs_vec3 direction,
                                  double length_m);

/** The same to a point. at and to must differ. */
vs_camera_ray vs_camera_ray_to(const vs_medium *medium, vs_vec3 at_m, vs_vec3 to_m);

/** The point `distance_m` down the line. */
vs_vec3 vs_camera_ray_point(const vs_camera_ray *ray, double distance_m);

/** Share of the light at its end that reaches the camera, by band: haze, nets and panes [1]. If a
 *  line to a point ended before it, the end is what hides the point. */
vs_bands vs_camera_ray_transmission(const vs_medium *medium, const vs_camera_ray *ray);

#ifdef __cplusplus
}
#endif
#endif
