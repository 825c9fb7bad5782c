/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scene's rooms, openings and blockers as geometry for the light calculation. */
#ifndef VEILSTOP_SHOT_SCENE_GEOMETRY_H
#define VEILSTOP_SHOT_SCENE_GEOMETRY_H

#include <stdbool.h>

#include "veilstop/light/airlight.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/surfaces.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Geometry that all shots share. The blockers are the scene's, then the fed panels. */
typedef struct {
    const vs_scene *scene;
    vs_space space;
    vs_box *room;
    vs_opening *opening;
    vs_blocker *blocker;
    size_t *blocker_light; /* one per blocker: the fed panel's light, else VS_NONE */
    vs_surfaces surfaces;  /* fed panels reflect nothing, they only shine */
    double *face_reflectance, *blocker_reflectance; /* of the surfaces */
} vs_scene_geometry;

/** scene  borrowed, must outlive the geometry
 *  open   one per opening: share of its transmittance [1], as in a shot; NULL: all of it
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_scene_geometry_init(vs_scene_geometry *geometry, const vs_scene *scene,
                                                const double *open);
void vs_scene_geometry_free(vs_scene_geometry *geometry);

/** The face of a room on which p lies (the nearest), and its normal into the room. */
int vs_scene_geometry_face(const vs_scene_geometry *geometry, size_t room, vs_vec3 p_m,
                           vs_vec3 *normal);

#ifdef __cplusplus
}
#endif
#endif
