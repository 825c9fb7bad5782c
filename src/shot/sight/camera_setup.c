/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of sight: their veil lamp by lamp, and what is at their end. */
#include "shot/sight/camera_setup.h"

#include <math.h>
#include <string.h>

#include "shot/sight/kept_views.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/light/illuminance.h"

/* [1] tolerance of direct light when only what haze adds to it is needed */
#define INDIRECT_RELATIVE     0.02
#define NEXT_TO_NOTHING_PER_M 1e-8 /* [1/m] loses a hundred-millionth per metre: our choice */

vs_camera_setup vs_camera_setup_make(vs_predictor *predictor, const vs_scene_shot *shot,
                                     const double *room_extinction_per_m) {
    const vs_camera *camera = &predictor->scene->camera[shot->camera];
    const vs_space *space = &predictor->geometry->space;
    vs_camera_setup setup = {predictor,
                             predictor->scene,
                             shot,
                             camera,
                             vs_view_make(camera),
                             vs_medium_make(space, &predictor->haze, predictor->clear_air),
                             vs_medium_make(space, &predictor->haze, room_extinction_per_m),
                             NULL};
    return setup;
}

/* The notes of a place, light by light; NULL if there are none. */
static vs_bands *noted(const vs_camera_setup *setup, size_t note) {
    return setup->notes && setup->notes->note && note != VS_NOTE_NONE
               ? setup->notes->note + note * setup->scene->light_count
               : NULL;
}

static vs_bands *noted_direct(const vs_camera_setup *setup, size_t note) {
    return setup->notes && setup->notes->direct && note != VS_NOTE_NONE
               ? setup->notes->direct + note * setup->scene->light_count
               : NULL;
}

/* Reads each light's contribution at a place; none for lights that are off. */
static void read_note(const vs_camera_setup *setup, const vs_bands *note, bool hazed,
                      vs_bands *by_light) {
    const vs_predictor *p = setup->predictor;
    const vs_emitter *light = hazed ? p->hazed_light : p->clear_light;
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        by_light[i] = vs_bands_luminance(light[i].strength) > 0 ? note[i] : vs_bands_grey(0);
    }
}

static void write_note(const vs_camera_setup *setup, const vs_bands *by_light, vs_bands *note) {
    for (size_t i = 0; note && i < setup->scene->light_count; i++) {
        note[i] = by_light[i];
    }
}

static bool is_known(const vs_camera_setup *setup) {
    return setup->notes && setup->notes->known;
}

vs_status vs_camera_setup_veil_of(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                  const vs_emitter *emitter, vs_bands *nits) {
    if (vs_bands_luminance(emitter->strength) == 0) {
        *nits = vs_bands_grey(0);
        return VS_OK;
    }
    return vs_airlight_fast(&setup->predictor->work, &setup->hazed, ray, emitter, nits);
}

double vs_camera_setup_ambient_nits(const vs_scene *scene) {
    return scene->indirect == VS_INDIRECT_NITS ? scene->indirect_nits : 0;
}

void vs_camera_setup_fold_parts(const vs_scene *scene, vs_bands *by_light) {
    for (size_t i = 0; i < scene->light_count; i++) {
        size_t whole = vs_light_whole(scene, i);
        if (whole != i) {
            by_light[whole] = vs_bands_add(by_light[whole], by_light[i]);
            by_light[i] = vs_bands_grey(0);
        }
    }
}

static vs_direct_steps *steps_of(const vs_camera_setup *setup, size_t note) {
    return setup->notes && note != VS_NOTE_NONE ? setup->notes->steps : NULL;
}

/* One light's strength in a step's haze over that in the first's. */
static vs_bands over_first(const vs_direct_steps *steps, size_t step, size_t light) {
    const double *first = steps->strength[0][light].v, *here = steps->strength[step][light].v;
    vs_bands ratio;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        ratio.v[band] = first[band] > 0 ? here[band] / first[band] : 0;
    }
    return ratio;
}

/* The veils in several densities; by_light: of the first. */
static vs_status veils_in_steps(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t note,
                                vs_direct_steps *steps, vs_bands *by_light) {
    size_t lights = setup->scene->light_count;
    vs_status status = VS_OK;
    for (size_t i = 0; i < lights && status == VS_OK; i++) {
        const vs_emitter *emitter = &setup->predictor->hazed_light[i];
        vs_bands nits[VS_AIRLIGHT_STEPS_MAX] = {{{0}}};
        if (vs_bands_luminance(emitter->strength) > 0) {
            status = vs_airlight_fast_steps(&setup->predictor->work, steps->medium, steps->step,
                                            steps->count, emitter, ray, 1, nits);
        }
        for (size_t s = 0; s < steps->count; s++) {
            steps->direct[s][note * lights + i] = vs_bands_mul(nits[s], over_first(steps, s, i));
        }
        by_light[i] = nits[0];
    }
    return status;
}

