/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the rays of a picture meet. Rays that cross the same openings and nets and end on the same
 * thing share a path: along it every distance is that of a plane, exact at any place of the
 * frame. */
#ifndef VEILSTOP_PICTURE_VIEW_RAY_PATHS_H
#define VEILSTOP_PICTURE_VIEW_RAY_PATHS_H

#include <math.h>
#include <stdint.h>

#include "picture/interpolation/bodies.h"
#include "veilstop/camera/view.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/shot/scene_geometry.h"

/* openings and nets recorded per path; any more are ignored */
#define VS_RAY_PATH_CROSSINGS_MAX 8
#define VS_RAY_PATHS_MAX          4096 /* paths in a picture: our choice */

typedef enum {
    VS_RAY_PATH_WALL,
    VS_RAY_PATH_BLOCKER,
    VS_RAY_PATH_OUTSIDE,
    VS_RAY_PATH_BODY
} vs_ray_path_end;

typedef struct {
    vs_vec3 normal;
    double offset_m; /* normal . p for its points */
} vs_ray_path_plane;

typedef struct {
    vs_ray_path_end end;
    size_t index; /* room, blocker, opening or body */
    int side;     /* face of the room; 1 the front of a blocker */
    size_t crossing_count;
    size_t crossing[VS_RAY_PATH_CROSSINGS_MAX]; /* openings, then blockers after all openings */
    size_t room[VS_RAY_PATH_CROSSINGS_MAX + 1]; /* before each crossing, and after the last */
    vs_ray_path_plane at[VS_RAY_PATH_CROSSINGS_MAX + 1]; /* of each crossing, and of the end */
    double open;                                         /* transmittance of everything crossed */
    bool far;           /* ends beyond the location: a sky, the sun */
    vs_vec3 normal;     /* of a surface, towards the camera */
    double reflectance; /* 0: reflects nothing */
    uint16_t group;     /* paths of one group adjoin without a step in depth */
    uint16_t air;       /* paths of one air pass through the haze of the same rooms */
} vs_ray_path;

typedef struct {
    const vs_scene_geometry *geometry;
    const vs_bodies *bodies;
    vs_view view;
    vs_medium clear; /* no haze: geometry alone */
    vs_ray_path *item;
    size_t count;
} vs_ray_paths;

/* The direction through a place of the frame, of length 1 along the camera's axis. */
vs_vec3 vs_ray_paths_direction(const vs_view *view, double x, double y);

/* Finds the path of the ray along an unnormalised direction, adding it if new. Returns its number;
 * VS_RAY_PATHS_MAX if there are too many. */
size_t vs_ray_paths_find(vs_ray_paths *paths, vs_vec3 direction);
/* The same without adding: VS_RAY_PATHS_MAX if it is new. */
size_t vs_ray_paths_known(const vs_ray_paths *paths, vs_vec3 direction);

/* The distance of a path's plane along a direction, in its lengths; INFINITY where they are parallel,
 * as on the horizon of a floor. */
static inline double vs_ray_path_at(const vs_ray_path_plane *plane, vs_vec3 from_m,
                                    vs_vec3 direction) {
    double slope = vs_vec3_dot(plane->normal, direction);
    double off_m = plane->offset_m - vs_vec3_dot(plane->normal, from_m);
    return slope != 0 ? off_m / slope : (double)INFINITY;
}

#endif
