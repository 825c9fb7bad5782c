/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fills in open densities on a copy of the shots. */
#include "veilstop/shot/scene_with_densities.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/shot/choose.h"
#include "veilstop/shot/held.h"

static vs_status allocate(vs_scene_with_densities *d, size_t shots, size_t rooms) {
    d->shot = calloc(shots + 1, sizeof *d->shot);
    d->density_per_m = calloc(shots * rooms + 1, sizeof *d->density_per_m);
    d->chosen = calloc(shots + 1, sizeof *d->chosen);
    d->chosen_per_m = calloc(shots + 1, sizeof *d->chosen_per_m);
    return d->shot && d->density_per_m && d->chosen && d->chosen_per_m ? VS_OK : VS_ERR_MEMORY;
}

static bool is_open(const vs_scene *scene, size_t only) {
    for (size_t i = 0; i < scene->shot_count; i++) {
        if (scene->shot[i].density == VS_DENSITY_OPEN && (only == VS_NONE || only == i)) {
            return true;
        }
        for (size_t w = 0; i == only && w < scene->shot[i].want_count; w++) {
            const vs_scene_want *want = &scene->shot[i].want[w];
            if (want->kind == VS_WANT_LIKE && scene->shot[want->shot].density == VS_DENSITY_OPEN) {
                return true;
            }
        }
    }
    return false;
}

/* Gives the chosen shots their densities. */
static vs_status fill(vs_scene_with_densities *d, const vs_predictor *predictor,
                      const vs_choices *choices) {
    size_t rooms = d->scene.room_count;
    for (size_t i = 0; i < d->scene.shot_count; i++) {
        double k = choices->shot[i].planned_per_m;
        if (d->shot[i].density != VS_DENSITY_OPEN || isnan(k)) {
            continue;
        }
        double *room = d->density_per_m + i * rooms;
        vs_status status =
            vs_held_rooms(predictor->scene, &predictor->scene->shot[i], &predictor->haze, k, room);
        if (status != VS_OK) {
            return status;
        }
        d->shot[i].density = VS_DENSITY_EXTINCTION;
        d->shot[i].density_by_room = true;
        d->shot[i].room_density = room;
        d->chosen[i] = d->any_chosen = true;
        d->chosen_per_m[i] = k;
    }
    return VS_OK;
}

static vs_status choose_open(vs_scene_with_densities *d, const vs_scene *scene, size_t only,
                             const vs_runner *runner) {
    vs_predictor predictor;
    vs_choices choices;
    vs_status status = vs_predictor_init(&predictor, scene);
    if (status != VS_OK) {
        return status;
    }
    predictor.runner = runner;
    status = vs_choose(&predictor, only, VS_CHOOSE_OPEN, &choices);
    if (status == VS_OK) {
        status = fill(d, &predictor, &choices);
        vs_choices_free(&choices);
    } else {
        d->culprit = choices.culprit;
    }
    vs_predictor_free(&predictor);
    return status;
}

vs_status vs_scene_with_densities_init(vs_scene_with_densities *filled, const vs_scene *scene,
                                       size_t only, const vs_runner *runner) {
    const vs_scene_with_densities blank = {.scene = *scene, .culprit = VS_NONE};
    *filled = blank;
    vs_status status = allocate(filled, scene->shot_count, scene->room_count);
    if (status == VS_OK) {
        for (size_t i = 0; i < scene->shot_count; i++) {
            filled->shot[i] = scene->shot[i];
            filled->chosen_per_m[i] = NAN;
        }
        filled->scene.shot = filled->shot;
        if (is_open(scene, only)) {
            status = choose_open(filled, scene, only, runner);
        }
    }
    if (status != VS_OK) {
        size_t culprit = filled->culprit;
        vs_scene_with_densities_free(filled);
        filled->culprit = culprit;
    }
    return status;
}

void vs_scene_with_densities_free(vs_scene_with_densities *filled) {
    const vs_scene_with_densities blank = {.culprit = VS_NONE};
    free(filled->shot);
    free(filled->density_per_m);
    free(filled->chosen);
    free(filled->chosen_per_m);
    *filled = blank;
}
