/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a scene's names and figures to the light module's geometry. */
#include "veilstop/shot/stage.h"

#include <math.h>
#include <stdlib.h>

static size_t count_fed(const vs_scene *scene) {
    size_t count = 0;
    for (size_t i = 0; i < scene->light_count; i++) {
        count += scene->light[i].strength == VS_STRENGTH_FED;
    }
    return count;
}

static void fill_screens(vs_stage *stage) {
    const vs_scene *scene = stage->scene;
    size_t count = 0;
    for (size_t i = 0; i < scene->blocker_count; i++) {
        const vs_scene_blocker *b = &scene->blocker[i];
        vs_screen screen = {vs_rect_facing(b->at_m, b->aim_m, b->width_m, b->height_m),
                            b->transmittance};
        stage->screen_light[count] = VS_NONE;
        stage->screen_reflectance[count] = b->reflectance;
        stage->screen[count++] = screen;
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        const vs_light *light = &scene->light[i];
        if (light->strength == VS_STRENGTH_FED) {
            vs_screen screen = {
                vs_rect_facing(light->at_m, light->aim_m, light->width_m, light->height_m),
                light->fed_direct};
            stage->screen_light[count] = i;
            stage->screen[count++] = screen;
        }
    }
    stage->space.screen = stage->screen;
    stage->space.screen_count = count;
}

static void fill_rooms(vs_stage *stage, const double *open) {
    const vs_scene *scene = stage->scene;
    for (size_t i = 0; i < scene->room_count; i++) {
        const vs_scene_room *r = &scene->room[i];
        stage->room[i].low_m = r->corner_m;
        stage->room[i].high_m = vs_vec3_add(r->corner_m, r->size_m);
        for (int face = 0; face < VS_FACE_COUNT; face++) {
            stage->face_reflectance[i * VS_FACE_COUNT + (size_t)face] = r->reflectance[face];
        }
    }
    for (size_t i = 0; i < scene->opening_count; i++) {
        const vs_scene_opening *o = &scene->opening[i];
        vs_portal portal = {vs_rect_on_wall(o->corner_m[0], o->corner_m[1]),
                            {o->room[0], o->room[1]},
                            o->transmittance * (open ? open[i] : 1)};
        stage->portal[i] = portal;
    }
    stage->space.room = stage->room;
    stage->space.room_count = scene->room_count;
    stage->space.portal = stage->portal;
    stage->space.portal_count = scene->opening_count;
}

vs_status vs_stage_init(vs_stage *stage, const vs_scene *scene, const double *open) {
    const vs_stage blank = {.scene = scene};
    *stage = blank;
    size_t screens = scene->blocker_count + count_fed(scene);
    /* one spare element each: calloc of nothing may return NULL */
    stage->room = calloc(scene->room_count + 1, sizeof *stage->room);
    stage->portal = calloc(scene->opening_count + 1, sizeof *stage->portal);
    stage->screen = calloc(screens + 1, sizeof *stage->screen);
    stage->screen_light = calloc(screens + 1, sizeof *stage->screen_light);
    stage->face_reflectance = calloc(VS_FACE_COUNT * (scene->room_count + 1), sizeof(double));
    stage->screen_reflectance = calloc(screens + 1, sizeof(double));
    if (!stage->room || !stage->portal || !stage->screen || !stage->screen_light ||
        !stage->face_reflectance || !stage->screen_reflectance) {
        vs_stage_free(stage);
        return VS_ERR_MEMORY;
    }
    fill_rooms(stage, open);
    fill_screens(stage);
    stage->surfaces.face = stage->face_reflectance;
    stage->surfaces.screen = stage->screen_reflectance;
    return VS_OK;
}

void vs_stage_free(vs_stage *stage) {
    const vs_stage blank = {0};
    free(stage->room);
    free(stage->portal);
    free(stage->screen);
    free(stage->screen_light);
    free(stage->face_reflectance);
    free(stage->screen_reflectance);
    *stage = blank;
}

int vs_stage_face(const vs_stage *stage, size_t room, vs_vec3 p_m, vs_vec3 *normal) {
    const vs_box *box = &stage->room[room];
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
