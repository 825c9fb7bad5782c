/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a scene's names and figures to the light module's geometry. */
#include "veilstop/shot/scene_geometry.h"

#include <math.h>
#include <stdlib.h>

static size_t count_fed(const vs_scene *scene) {
    size_t count = 0;
    for (size_t i = 0; i < scene->light_count; i++) {
        count += scene->light[i].strength == VS_STRENGTH_FED;
    }
    return count;
}

static void fill_blockers(vs_scene_geometry *geometry) {
    const vs_scene *scene = geometry->scene;
    size_t count = 0;
    for (size_t i = 0; i < scene->blocker_count; i++) {
        const vs_scene_blocker *b = &scene->blocker[i];
        vs_blocker blocker = {vs_rect_facing(b->at_m, b->aim_m, b->width_m, b->height_m),
                              b->transmittance};
        geometry->blocker_light[count] = VS_NONE;
        geometry->blocker_reflectance[count] = b->reflectance;
        geometry->blocker[count++] = blocker;
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        const vs_light *light = &scene->light[i];
        if (light->strength == VS_STRENGTH_FED) {
            vs_blocker blocker = {
                vs_rect_facing(light->at_m, light->aim_m, light->width_m, light->height_m),
                light->fed_direct};
            geometry->blocker_light[count] = i;
            geometry->blocker[count++] = blocker;
        }
    }
    geometry->space.blocker = geometry->blocker;
    geometry->space.blocker_count = count;
}

static void fill_rooms(vs_scene_geometry *geometry, const double *open) {
    const vs_scene *scene = geometry->scene;
    for (size_t i = 0; i < scene->room_count; i++) {
        const vs_scene_room *r = &scene->room[i];
        geometry->room[i].low_m = r->corner_m;
        geometry->room[i].high_m = vs_vec3_add(r->corner_m, r->size_m);
        for (int face = 0; face < VS_FACE_COUNT; face++) {
            geometry->face_reflectance[i * VS_FACE_COUNT + (size_t)face] = r->reflectance[face];
        }
    }
    for (size_t i = 0; i < scene->opening_count; i++) {
        const vs_scene_opening *o = &scene->opening[i];
        vs_opening opening = {vs_rect_on_wall(o->corner_m[0], o->corner_m[1]),
                              {o->room[0], o->room[1]},
                              o->transmittance * (open ? open[i] : 1)};
        geometry->opening[i] = opening;
    }
    geometry->space.room = geometry->room;
    geometry->space.room_count = scene->room_count;
    geometry->space.opening = geometry->opening;
    geometry->space.opening_count = scene->opening_count;
}

vs_status vs_scene_geometry_init(vs_scene_geometry *geometry, const vs_scene *scene,
                                 const double *open) {
    const vs_scene_geometry blank = {.scene = scene};
    *geometry = blank;
    size_t blockers = scene->blocker_count + count_fed(scene);
    /* one spare element each: calloc of 0 items may return NULL */
    geometry->room = calloc(scene->room_count + 1, sizeof *geometry->room);
    geometry->opening = calloc(scene->opening_count + 1, sizeof *geometry->opening);
    geometry->blocker = calloc(blockers + 1, sizeof *geometry->blocker);
    geometry->blocker_light = calloc(blockers + 1, sizeof *geometry->blocker_light);
    geometry->face_reflectance = calloc(VS_FACE_COUNT * (scene->room_count + 1), sizeof(double));
    geometry->blocker_reflectance = calloc(blockers + 1, sizeof(double));
    if (!geometry->room || !geometry->opening || !geometry->blocker || !geometry->blocker_light ||
        !geometry->face_reflectance || !geometry->blocker_reflectance) {
        vs_scene_geometry_free(geometry);
        return VS_ERR_MEMORY;
    }
    fill_rooms(geometry, open);
    fill_blockers(geometry);
    geometry->surfaces.face = geometry->face_reflectance;
    geometry->surfaces.blocker = geometry->blocker_reflectance;
    return VS_OK;
}

void vs_scene_geometry_free(vs_scene_geometry *geometry) {
    const vs_scene_geometry blank = {0};
    free(geometry->room);
    free(geometry->opening);
    free(geometry->blocker);
    free(geometry->blocker_light);
    free(geometry->face_reflectance);
    free(geometry->blocker_reflectance);
    *geometry = blank;
}

int vs_scene_geometry_face(const vs_scene_geometry *geometry, size_t room, vs_vec3 p_m,
                           vs_vec3 *normal) {
    const vs_box *box = &geometry->room[room];
    double off_m[VS_FACE_COUNT] = {p_m.x - box->low_m.x, box->high_m.x - p_m.x,
                                   p_m.y - box->low_m.y, box->high_m.y - p_m.y,
                                   p_m.z - box->low_m.z, box->high_m.z - p_m.z};
    int nearest = 0;
    for (int face = 1; face < VS_FACE_COUNT; face++) {
        if (fabs(off_m[face]) < fabs(off_m[nearest])) {
            nearest = face;
        }
    }
    *normal = vs_surfaces_inward(nearest);
    return nearest;
}
