/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of sight: their veil lamp by lamp, and what stands at their end. */
#include "shot/predict/look.h"

#include <math.h>

#include "veilstop/light/kernel.h"

/* [1] direct light, where only what haze adds to it is asked for */
#define INDIRECT_RELATIVE 0.02

vs_look vs_look_make(vs_predictor *predictor, const vs_scene_shot *shot,
                     const double *room_extinction_per_m) {
    const vs_camera *camera = &predictor->scene->camera[shot->camera];
    const vs_space *space = &predictor->stage->space;
    vs_look look = {predictor,
                    predictor->scene,
                    shot,
                    camera,
                    vs_view_make(camera),
                    vs_medium_make(space, &predictor->haze, predictor->clear_air),
                    vs_medium_make(space, &predictor->haze, room_extinction_per_m)};
    return look;
}

vs_status vs_look_veil_of(const vs_look *look, const vs_sight *sight, const vs_emitter *emitter,
                          vs_bands *nits) {
    if (vs_bands_luminance(emitter->strength) == 0) {
        *nits = vs_bands_grey(0);
        return VS_OK;
    }
    return vs_airlight_fast(&look->predictor->work, &look->hazed, sight, emitter, nits);
}

/* The radiance from everywhere that a scene may give instead of computed light. */
static double ambient_nits(const vs_scene *scene) {
    return scene->indirect == VS_INDIRECT_NITS ? scene->indirect_nits : 0;
}

vs_status vs_look_veils(const vs_look *look, const vs_sight *sight, vs_bands *by_light) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < look->scene->light_count && status == VS_OK; i++) {
        status = vs_look_veil_of(look, sight, &look->predictor->hazed_light[i], &by_light[i]);
    }
    return status;
}

