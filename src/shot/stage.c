/* From a scene's names and figures to the light module's geometry; and diffusion frames and
 * bounces, lit by the mean illuminance on them (the contract's fed_by). */
#include "veilstop/shot/stage.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/base/quadrature.h"

#define FEED_NODES    6    /* Gauss-Legendre points a side over a fed panel: our choice */
#define FEED_RELATIVE 1e-4 /* [1] tolerance of the illuminance at each */

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

static void fill_rooms(vs_stage *stage) {
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
                            o->transmittance};
        stage->portal[i] = portal;
    }
    stage->space.room = stage->room;
    stage->space.room_count = scene->room_count;
    stage->space.portal = stage->portal;
    stage->space.portal_count = scene->opening_count;
}

vs_status vs_stage_init(vs_stage *stage, const vs_scene *scene) {
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
    fill_rooms(stage);
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

bool vs_shot_uses_light(const vs_scene_shot *shot, size_t light) {
    for (size_t i = 0; i < shot->light_count; i++) {
        if (shot->light[i] == light) {
            return true;
        }
    }
    return false;
}

/* Mean illuminance on a fed panel's lit side. */
static vs_status mean_illuminance(const vs_light *light, const vs_rect *rect,
                                  const vs_emitter *feed, const vs_medium *medium,
                                  vs_airlight *work, vs_bands *mean) {
    double node[FEED_NODES], weight[FEED_NODES];
    vs_vec3 normal = vs_vec3_scale(rect->normal, light->fed_front ? 1 : -1);
    vs_status status = vs_gauss_legendre(FEED_NODES, node, weight);
    *mean = vs_bands_grey(0);
    for (int i = 0; i < FEED_NODES * FEED_NODES && status == VS_OK; i++) {
        int iu = i % FEED_NODES, iv = i / FEED_NODES;
        vs_vec3 p_m = vs_vec3_along(rect->center_m, rect->u, node[iu] * rect->half_u_m);
        p_m = vs_vec3_along(p_m, rect->v, node[iv] * rect->half_v_m);
        vs_bands lux;
        status = vs_illuminance(work, medium, feed, p_m, normal, FEED_RELATIVE, &lux);
        *mean = vs_bands_add(*mean, vs_bands_scale(lux, weight[iu] * weight[iv] / 4));
    }
    return status;
}

/* Brings a panel to its luminance once its feed has its own. */
static vs_status feed_panel(const vs_light *light, const vs_emitter *feed, const vs_medium *medium,
                            vs_airlight *work, vs_emitter *panel) {
    vs_bands lux;
    vs_status status = mean_illuminance(light, &panel->rect, feed, medium, work, &lux);
    if (status == VS_OK) {
        panel->strength = vs_bands_scale(lux, light->fed_share * light->dimmer / VS_PI);
    }
    return status;
}

/* Feeds may be chained: panels are brought up in passes, each lit once its feed is. */
static vs_status feed_panels(const vs_scene *scene, const vs_scene_shot *shot,
                             const vs_medium *medium, const double *dim, vs_airlight *work,
                             vs_emitter *emitter) {
    size_t waiting = count_fed(scene);
    bool *ready = calloc(scene->light_count + 1, sizeof *ready);
    vs_status status = ready ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < scene->light_count && ready; i++) {
        ready[i] = scene->light[i].strength != VS_STRENGTH_FED;
    }
    while (waiting > 0 && status == VS_OK) {
        size_t before = waiting;
        for (size_t i = 0; i < scene->light_count && status == VS_OK; i++) {
            const vs_light *light = &scene->light[i];
            if (ready[i] || !ready[light->fed_by]) {
                continue;
            }
            if (vs_shot_uses_light(shot, i) && vs_shot_uses_light(shot, light->fed_by)) {
                status = feed_panel(light, &emitter[light->fed_by], medium, work, &emitter[i]);
                emitter[i].strength = vs_bands_scale(emitter[i].strength, dim[i]);
            }
            ready[i] = true;
            waiting--;
        }
        if (waiting == before) {
            status = VS_ERR_INPUT;
        }
    }
    free(ready);
    return status;
}

vs_status vs_stage_lights(const vs_stage *stage, const vs_scene_shot *shot, const vs_medium *medium,
                          const double *dim, vs_airlight *work, vs_emitter *emitter) {
    const vs_scene *scene = stage->scene;
    double white_kelvin = scene->camera[shot->camera].white_kelvin;
    for (size_t i = 0; i < scene->light_count; i++) {
        vs_status status =
            vs_emitter_init(&emitter[i], &scene->light[i], &stage->space, white_kelvin);
        if (status != VS_OK) {
            return status;
        }
        double factor = vs_shot_uses_light(shot, i) ? dim[i] : 0;
        emitter[i].strength = vs_bands_scale(emitter[i].strength, factor);
    }
    return feed_panels(scene, shot, medium, dim, work, emitter);
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
