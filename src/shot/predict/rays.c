/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many lines of sight of one camera, lamp by lamp, a batch at a time. For the figures see
 * shot/sight/camera_setup.h. */
#include "veilstop/shot/rays.h"

#include <math.h>
#include <stdlib.h>

#include "shot/sight/camera_setup.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/shot/held.h"

#define BATCH 64 /* lines at a time: as many as the veil is computed for together */

/* The current shot. */
typedef struct {
    vs_predictor *predictor;
    bool set;
    vs_camera_setup setup;
    double *room_extinction_per_m;
    vs_camera_ray ray[BATCH];
    vs_bands veil[BATCH]; /* of one lamp */
    vs_bands *once;       /* BATCH x lights */
} rays_kept;

vs_status vs_rays_init(vs_rays *rays, vs_predictor *predictor) {
    rays_kept *kept = calloc(1, sizeof *kept);
    rays->kept = kept;
    if (!kept) {
        return VS_ERR_MEMORY;
    }
    kept->predictor = predictor;
    kept->room_extinction_per_m = calloc(predictor->scene->room_count + 1, sizeof(double));
    kept->once = calloc(BATCH * (predictor->scene->light_count + 1), sizeof *kept->once);
    if (!kept->room_extinction_per_m || !kept->once) {
        vs_rays_free(rays);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_rays_free(vs_rays *rays) {
    rays_kept *kept = rays->kept;
    if (kept) {
        free(kept->room_extinction_per_m);
        free(kept->once);
        free(kept);
    }
    rays->kept = NULL;
}

/* Densities given, or the shot's own. */
static vs_status take_densities(rays_kept *kept, const vs_scene_shot *shot,
                                const double *room_extinction_per_m) {
    const vs_scene *scene = kept->predictor->scene;
    if (!room_extinction_per_m) {
        vs_status status =
            vs_held_rooms(scene, shot, &kept->predictor->haze, NAN, kept->room_extinction_per_m);
        if (status != VS_OK) {
            return status;
        }
    }
    for (size_t r = 0; r < scene->room_count; r++) {
        double k =
            room_extinction_per_m ? room_extinction_per_m[r] : kept->room_extinction_per_m[r];
        if (!(k >= 0 && isfinite(k))) {
            return VS_ERR_DOMAIN;
        }
        kept->room_extinction_per_m[r] = k;
    }
    return VS_OK;
}

vs_status vs_rays_set(vs_rays *rays, size_t shot, const double *room_extinction_per_m) {
    rays_kept *kept = rays->kept;
    vs_predictor *p = kept->predictor;
    kept->set = false;
    if (shot >= p->scene->shot_count) {
        return VS_ERR_DOMAIN;
    }
    const vs_scene_shot *s = &p->scene->shot[shot];
    vs_status status = vs_predictor_set_openings(p, s);
    if (status == VS_OK) {
        status = take_densities(kept, s, room_extinction_per_m);
    }
    if (status != VS_OK) {
        return status;
    }
    kept->setup = vs_camera_setup_make(p, s, kept->room_extinction_per_m);
    status = vs_camera_setup_lights(&kept->setup);
    if (status == VS_OK) {
        status = vs_camera_setup_solve_bounce(&kept->setup);
    }
    kept->set = status == VS_OK;
    return status;
}

size_t vs_rays_columns(const vs_rays *rays) {
    const rays_kept *kept = rays->kept;
    return kept->predictor->scene->light_count + 1;
}

/* ---- what ends a line ---- */

static uint32_t surface_number(const vs_camera_setup *setup, const vs_camera_ray *ray) {
    const vs_scene *scene = setup->scene;
    const vs_scene_geometry *geometry = setup->predictor->geometry;
    size_t faces = 1 + VS_FACE_COUNT * scene->room_count;
    if (ray->end == VS_CAMERA_RAY_OUTSIDE) {
        return (uint32_t)(faces + 2 * geometry->space.blocker_count + ray->end_index);
    }
    if (ray->end == VS_CAMERA_RAY_AT_BLOCKER) {
        bool front = vs_vec3_dot(geometry->blocker[ray->end_index].rect.normal, ray->direction) < 0;
        return (uint32_t)(faces + 2 * ray->end_index + !front);
    }
    if (ray->end == VS_CAMERA_RAY_AT_POINT || ray->end_index == VS_SPACE_OUTSIDE) {
        return 0;
    }
    vs_vec3 normal;
    int face = vs_scene_geometry_face(geometry, ray->end_index,
                                      vs_camera_ray_point(ray, ray->length_m), &normal);
    return (uint32_t)(1 + ray->end_index * VS_FACE_COUNT + (size_t)face);
}

vs_surface_seen vs_rays_surface(const vs_rays *rays, uint32_t surface) {
    const rays_kept *kept = rays->kept;
    const vs_scene_geometry *geometry = kept->predictor->geometry;
    vs_surface_seen seen = {VS_SURFACE_NONE, VS_NONE, 0};
    size_t faces = VS_FACE_COUNT * kept->predictor->scene->room_count;
    size_t sides = 2 * geometry->space.blocker_count, n = surface;
    if (n == 0 || n > faces + sides + geometry->space.opening_count) {
        return seen;
    }
    n--;
    if (n < faces) {
        seen = (vs_surface_seen){VS_SURFACE_FACE, n / VS_FACE_COUNT, (int)(n % VS_FACE_COUNT)};
    } else if (n < faces + sides) {
        size_t blocker = (n - faces) / 2, light = geometry->blocker_light[blocker];
        seen.kind = light == VS_NONE ? VS_SURFACE_BLOCKER : VS_SURFACE_PANEL;
        seen.index = light == VS_NONE ? blocker : light;
        seen.side = (int)((n - faces) % 2);
    } else {
        seen = (vs_surface_seen){VS_SURFACE_OUTSIDE, n - faces - sides, 0};
    }
    return seen;
}

/* ---- a batch ---- */

static void find_lines(rays_kept *kept, const vs_rays_block *block, size_t first, size_t count,
                       const vs_rays_light *light) {
    const vs_camera_setup *setup = &kept->setup;
    for (size_t i = 0; i < count; i++) {
        vs_camera_ray *ray = &kept->ray[i];
        double length_m = block->length_m ? block->length_m[first + i] : (double)INFINITY;
        *ray = vs_camera_ray_along(&setup->hazed, setup->camera->at_m, block->direction[first + i],
                                   length_m);
        if (light->length_m) {
            light->length_m[first + i] = ray->length_m;
        }
        if (light->surface) {
            light->surface[first + i] = surface_number(setup, ray);
        }
        if (light->transmission) {
            light->transmission[first + i] = vs_camera_ray_transmission(&setup->hazed, ray);
        }
    }
}

/* Once-scattered light of every lamp on the batch, into `once`. */
static vs_status find_once(rays_kept *kept, size_t count) {
    const vs_camera_setup *setup = &kept->setup;
    size_t lights = setup->scene->light_count;
    vs_status status = VS_OK;
    for (size_t e = 0; e < lights && status == VS_OK; e++) {
        const vs_emitter *emitter = &setup->predictor->hazed_light[e];
        bool dark = vs_bands_luminance(emitter->strength) == 0;
        if (!dark) {
            status = vs_airlight_fast_many(&setup->predictor->work, &setup->hazed, emitter,
                                           kept->ray, count, kept->veil);
        }
        for (size_t i = 0; i < count && status == VS_OK; i++) {
            kept->once[i * lights + e] = dark ? vs_bands_grey(0) : kept->veil[i];
        }
    }
    return status;
}

static vs_status find_veils(rays_kept *kept, size_t first, size_t count,
                            const vs_rays_light *light) {
    const vs_camera_setup *setup = &kept->setup;
    size_t lights = setup->scene->light_count;
    vs_status status = find_once(kept, count);
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        const vs_bands *once = &kept->once[i * lights];
        if (light->bounced_veil) {
            vs_bands *out = &light->bounced_veil[(first + i) * (lights + 1)], all;
            status =
                vs_camera_setup_indirect_veil(setup, &kept->ray[i], once, VS_NOTE_NONE, out, &all);
            out[lights] = vs_airlight_ambient(&setup->hazed, &kept->ray[i],
                                              vs_camera_setup_ambient_nits(setup->scene));
            vs_camera_setup_fold_parts(setup->scene, out);
        }
        if (light->veil) {
            vs_bands *out = &light->veil[(first + i) * (lights + 1)];
            for (size_t e = 0; e < lights; e++) {
                out[e] = once[e];
            }
            out[lights] = vs_bands_grey(0);
            vs_camera_setup_fold_parts(setup->scene, out);
        }
    }
    return status;
}

static void put_reflected(const vs_camera_setup *setup, const vs_bands *lux, double reflectance,
                          vs_bands none, vs_bands *out) {
    size_t lights = setup->scene->light_count;
    for (size_t e = 0; e < lights; e++) {
        out[e] = vs_bands_scale(lux[e], reflectance / VS_PI);
    }
    out[lights] = none;
    vs_camera_setup_fold_parts(setup->scene, out);
}

/* Luminance in the haze of what ends a line. */
static vs_status find_surface(const rays_kept *kept, const vs_ray_target *target, double relative,
                              vs_bands *direct, vs_bands *bounced) {
    const vs_camera_setup *setup = &kept->setup;
    const vs_predictor *p = setup->predictor;
    vs_bands lux;
    vs_status status = VS_OK;
    for (size_t e = 0; e < setup->scene->light_count; e++) {
        p->direct[e] = p->share[e] = vs_bands_grey(0);
    }
    if (target->reflectance > 0) {
        status = vs_camera_setup_direct_lux(setup, target->at_m, target->normal, true, relative,
                                            VS_NOTE_NONE, &lux);
        if (status == VS_OK && bounced) {
            status = vs_camera_setup_bounced_lux(setup, target->at_m, target->normal, true,
                                                 VS_NOTE_NONE, &lux);
        }
    }
    if (status == VS_OK && direct) {
        put_reflected(setup, p->direct, target->reflectance, target->own_nits, direct);
    }
    if (status == VS_OK && bounced) { /* uniform radiance: pi x it in lux, over pi */
        vs_bands even =
            vs_bands_grey(target->reflectance * vs_camera_setup_ambient_nits(setup->scene));
        put_reflected(setup, p->share, target->reflectance, even, bounced);
    }
    return status;
}

/* Its luminance without haze. */
static vs_status find_clear(const rays_kept *kept, const vs_camera_ray *ray,
                            const vs_ray_target *target, double relative, vs_bands *clear) {
    const vs_camera_setup *setup = &kept->setup;
    *clear = target->clear_own_nits;
    vs_status status = VS_OK;
    if (target->reflectance > 0) {
        vs_bands lux, bounced;
        status = vs_camera_setup_direct_lux(setup, target->at_m, target->normal, false, relative,
                                            VS_NOTE_NONE, &lux);
        if (status == VS_OK) {
            status = vs_camera_setup_bounced_lux(setup, target->at_m, target->normal, false,
                                                 VS_NOTE_NONE, &bounced);
            *clear = vs_bands_scale(vs_bands_add(lux, bounced), target->reflectance / VS_PI);
        }
    }
    *clear = vs_bands_scale(*clear, ray->open);
    return status;
}

static vs_status find_ends(const rays_kept *kept, const vs_rays_block *block, size_t first,
                           size_t count, const vs_rays_light *light) {
    static const vs_ray_target nothing = {{0, 0, 0}, {0, 0, 0}, 0, {{0}}, {{0}}};
    const vs_camera_setup *setup = &kept->setup;
    size_t columns = setup->scene->light_count + 1;
    double relative = block->relative == 0 ? VS_CAMERA_SETUP_RELATIVE : block->relative;
    vs_status status = VS_OK;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        const vs_camera_ray *ray = &kept->ray[i];
        size_t at = first + i;
        vs_ray_target target =
            ray->end == VS_CAMERA_RAY_AT_POINT ? nothing : vs_camera_setup_target(setup, ray);
        if (light->direct || light->bounced) {
            status = find_surface(kept, &target, relative,
                                  light->direct ? &light->direct[at * columns] : NULL,
                                  light->bounced ? &light->bounced[at * columns] : NULL);
        }
        if (light->clear && status == VS_OK) {
            status = find_clear(kept, ray, &target, relative, &light->clear[at]);
        }
    }
    return status;
}

vs_status vs_rays_ask(vs_rays *rays, const vs_rays_block *block, const vs_rays_light *light) {
    rays_kept *kept = rays->kept;
    vs_status status = kept->set ? VS_OK : VS_ERR_DOMAIN;
    for (size_t first = 0; first < block->count && status == VS_OK; first += BATCH) {
        size_t count = block->count - first < BATCH ? block->count - first : BATCH;
        find_lines(kept, block, first, count, light);
        if (light->veil || light->bounced_veil) {
            status = find_veils(kept, first, count, light);
        }
        if (status == VS_OK && (light->direct || light->bounced || light->clear)) {
            status = find_ends(kept, block, first, count, light);
        }
    }
    return status;
}