vs_status vs_look_indirect_veil(const vs_look *look, const vs_sight *sight, const vs_bands *once,
                                vs_bands *by_light, vs_bands *nits) {
    *nits = vs_airlight_ambient(&look->hazed, sight, ambient_nits(look->scene));
    for (size_t i = 0; i < look->scene->light_count; i++) {
        by_light[i] = vs_bands_grey(0);
    }
    if (look->scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    vs_bounce_veil(&look->predictor->hazed_bounce, &look->hazed, sight, once, by_light);
    for (size_t i = 0; i < look->scene->light_count; i++) {
        *nits = vs_bands_add(*nits, by_light[i]);
    }
    return VS_OK;
}

/* Light that bounced, on a surface [lx]; what comes straight from each light is in `direct`. */
static vs_bands bounced_lux(const vs_look *look, vs_vec3 p_m, vs_vec3 normal, bool hazed) {
    vs_bands *share = look->predictor->share, lux = vs_bands_grey(0);
    if (look->scene->indirect != VS_INDIRECT_COMPUTED) {
        return lux;
    }
    vs_predictor *p = look->predictor;
    vs_bounce_lux(hazed ? &p->hazed_bounce : &p->clear_bounce, hazed ? &look->hazed : &look->clear,
                  p_m, normal, hazed ? p->direct : NULL, share);
    for (size_t i = 0; i < look->scene->light_count; i++) {
        lux = vs_bands_add(lux, share[i]);
    }
    return lux;
}

/* Light straight from the lamps, and from everywhere if the scene says so [lx]. */
static vs_status direct_lux(const vs_look *look, vs_vec3 p_m, vs_vec3 normal, bool hazed,
                            double relative, vs_bands *lux) {
    const vs_medium *medium = hazed ? &look->hazed : &look->clear;
    const vs_emitter *light = hazed ? look->predictor->hazed_light : look->predictor->clear_light;
    /* a radiance L from everywhere lights a surface with pi L lux */
    *lux = vs_bands_grey(VS_PI * ambient_nits(look->scene));
    for (size_t i = 0; i < look->scene->light_count; i++) {
        vs_bands *more = &look->predictor->direct[i];
        *more = vs_bands_grey(0);
        if (vs_bands_luminance(light[i].strength) == 0) {
            continue;
        }
        vs_status status =
            vs_illuminance(&look->predictor->work, medium, &light[i], p_m, normal, relative, more);
        if (status != VS_OK) {
            return status;
        }
        *lux = vs_bands_add(*lux, *more);
    }
    return VS_OK;
}

vs_status vs_look_surface(const vs_look *look, vs_vec3 p_m, vs_vec3 normal, double reflectance,
                          bool hazed, vs_bands *nits) {
    vs_bands lux;
    vs_status status = direct_lux(look, p_m, normal, hazed, VS_LOOK_RELATIVE, &lux);
    if (status == VS_OK) {
        lux = vs_bands_add(lux, bounced_lux(look, p_m, normal, hazed));
    }
    *nits = vs_bands_scale(lux, reflectance / VS_PI);
    return status;
}

vs_status vs_look_bounce(const vs_look *look) {
    vs_predictor *p = look->predictor;
    if (look->scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    vs_bounce_free(&p->clear_bounce);
    vs_bounce_free(&p->hazed_bounce);
    vs_status status =
        vs_bounce_solve(&p->bounces[p->in_hand], &look->clear, p->clear_light, &p->clear_bounce);
    return status == VS_OK ? vs_bounce_solve(&p->bounces[p->in_hand], &look->hazed, p->hazed_light,
                                             &p->hazed_bounce)
                           : status;
}

/* The skies that shine through a portal; the line of sight has counted its pane already. */
static vs_bands sky_nits(const vs_look *look, size_t portal) {
    vs_bands nits = vs_bands_grey(0);
    double pane = look->predictor->stage->portal[portal].transmittance;
    for (size_t i = 0; i < look->scene->light_count; i++) {
        const vs_light *light = &look->scene->light[i];
        if (light->kind == VS_LIGHT_SKY && light->through == portal && pane > 0) {
            nits = vs_bands_add(nits,
                                vs_bands_scale(look->predictor->hazed_light[i].strength, 1 / pane));
        }
    }
    return nits;
}

/* A screen seen from the front or the back: a fed panel's front is its own light; a blocker's side
 * reflects. */
static void target_screen(const vs_look *look, const vs_sight *sight, vs_look_target *target) {
    const vs_stage *stage = look->predictor->stage;
    const vs_rect *rect = &stage->screen[sight->end_index].rect;
    size_t light = stage->screen_light[sight->end_index];
    bool front = vs_vec3_dot(rect->normal, sight->direction) < 0;
    target->normal = front ? rect->normal : vs_vec3_scale(rect->normal, -1);
    target->reflectance = stage->screen_reflectance[sight->end_index];
    if (light != VS_NONE && front) {
        target->own_nits = look->predictor->hazed_light[light].strength;
    }
}

vs_look_target vs_look_target_of(const vs_look *look, const vs_sight *sight) {
    vs_look_target target = {.at_m = vs_sight_point(sight, sight->length_m)};
    const vs_stage *stage = look->predictor->stage;
    if (sight->end == VS_SIGHT_OUTSIDE) {
        target.own_nits = sky_nits(look, sight->end_index);
    } else if (sight->end == VS_SIGHT_AT_SCREEN) {
        target_screen(look, sight, &target);
    } else if (sight->end_index != VS_SPACE_OUTSIDE) {
        int face = vs_stage_face(stage, sight->end_index, target.at_m, &target.normal);
        target.reflectance =
            stage->face_reflectance[sight->end_index * VS_FACE_COUNT + (size_t)face];
    }
    return target;
}

vs_status vs_look_end(const vs_look *look, const vs_sight *sight, vs_bands *nits) {
    vs_look_target target = vs_look_target_of(look, sight);
    *nits = target.own_nits;
    if (target.reflectance == 0) {
        return VS_OK;
    }
    return vs_look_surface(look, target.at_m, target.normal, target.reflectance, true, nits);
}

vs_status vs_look_end_direct(const vs_look *look, const vs_sight *sight, double relative,
                             vs_bands *nits) {
    vs_look_target target = vs_look_target_of(look, sight);
    vs_bands lux;
    *nits = target.own_nits;
    if (target.reflectance == 0) {
        return VS_OK;
    }
    vs_status status = direct_lux(look, target.at_m, target.normal, true, relative, &lux);
    *nits = vs_bands_scale(lux, target.reflectance / VS_PI);
    return status;
}

vs_status vs_look_indirect_seen(const vs_look *look, const vs_sight *sight, const vs_bands *once,
                                vs_bands *nits) {
    vs_look_target target = vs_look_target_of(look, sight);
    vs_status status = vs_look_indirect_veil(look, sight, once, look->predictor->share, nits);
    if (status == VS_OK && target.reflectance > 0) {
        vs_bands lux;
        status = direct_lux(look, target.at_m, target.normal, true, INDIRECT_RELATIVE, &lux);
        lux = bounced_lux(look, target.at_m, target.normal, true);
        lux = vs_bands_mul(lux, vs_sight_transmission(&look->hazed, sight));
        *nits = vs_bands_add(*nits, vs_bands_scale(lux, target.reflectance / VS_PI));
    }
    return status;
}