vs_status vs_camera_setup_veils(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t note,
                                vs_bands *by_light) {
    vs_status status = VS_OK;
    vs_bands *place = noted_direct(setup, note);
    vs_direct_steps *steps = steps_of(setup, note);
    if (place && setup->notes->direct_known) {
        read_note(setup, place, true, by_light);
        return VS_OK;
    }
    if (steps) {
        return veils_in_steps(setup, ray, note, steps, by_light);
    }
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        status =
            vs_camera_setup_veil_of(setup, ray, &setup->predictor->hazed_light[i], &by_light[i]);
    }
    write_note(setup, by_light, place);
    return status;
}

static vs_status bounced_veil(const vs_camera_setup *setup, const vs_camera_ray *ray,
                              const vs_bands *once, vs_bands *by_light) {
    vs_bounce_view *view;
    vs_status status = vs_kept_view_ray(setup->predictor, ray, &view);
    return status == VS_OK ? vs_bounce_view_veil(&setup->predictor->hazed_bounce, &setup->hazed,
                                                 view, once, by_light)
                           : status;
}

vs_status vs_camera_setup_indirect_veil(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                        const vs_bands *once, size_t note, vs_bands *by_light,
                                        vs_bands *nits) {
    vs_bands *place = noted(setup, note);
    *nits = vs_airlight_ambient(&setup->hazed, ray, vs_camera_setup_ambient_nits(setup->scene));
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        by_light[i] = vs_bands_grey(0);
    }
    if (setup->scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    vs_status status = VS_OK;
    if (place && is_known(setup)) {
        read_note(setup, place, true, by_light);
    } else {
        status = bounced_veil(setup, ray, once, by_light);
        write_note(setup, by_light, place);
    }
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        *nits = vs_bands_add(*nits, by_light[i]);
    }
    return status;
}

vs_status vs_camera_setup_bounced_lux(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                      bool hazed, size_t note, vs_bands *lux) {
    vs_bands *place = noted(setup, note), *share = setup->predictor->share;
    *lux = vs_bands_grey(0);
    if (setup->scene->indirect != VS_INDIRECT_COMPUTED) {
        return VS_OK;
    }
    vs_predictor *p = setup->predictor;
    vs_status status = VS_OK;
    if (place && is_known(setup)) {
        read_note(setup, place, hazed, share);
    } else {
        vs_bounce_view *view;
        status = vs_kept_view_place(p, p_m, normal, &view);
        if (status == VS_OK) {
            status = vs_bounce_view_lux(hazed ? &p->hazed_bounce : &p->clear_bounce,
                                        hazed ? &setup->hazed : &setup->clear, view,
                                        hazed ? p->direct : NULL, share);
        }
        write_note(setup, share, place);
    }
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        *lux = vs_bands_add(*lux, share[i]);
    }
    return status;
}

/* Direct light on a surface, light by light.
 *  strength  of the lights, one each; NULL: their own */
static vs_status lux_by_light(const vs_camera_setup *setup, const vs_medium *medium,
                              const vs_emitter *light, const vs_bands *strength, vs_vec3 p_m,
                              vs_vec3 normal, double relative, vs_bands *by_light) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        vs_emitter emitter = light[i];
        emitter.strength = strength ? strength[i] : light[i].strength;
        by_light[i] = vs_bands_grey(0);
        if (vs_bands_luminance(emitter.strength) > 0) {
            status = vs_illuminance(&setup->predictor->work.sources, medium, &emitter, p_m, normal,
                                    relative, &by_light[i]);
        }
    }
    return status;
}

/* The same in several densities; without haze it is one for all. */
static vs_status lux_in_steps(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal, bool hazed,
                              double relative, size_t note, vs_direct_steps *steps) {
    const vs_predictor *p = setup->predictor;
    size_t lights = setup->scene->light_count;
    vs_status status = VS_OK;
    for (size_t s = 0; s < steps->count && status == VS_OK; s++) {
        vs_bands *by_light = steps->direct[s] + note * lights;
        if (!hazed && s > 0) {
            memcpy(by_light, steps->direct[0] + note * lights, lights * sizeof *by_light);
        } else {
            status =
                lux_by_light(setup, hazed ? &steps->medium[s] : &setup->clear,
                             hazed ? p->hazed_light : p->clear_light,
                             hazed ? steps->strength[s] : NULL, p_m, normal, relative, by_light);
        }
    }
    return status;
}

