/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lights of a shot: with the shot's settings (dimmers, the sun) and their gels; diffusion
 * frames and bounces shine by the mean illuminance on them ("fed_by": docs/scene.md, "Lights"). */
#include <math.h>
#include <stdlib.h>

#include "veilstop/base/quadrature.h"
#include "veilstop/light/colour.h"
#include "veilstop/light/illuminance.h"
#include "veilstop/shot/scene_emitters.h"

#define FEED_NODES    6    /* Gauss-Legendre points a side over a fed panel: our choice */
#define FEED_RELATIVE 1e-4 /* [1] tolerance of the illuminance at each */
#define GRAZING       1e-6 /* [1] cosine below which a parallel beam runs along the wall */
#define MIRED         1e6  /* [1] mired = 1e6/kelvin: its definition */

bool vs_shot_uses_light(const vs_scene_shot *shot, size_t light) {
    for (size_t i = 0; i < shot->light_count; i++) {
        if (shot->light[i] == light) {
            return true;
        }
    }
    return false;
}

size_t vs_light_whole(const vs_scene *scene, size_t light) {
    return scene->light[light].is_part ? scene->light[light].part_of : light;
}

vs_light vs_light_in_shot(const vs_scene *scene, const vs_scene_shot *shot, size_t light) {
    vs_light set = scene->light[light];
    if (shot->dimmer && !isnan(shot->dimmer[light])) {
        set.dimmer = shot->dimmer[light];
    }
    if (shot->has_sun && set.kind == VS_LIGHT_SUN) {
        set.travel = shot->sun_travel;
    }
    return set;
}

/* The transmission of a light's gel. A shift in mired is that of an ideal gel: its clearest band
 * transmits everything, the others as much less as the colour requires. */
static vs_status gel_of(const vs_light *light, double white_kelvin, vs_bands *gel) {
    *gel = light->has_gel ? light->gel : vs_bands_grey(1);
    if (light->gel_mired == 0) {
        return VS_OK;
    }
    double kelvin = light->colour == VS_COLOUR_KELVIN ? light->kelvin : white_kelvin, most = 0;
    vs_bands bare, seen;
    vs_status status = vs_colour_tint(kelvin, white_kelvin, &bare);
    if (status == VS_OK) {
        status = vs_colour_tint(MIRED / (MIRED / kelvin + light->gel_mired), white_kelvin, &seen);
    }
    for (size_t b = 0; b < VS_BAND_COUNT && status == VS_OK; b++) {
        gel->v[b] = bare.v[b] > 0 ? seen.v[b] / bare.v[b] : 0;
        most = fmax(most, gel->v[b]);
    }
    *gel = status == VS_OK ? vs_bands_scale(*gel, 1 / most) : vs_bands_grey(NAN);
    return status;
}

static void filter(vs_emitter *emitter, vs_bands gel, double dim) {
    emitter->strength = vs_bands_scale(vs_bands_mul(emitter->strength, gel), dim);
}

/* Whether a parallel beam comes in through its opening: the sun may be behind that wall. */
static bool enters(const vs_scene_geometry *geometry, const vs_emitter *emitter) {
    if (emitter->kind != VS_EMITTER_PARALLEL) {
        return true;
    }
    const vs_rect *rect = &geometry->opening[emitter->opening].rect;
    const vs_box *room = &geometry->room[geometry->opening[emitter->opening].room[0]];
    vs_vec3 middle_m = vs_vec3_scale(vs_vec3_add(room->low_m, room->high_m), 0.5);
    double side = vs_vec3_dot(vs_vec3_sub(middle_m, rect->center_m), rect->normal);
    return copysign(1, side) * vs_vec3_dot(emitter->axis, rect->normal) >= GRAZING;
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
        status = vs_illuminance(&work->sources, medium, feed, p_m, normal, FEED_RELATIVE, &lux);
        *mean = vs_bands_add(*mean, vs_bands_scale(lux, weight[iu] * weight[iv] / 4));
    }
    return status;
}

