/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the rays of a picture meet. Rays that cross the same openings and nets and end on the same
 * thing share a way: along it every distance is that of a plane, exact at any place of the
 * frame. */
#ifndef VEILSTOP_PICTURE_VIEW_WAYS_H
#define VEILSTOP_PICTURE_VIEW_WAYS_H

#include <stdint.h>

#include "picture/interpolation/bodies.h"
#include "veilstop/camera/view.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/shot/scene_geometry.h"

/* openings and nets recorded per way; any more are ignored */
#define VS_WAY_CROSSINGS_MAX 8
#define VS_WAYS_MAX          4096 /* ways in a picture: our choice */

typedef enum { VS_WAY_WALL, VS_WAY_BLOCKER, VS_WAY_OUTSIDE, VS_WAY_BODY } vs_way_end;

typedef struct {
    vs_vec3 normal;
    double offset_m; /* normal . p for its points */
} vs_way_plane;

typedef struct {
    vs_way_end end;
    size_t index; /* room, blocker, opening or body */
    int side;     /* face of the room; 1 the front of a blocker */
    size_t crossing_count;
    size_t crossing[VS_WAY_CROSSINGS_MAX];     /* openings, then blockers after all openings */
    size_t room[VS_WAY_CROSSINGS_MAX + 1];     /* before each crossing, and after the last */
    vs_way_plane at[VS_WAY_CROSSINGS_MAX + 1]; /* of each crossing, and of the end */
    double open;                               /* transmittance of everything crossed */
    bool far;                                  /* ends beyond the location: a sky, the sun */
    vs_vec3 normal;                            /* of a surface, towards the camera */
    double reflectance;                        /* 0: reflects nothing */
    uint16_t group; /* ways of one group adjoin without a step in depth */
    uint16_t air;   /* ways of one air pass through the haze of the same rooms */
} vs_way;

typedef struct {
    const vs_scene_geometry *geometry;
    const vs_bodies *bodies;
    vs_view view;
    vs_medium clear; /* no haze: geometry alone */
    vs_way *item;
    size_t count;
} vs_ways;

/* The direction through a place of the frame, of length 1 along the camera's axis. */
vs_vec3 vs_ways_direction(const vs_view *view, double x, double y);

/* Finds the way of the ray along an unnormalised direction, adding it if new. Returns its number;
 * VS_WAYS_MAX if there are too many. */
size_t vs_ways_find(vs_ways *ways, vs_vec3 direction);
/* The same without adding: VS_WAYS_MAX if it is new. */
size_t vs_ways_known(const vs_ways *ways, vs_vec3 direction);

/* The distance of a way's plane along a direction, in its lengths. */
static inline double vs_way_at(const vs_way_plane *plane, vs_vec3 from_m, vs_vec3 direction) {
    return (plane->offset_m - vs_vec3_dot(plane->normal, from_m)) /
           vs_vec3_dot(plane->normal, direction);
}

#endif