vs_status vs_camera_setup_direct_lux(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                     bool hazed, double relative, size_t note, vs_bands *lux) {
    vs_bands *place = noted_direct(setup, note), *by_light = setup->predictor->direct;
    vs_status status = VS_OK;
    if (place && setup->notes->direct_known) {
        read_note(setup, place, hazed, by_light);
    } else {
        const vs_predictor *p = setup->predictor;
        vs_direct_steps *steps = steps_of(setup, note);
        status = steps ? lux_in_steps(setup, p_m, normal, hazed, relative, note, steps)
                       : lux_by_light(setup, hazed ? &setup->hazed : &setup->clear,
                                      hazed ? p->hazed_light : p->clear_light, NULL, p_m, normal,
                                      relative, by_light);
        if (steps) {
            memcpy(by_light, steps->direct[0] + note * setup->scene->light_count,
                   setup->scene->light_count * sizeof *by_light);
        } else {
            write_note(setup, by_light, place);
        }
    }
    /* uniform radiance L gives a surface pi L lux */
    *lux = vs_bands_grey(VS_PI * vs_camera_setup_ambient_nits(setup->scene));
    for (size_t i = 0; i < setup->scene->light_count && status == VS_OK; i++) {
        *lux = vs_bands_add(*lux, by_light[i]);
    }
    return status;
}

vs_status vs_camera_setup_surface(const vs_camera_setup *setup, vs_vec3 p_m, vs_vec3 normal,
                                  double reflectance, bool hazed, size_t note, vs_bands *nits) {
    vs_bands lux, bounced = vs_bands_grey(0);
    vs_status status =
        vs_camera_setup_direct_lux(setup, p_m, normal, hazed, VS_CAMERA_SETUP_RELATIVE, note, &lux);
    if (status == VS_OK) {
        status = vs_camera_setup_bounced_lux(setup, p_m, normal, hazed, note, &bounced);
    }
    *nits = vs_bands_scale(vs_bands_add(lux, bounced), reflectance / VS_PI);
    return status;
}

/* The lights in the haze of every step, those of the first last. */
static vs_status lights_in_steps(const vs_camera_setup *setup, vs_direct_steps *steps) {
    vs_predictor *p = setup->predictor;
    vs_status status = VS_OK;
    for (size_t s = steps->count; s-- > 0 && status == VS_OK;) {
        status = vs_scene_emitters(p->geometry, setup->shot, &steps->medium[s], p->dim, &p->work,
                                   p->hazed_light);
        for (size_t i = 0; i < setup->scene->light_count; i++) {
            steps->strength[s][i] = p->hazed_light[i].strength;
        }
    }
    return status;
}

vs_status vs_camera_setup_lights(const vs_camera_setup *setup) {
    vs_predictor *p = setup->predictor;
    vs_status status = vs_scene_emitters(p->geometry, setup->shot, &setup->clear, p->dim, &p->work,
                                         p->clear_light);
    if (status == VS_OK && setup->notes && setup->notes->steps) {
        return lights_in_steps(setup, setup->notes->steps);
    }
    return status == VS_OK ? vs_scene_emitters(p->geometry, setup->shot, &setup->hazed, p->dim,
                                               &p->work, p->hazed_light)
                           : status;
}

/* Whether the haze is so thin that light is as without it. */
static bool is_next_to_nothing(const vs_camera_setup *setup) {
    for (size_t r = 0; r < setup->scene->room_count; r++) {
        if (!(setup->hazed.room_extinction_per_m[r] < NEXT_TO_NOTHING_PER_M)) {
            return false;
        }
    }
    return true;
}

vs_status vs_camera_setup_solve(const vs_camera_setup *setup, const vs_emitter *clear_light,
                                const vs_emitter *hazed_light) {
    vs_predictor *p = setup->predictor;
    vs_bounce_solver *solver = &p->bounces[p->in_hand];
    vs_bounce_free(&p->clear_bounce);
    vs_bounce_free(&p->hazed_bounce);
    vs_status status = vs_bounce_solve(solver, &setup->clear, clear_light, &p->clear_bounce);
    const vs_medium *haze = is_next_to_nothing(setup) ? &setup->clear : &setup->hazed;
    return status == VS_OK ? vs_bounce_solve(solver, haze, hazed_light, &p->hazed_bounce) : status;
}

vs_status vs_camera_setup_solve_bounce(const vs_camera_setup *setup) {
    const vs_predictor *p = setup->predictor;
    if (setup->scene->indirect != VS_INDIRECT_COMPUTED || is_known(setup)) {
        return VS_OK;
    }
    return vs_camera_setup_solve(setup, p->clear_light, p->hazed_light);
}