/* Sets a panel's luminance once its feed, in all its parts, has its own. */
static vs_status feed_panel(const vs_scene *scene, const vs_light *light, const vs_emitter *emitter,
                            const vs_medium *medium, vs_airlight *work, vs_emitter *panel) {
    vs_bands sum = vs_bands_grey(0);
    vs_status status = VS_OK;
    for (size_t i = 0; i < scene->light_count && status == VS_OK; i++) {
        if (vs_light_whole(scene, i) == light->fed_by) {
            vs_bands lux;
            status = mean_illuminance(light, &panel->rect, &emitter[i], medium, work, &lux);
            sum = vs_bands_add(sum, lux);
        }
    }
    panel->strength = vs_bands_scale(sum, light->fed_share * light->dimmer / VS_PI);
    return status;
}

/* Feeds may be chained: panels are set in passes, each once its feed is. */
static vs_status feed_panels(const vs_scene *scene, const vs_scene_shot *shot,
                             const vs_medium *medium, const double *dim, const vs_bands *gel,
                             vs_airlight *work, vs_emitter *emitter) {
    size_t waiting = 0;
    bool *ready = calloc(scene->light_count + 1, sizeof *ready);
    vs_status status = ready ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < scene->light_count && ready; i++) {
        ready[i] = scene->light[i].strength != VS_STRENGTH_FED;
        waiting += !ready[i];
    }
    while (waiting > 0 && status == VS_OK) {
        size_t before = waiting;
        for (size_t i = 0; i < scene->light_count && status == VS_OK; i++) {
            const vs_light *light = &scene->light[i];
            if (ready[i] || !ready[light->fed_by]) {
                continue;
            }
            if (vs_shot_uses_light(shot, i) && vs_shot_uses_light(shot, light->fed_by)) {
                vs_light set = vs_light_in_shot(scene, shot, i);
                status = feed_panel(scene, &set, emitter, medium, work, &emitter[i]);
                filter(&emitter[i], gel[i], dim[i]);
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

/* Prepares one light of a shot with the shot's settings; also returns its gel. */
static vs_status make_light(const vs_scene_geometry *geometry, const vs_scene_shot *shot,
                            size_t light, double dim, vs_bands *gel, vs_emitter *emitter) {
    const vs_scene *scene = geometry->scene;
    double white_kelvin = scene->camera[shot->camera].white_kelvin;
    vs_light set = vs_light_in_shot(scene, shot, light);
    vs_status status = vs_emitter_init(emitter, &set, &geometry->space, white_kelvin);
    if (emitter->table) { /* borrowed by the emitter, so not from the copy */
        emitter->table = &scene->light[light].table;
    }
    if (status == VS_OK) {
        status = gel_of(&set, white_kelvin, gel);
    }
    bool burns = vs_shot_uses_light(shot, light) && enters(geometry, emitter);
    filter(emitter, *gel, burns ? dim : 0);
    return status;
}

vs_status vs_scene_emitters(const vs_scene_geometry *geometry, const vs_scene_shot *shot,
                            const vs_medium *medium, const double *dim, vs_airlight *work,
                            vs_emitter *emitter) {
    const vs_scene *scene = geometry->scene;
    vs_bands *gel = calloc(scene->light_count + 1, sizeof *gel);
    vs_status status = gel ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < scene->light_count && status == VS_OK; i++) {
        status = make_light(geometry, shot, i, dim[vs_light_whole(scene, i)], &gel[i], &emitter[i]);
    }
    if (status == VS_OK) {
        status = feed_panels(scene, shot, medium, dim, gel, work, emitter);
    }
    free(gel);
    return status;
}

bool vs_light_follows(const vs_scene *scene, size_t light, size_t lamp) {
    light = vs_light_whole(scene, light);
    for (size_t steps = 0; steps <= scene->light_count; steps++) {
        if (light == lamp) {
            return true;
        }
        if (scene->light[light].strength != VS_STRENGTH_FED) {
            return false;
        }
        light = scene->light[light].fed_by;
    }
    return false;
}