/* The skies that shine through an opening; its pane is already in the line's transmission. */
static vs_bands sky_nits(const vs_camera_setup *setup, size_t opening) {
    vs_bands nits = vs_bands_grey(0);
    double pane = setup->predictor->geometry->opening[opening].transmittance;
    for (size_t i = 0; i < setup->scene->light_count; i++) {
        const vs_light *light = &setup->scene->light[i];
        if (light->kind == VS_LIGHT_SKY && light->through == opening && pane > 0) {
            nits = vs_bands_add(
                nits, vs_bands_scale(setup->predictor->hazed_light[i].strength, 1 / pane));
        }
    }
    return nits;
}

/* A blocker seen from the front or the back: a fed panel's front shines, a blocker's sides
 * reflect. */
static void target_blocker(const vs_camera_setup *setup, const vs_camera_ray *ray,
                           vs_ray_target *target) {
    const vs_scene_geometry *geometry = setup->predictor->geometry;
    const vs_rect *rect = &geometry->blocker[ray->end_index].rect;
    size_t light = geometry->blocker_light[ray->end_index];
    bool front = vs_vec3_dot(rect->normal, ray->direction) < 0;
    target->normal = front ? rect->normal : vs_vec3_scale(rect->normal, -1);
    target->reflectance = geometry->blocker_reflectance[ray->end_index];
    if (light != VS_NONE && front) {
        target->own_nits = setup->predictor->hazed_light[light].strength;
        target->clear_own_nits = setup->predictor->clear_light[light].strength;
    }
}

vs_ray_target vs_camera_setup_target(const vs_camera_setup *setup, const vs_camera_ray *ray) {
    vs_ray_target target = {.at_m = vs_camera_ray_point(ray, ray->length_m)};
    const vs_scene_geometry *geometry = setup->predictor->geometry;
    if (ray->end == VS_CAMERA_RAY_OUTSIDE) {
        target.own_nits = target.clear_own_nits = sky_nits(setup, ray->end_index);
    } else if (ray->end == VS_CAMERA_RAY_AT_BLOCKER) {
        target_blocker(setup, ray, &target);
    } else if (ray->end_index != VS_SPACE_OUTSIDE) {
        int face = vs_scene_geometry_face(geometry, ray->end_index, target.at_m, &target.normal);
        target.reflectance =
            geometry->face_reflectance[ray->end_index * VS_FACE_COUNT + (size_t)face];
    }
    return target;
}

vs_status vs_camera_setup_end(const vs_camera_setup *setup, const vs_camera_ray *ray, size_t note,
                              vs_bands *nits) {
    vs_ray_target target = vs_camera_setup_target(setup, ray);
    *nits = target.own_nits;
    if (target.reflectance == 0) {
        return VS_OK;
    }
    return vs_camera_setup_surface(setup, target.at_m, target.normal, target.reflectance, true,
                                   note, nits);
}

vs_status vs_camera_setup_end_direct(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                     double relative, size_t note, vs_bands *nits) {
    vs_ray_target target = vs_camera_setup_target(setup, ray);
    vs_bands lux;
    *nits = target.own_nits;
    if (target.reflectance == 0) {
        return VS_OK;
    }
    vs_status status =
        vs_camera_setup_direct_lux(setup, target.at_m, target.normal, true, relative, note, &lux);
    *nits = vs_bands_scale(lux, target.reflectance / VS_PI);
    return status;
}

vs_status vs_camera_setup_indirect(const vs_camera_setup *setup, const vs_camera_ray *ray,
                                   const vs_bands *once, size_t note, vs_bands *nits) {
    size_t along = note == VS_NOTE_NONE ? note : note + VS_NOTE_ALONG;
    size_t behind = note == VS_NOTE_NONE ? note : note + VS_NOTE_BEHIND;
    vs_ray_target target = vs_camera_setup_target(setup, ray);
    vs_status status =
        vs_camera_setup_indirect_veil(setup, ray, once, along, setup->predictor->share, nits);
    if (status == VS_OK && target.reflectance > 0) {
        vs_bands lux;
        if (!(noted(setup, behind) && is_known(setup))) {
            status = vs_camera_setup_direct_lux(setup, target.at_m, target.normal, true,
                                                INDIRECT_RELATIVE, VS_NOTE_NONE, &lux);
        }
        if (status == VS_OK) {
            status =
                vs_camera_setup_bounced_lux(setup, target.at_m, target.normal, true, behind, &lux);
        }
        lux = vs_bands_mul(lux, vs_camera_ray_transmission(&setup->hazed, ray));
        *nits = vs_bands_add(*nits, vs_bands_scale(lux, target.reflectance / VS_PI));
    }
    return status;
}
